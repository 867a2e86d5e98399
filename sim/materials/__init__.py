"""Tables of rock, wood, glass, mats, glue, ground, friction and water.

Every number carries its range, its source and what that source is worth (`Value`). Strengths are in
MPa and gaps in mm, as their sources and the builder have them; the suffix of a name says so.
"""

from sim.materials.adhesives import (
    ADHESIVES,
    CONTACT_FRACTIONS,
    HANDLING_FACTOR,
    MEAN_GAPS_MM,
    STONE_DIVISOR,
    TIE_SLIP_M,
    TIE_WIDTH_M,
    WASTE_FACTOR,
    Adhesive,
    adhesive,
)
from sim.materials.floors import (
    FLOOR_LOAD_KPA,
    FLOOR_POINT_KN,
    LARGE_TANK_KN,
    LEGS_CARRYING,
    PERMANENT_FACTOR,
    SMALL_TANK_KN,
    STRIP_M,
    TALL_STAND,
    US_LIVING_KPA,
)
from sim.materials.friction import FRICTION, SURFACES, UNDER_STONES, friction, surface_of
from sim.materials.glasses import (
    COVER_SPREAD_THICKNESSES,
    EDGE_ZONE_THICKNESSES,
    GLASSES,
    LARGEST_MAT_GAP_M,
    MARGINAL_UTILISATION,
    Glass,
    design_strength_mpa,
    duration_factor,
    glass,
)
from sim.materials.grounds import GROUNDS, STEEPEST_FLOODED_SLOPE_DEG, Ground, ground
from sim.materials.lifting import (
    LOAD_CONSTANT_KG,
    NEVER_ALONE_KG,
    TWO_PEOPLE_KG,
    frequency_multiplier,
    recommended_weight_kg,
)
from sim.materials.mats import MATS, Mat, mat
from sim.materials.rocks import BED_STIFFNESS_PA_M, ROCKS, Rock, density_from_weighings, density_warning, rock
from sim.materials.values import Status, Value
from sim.materials.water import AIR_INDEX, GLASS_INDEX, water_density_kg_m3, water_index
from sim.materials.woods import (
    SLOW_SOAKING_MM,
    WOODS,
    Wood,
    basic_gravity,
    largest_moisture,
    saturated_density_kg_m3,
    wood,
)

__all__ = [
    "Value",
    "Status",
    "Rock",
    "ROCKS",
    "BED_STIFFNESS_PA_M",
    "rock",
    "density_warning",
    "density_from_weighings",
    "Wood",
    "WOODS",
    "wood",
    "basic_gravity",
    "saturated_density_kg_m3",
    "largest_moisture",
    "SLOW_SOAKING_MM",
    "Glass",
    "GLASSES",
    "glass",
    "duration_factor",
    "design_strength_mpa",
    "EDGE_ZONE_THICKNESSES",
    "MARGINAL_UTILISATION",
    "LARGEST_MAT_GAP_M",
    "COVER_SPREAD_THICKNESSES",
    "Mat",
    "MATS",
    "mat",
    "Adhesive",
    "ADHESIVES",
    "adhesive",
    "CONTACT_FRACTIONS",
    "MEAN_GAPS_MM",
    "STONE_DIVISOR",
    "HANDLING_FACTOR",
    "TIE_SLIP_M",
    "TIE_WIDTH_M",
    "WASTE_FACTOR",
    "Ground",
    "GROUNDS",
    "ground",
    "STEEPEST_FLOODED_SLOPE_DEG",
    "FRICTION",
    "SURFACES",
    "UNDER_STONES",
    "friction",
    "surface_of",
    "water_density_kg_m3",
    "water_index",
    "FLOOR_LOAD_KPA",
    "FLOOR_POINT_KN",
    "LARGE_TANK_KN",
    "LEGS_CARRYING",
    "PERMANENT_FACTOR",
    "SMALL_TANK_KN",
    "STRIP_M",
    "TALL_STAND",
    "US_LIVING_KPA",
    "LOAD_CONSTANT_KG",
    "NEVER_ALONE_KG",
    "TWO_PEOPLE_KG",
    "frequency_multiplier",
    "recommended_weight_kg",
    "AIR_INDEX",
    "GLASS_INDEX",
]
