"""Rock: density, porosity, strength and what it does in water."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sim.errors import MaterialError
from sim.materials.values import JUDGEMENT, MEMORY, PUBLISHED, Status, Value, look_up, middle
from sim.materials.water import water_density_kg_m3
from sim.materials.woods import WOODS, Wood

ALDEN = "Alden, Densities of Common Rock Types, about.com geology, copy of 2014"
MANGER = "porosities as compiled by Manger 1963, USGS Bulletin 1144-E"
LAVA = "Al-Naaymi & Ali 2013, Aust. J. Basic Appl. Sci. 7(11):116-124, abstract"
STRENGTHS = "tensile strengths of intact rock, secondary table"
OURS = "our estimate for display stone; weigh or test your own"
REMEMBERED = "as remembered; weigh or test your own"

# only its ratio to the stiffness of glue matters
BED_STIFFNESS_PA_M = Value(
    1.0e10, 1.0e9, 1.0e11, "Pa/m", "pressure per closure of a dry joint under little stress: our estimate", JUDGEMENT
)


@dataclass(frozen=True, slots=True)
class Rock:
    """One kind of rock.

    Attributes
    ----------
    density_kg_m3 : Value
        Bulk density, dry, pores included.
    porosity : Value
        Open pores, share of the bulk volume.
    tensile_mpa : Value
        Tensile strength; the default is the low end, since a joint breaks the weaker of stone and
        glue. Across the cleavage for rocks that split.
    surface : {'rough stone', 'smooth stone'}
        Class in the table of friction.
    carbonate : bool
        Dissolves slowly, raises hardness and pH, suffers from acid.
    splits : bool
        Comes apart along layers or cleavage.
    slakes : bool
        May soften or crumble under water: soak a sample first.
    note : str
        What a builder should know.
    """

    name: str
    density_kg_m3: Value
    porosity: Value
    tensile_mpa: Value
    surface: Literal["rough stone", "smooth stone"]
    carbonate: bool = False
    splits: bool = False
    slakes: bool = False
    note: str = ""


def _density(
    low: float, high: float, default: float | None = None, source: str = ALDEN, status: Status = PUBLISHED
) -> Value:
    value = middle(low, high, "kg/m3", source, status)
    return value if default is None else Value(default, low, high, "kg/m3", source, status)


def _porosity(low: float, high: float, source: str = MANGER, status: Status = MEMORY) -> Value:
    return middle(low, high, "1", source, status)


def _tensile(low: float, high: float, source: str = STRENGTHS, status: Status = PUBLISHED) -> Value:
    return Value(low, low, high, "MPa", source, status)


_ROWS = (
    Rock("granite", _density(2600, 2700), _porosity(0.005, 0.015), _tensile(7, 25), "rough stone"),
    Rock(
        "gneiss",
        _density(2600, 2900),
        _porosity(0.005, 0.015, OURS, JUDGEMENT),
        _tensile(7, 20, OURS, JUDGEMENT),
        "smooth stone",
        splits=True,
        note="may part along its bands, which slide more easily than other stone",
    ),
    Rock(
        "basalt",
        _density(2800, 3000),
        _porosity(0.001, 0.05),
        _tensile(10, 30),
        "rough stone",
        note="dense basalt; for lava with visible pores see scoria",
    ),
    Rock(
        "dolerite",
        _density(2600, 3000),
        _porosity(0.001, 0.02, OURS, JUDGEMENT),
        _tensile(10, 30, OURS, JUDGEMENT),
        "rough stone",
    ),
    # calcite (2710) less the small porosity: the source's low end is rare among display stones
    Rock(
        "marble",
        _density(2400, 2700, 2650),
        _porosity(0.003, 0.02),
        _tensile(7, 20, STRENGTHS, MEMORY),
        "rough stone",
        carbonate=True,
        note="dissolves slowly, raises hardness; no acid, no acetic silicone",
    ),
    Rock(
        "limestone",
        _density(2300, 2700),
        _porosity(0.01, 0.20),
        _tensile(5, 25),
        "rough stone",
        carbonate=True,
        note="dissolves slowly, raises hardness; no acid, no acetic silicone",
    ),
    Rock(
        "sandstone",
        _density(2200, 2800),
        _porosity(0.05, 0.25),
        _tensile(4, 25),
        "rough stone",
        splits=True,
        note="weaker when wet; some bind with clay or lime: soak and drop-test a sample",
    ),
    Rock("quartzite", _density(2600, 2800), _porosity(0.001, 0.02), _tensile(10, 30, STRENGTHS, MEMORY), "rough stone"),
    Rock(
        "chert",
        _density(2550, 2700, None, REMEMBERED, MEMORY),
        _porosity(0.001, 0.02),
        _tensile(10, 30, STRENGTHS, MEMORY),
        "smooth stone",
        note="breaks to sharp, glassy edges",
    ),
    Rock(
        "petrified wood",
        _density(2550, 2700, None, REMEMBERED, MEMORY),
        _porosity(0.001, 0.02),
        _tensile(10, 30, STRENGTHS, MEMORY),
        "smooth stone",
        splits=True,
        note="may part along the old grain",
    ),
    Rock(
        "slate",
        _density(2700, 2800),
        _porosity(0.001, 0.04),
        _tensile(1, 2, OURS, JUDGEMENT),
        "smooth stone",
        splits=True,
        note="strength across the cleavage; glue only across cleavage edges, with care",
    ),
    Rock(
        "shale",
        _density(2400, 2800),
        _porosity(0.05, 0.20),
        _tensile(2, 10),
        "smooth stone",
        splits=True,
        slakes=True,
        note="soak a sample first; weaker when wet",
    ),
    Rock(
        "weathered mudstone",
        _density(1800, 2400, None, REMEMBERED, MEMORY),
        _porosity(0.10, 0.35, REMEMBERED, MEMORY),
        Value(
            0.5,
            0.1,
            2.0,
            "MPa",
            "our estimate 0.3-2 dry, times 0.3-0.6 wet after Agustawijaya 2007, "
            "Civil Eng. Dimension 9(1):9-14, abstract",
            JUDGEMENT,
        ),
        "rough stone",
        slakes=True,
        note="clay-rich, cavernous: joints fail in the stone, and it may slake",
    ),
    Rock(
        "scoria",
        _density(800, 1600, 1200, "lumps 800-1600; mean 907 in " + LAVA, MEMORY),
        Value(0.517, 0.40, 0.65, "1", "mean 51.7 % in " + LAVA + "; range ours", PUBLISHED),
        _tensile(1, 3, OURS, JUDGEMENT),
        "rough stone",
        note="lava rock: weigh it dry and soaked",
    ),
    Rock(
        "pumice",
        _density(400, 1000, 744, "mean 744 in " + LAVA + "; range ours", PUBLISHED),
        Value(0.606, 0.50, 0.75, "1", "mean 60.6 % in " + LAVA + "; range ours", PUBLISHED),
        _tensile(0.5, 2, OURS, JUDGEMENT),
        "rough stone",
        note="floats until soaked",
    ),
    Rock(
        "unknown rock",
        Value(2500, 800, 3000, "kg/m3", OURS, JUDGEMENT),
        Value(0.1, 0.001, 0.6, "1", OURS, JUDGEMENT),
        Value(0.3, 0.3, 10, "MPa", OURS, JUDGEMENT),
        "smooth stone",
        carbonate=True,
        splits=True,
        slakes=True,
        note="friction, strength and behaviour in water are assumed poor; weigh it in air and in water",
    ),
)

ROCKS: dict[str, Rock] = {row.name: row for row in _ROWS}


def rock(name: str) -> Rock:
    """The rock of that name, upper and lower case alike.

    Raises
    ------
    MaterialError
        For an unknown name, with the nearest one.
    """
    return look_up("rock", name, ROCKS)


def density_warning(kind: Rock | Wood | str, density_kg_m3: float) -> str | None:
    """What to say when a measured density lies outside the range of the rock or wood.

    Parameters
    ----------
    kind : Rock, Wood or str
        A row of their tables, or its name.
    density_kg_m3 : float
        As measured, kg/m3.

    Returns
    -------
    str or None
        One sentence with both numbers, None inside the range.

    Raises
    ------
    MaterialError
        For a name that neither table holds.
    """
    either: dict[str, Rock | Wood] = {**ROCKS, **WOODS}
    row = look_up("rock or wood", kind, either) if isinstance(kind, str) else kind
    usual = row.density_kg_m3
    if usual.holds(density_kg_m3):
        return None
    side = "below" if density_kg_m3 < usual.low else "above"
    return (
        f"density {density_kg_m3:.0f} kg/m3 is {side} the {usual.low:.0f} to {usual.high:.0f} kg/m3 of {row.name}: "
        "check the weight, the size and the name"
    )


def density_from_weighings(mass_air_kg: float, mass_water_kg: float, water_kg_m3: float | None = None) -> float:
    """Density from a weighing in air and one hanging in water, kg/m3.

    rho = m_air rho_w / (m_air - m_water): Archimedes; the volume is that of the outer shape, so a
    porous stone is weighed in water before it soaks, or coated.

    Parameters
    ----------
    mass_air_kg : float
        Reading in air, kg.
    mass_water_kg : float
        Reading under water, kg; below zero for a piece that must be pulled down.
    water_kg_m3 : float, optional
        Density of the water; fresh water of 20 C where not given.

    Raises
    ------
    MaterialError
        When no piece can give these readings.

    References
    ----------
    Archimedes' principle; buoyancy in air (0.05 % for stone) is left out.
    """
    water = water_density_kg_m3(20.0) if water_kg_m3 is None else water_kg_m3
    if not (0.0 < mass_air_kg < float("inf")):
        raise MaterialError(f"weight in air {mass_air_kg:g} kg: give a number above 0.")
    if not (0.0 < water < float("inf")):
        raise MaterialError(f"density of the water {water:g} kg/m3: give a number above 0.")
    if not (float("-inf") < mass_water_kg < mass_air_kg):
        raise MaterialError(
            f"weight in water {mass_water_kg:g} kg is not below the weight in air {mass_air_kg:g} kg: "
            "check that they are not swapped, and that the piece hangs free under water."
        )
    density = mass_air_kg * water / (mass_air_kg - mass_water_kg)
    if not (0.0 < density < float("inf")):
        raise MaterialError(
            f"weights {mass_air_kg:g} kg in air and {mass_water_kg:g} kg in water give no density: weigh again."
        )
    return density
