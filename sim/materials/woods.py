"""Wood: air-dry density, and what it weighs once it is soaked through."""

from __future__ import annotations

from dataclasses import dataclass

from sim.errors import MaterialError
from sim.materials.values import JUDGEMENT, MEMORY, PUBLISHED, Status, Value, look_up, middle

TABLES = "secondary tables of air-dry wood densities"
TRADE = "densities of tank woods as remembered; weigh your own"
HANDBOOK = "USDA Forest Products Laboratory, Wood Handbook, chapter 4"

CELL_WALL_GRAVITY = 1.53  # of the soaked cell wall, Wood Handbook ch. 4, from memory
OVEN_DRY_CELL_WALL_GRAVITY = 1.54  # as the handbook's largest moisture content has it, from memory
SLOW_SOAKING_MM = 50.0  # thicker pieces may take weeks to months to sink: judgement


@dataclass(frozen=True, slots=True)
class Wood:
    """One kind of wood.

    Attributes
    ----------
    density_kg_m3 : Value
        Air-dry (about 12 % moisture).
    note : str
        What a builder should know.
    """

    name: str
    density_kg_m3: Value
    note: str = ""

    @property
    def basic_gravity(self) -> float:
        """Oven-dry mass over green volume, relative to water, from the default density."""
        return basic_gravity(self.density_kg_m3.default)


def _wood(name: str, low: float, high: float, source: str = TABLES, status: Status = PUBLISHED, note: str = "") -> Wood:
    return Wood(name, middle(low, high, "kg/m3", source, status), note)


_ROWS = (
    _wood("mopane", 1000, 1200, TRADE, MEMORY, "sinks at once or soon"),
    _wood("mangrove root", 800, 1100, TRADE, MEMORY),
    _wood("spider root", 600, 900, TRADE, MEMORY, "thin azalea-type roots; float for days to weeks"),
    _wood("driftwood", 350, 900, "range of the softwoods and hardwoods of this table", JUDGEMENT, "species unknown"),
    _wood("spruce", 400, 500, "450 in " + TABLES + "; range ours"),
    _wood("pine", 350, 670),
    _wood("juniper", 510, 610, "560 in " + TABLES + "; range ours"),
    _wood("larch", 500, 590),
    _wood("oak", 590, 930),
    _wood("beech", 700, 900),
    _wood("madrone", 670, 810, "740 in " + TABLES + "; range ours"),
    _wood("box", 950, 1160),
    _wood("rosewood", 820, 900),
    _wood("ebony", 960, 1300),
    _wood("greenheart", 940, 1140, "1040 in " + TABLES + "; range ours"),
    _wood("desert ironwood", 1050, 1250, "specific gravity 1.15 in " + TABLES + "; range ours"),
    _wood("lignum vitae", 1170, 1370),
    _wood("leadwood", 1340, 1420),
    # low in its range: what floats harder needs more to hold it down
    Wood("unknown wood", Value(600, 350, 1420, "kg/m3", "range of this table", JUDGEMENT), "weigh it"),
)

WOODS: dict[str, Wood] = {row.name: row for row in _ROWS}


def wood(name: str) -> Wood:
    """The wood of that name, upper and lower case alike.

    Raises
    ------
    MaterialError
        For an unknown name, with the nearest one.
    """
    return look_up("wood", name, WOODS)


def basic_gravity(air_dry_kg_m3: float) -> float:
    """Oven-dry mass over green volume, relative to water, from the density at 12 % moisture.

    With G = rho / 1120 at 12 % moisture, G = Gb / (1 - 0.265 x 0.6 Gb) is solved for Gb.

    References
    ----------
    USDA Wood Handbook, chapter 4, specific gravity at a moisture content, from memory.
    """
    if not 0.0 < air_dry_kg_m3 < 1700.0:
        raise MaterialError(f"wood of {air_dry_kg_m3:g} kg/m3: give a density above 0 and below 1700.")
    gravity = air_dry_kg_m3 / 1120.0
    return gravity / (1.0 + 0.265 * 0.6 * gravity)


def saturated_density_kg_m3(basic_gravity: float, water_kg_m3: float) -> float:
    """Density of wood with every pore full of water, kg/m3: rho_w (1 + Gb (1 - 1/1.53)).

    Parameters
    ----------
    basic_gravity : float
        Oven-dry mass over green volume, relative to water; above 0, at most 1.53.
    water_kg_m3 : float
        Density of the water, kg/m3.

    Raises
    ------
    MaterialError
        For a gravity above that of solid cell wall, or not above 0.

    References
    ----------
    USDA Wood Handbook, chapter 4, from memory.
    """
    _check(basic_gravity)
    return water_kg_m3 * (1.0 + basic_gravity * (1.0 - 1.0 / CELL_WALL_GRAVITY))


def largest_moisture(basic_gravity: float) -> float:
    """Water in fully soaked wood over its oven-dry mass: (1.54 - Gb) / (1.54 Gb).

    References
    ----------
    USDA Wood Handbook, chapter 4, maximum moisture content, from memory.
    """
    _check(basic_gravity)
    return (OVEN_DRY_CELL_WALL_GRAVITY - basic_gravity) / (OVEN_DRY_CELL_WALL_GRAVITY * basic_gravity)


def _check(basic_gravity: float) -> None:
    if not 0.0 < basic_gravity <= CELL_WALL_GRAVITY:
        raise MaterialError(
            f"specific gravity {basic_gravity:g} of wood: give a number above 0 and at most {CELL_WALL_GRAVITY:g}."
        )
