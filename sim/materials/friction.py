"""Friction between what lies on what, dry and wet.

Rocks, woods, glasses, mats and grounds belong to one of the `SURFACES`; pairs of those have the
numbers. All defaults err low, as stability asks: a stack that stands with them stands with more.
"""

from __future__ import annotations

from sim.errors import MaterialError
from sim.materials.glasses import GLASSES
from sim.materials.grounds import GROUNDS
from sim.materials.mats import MATS
from sim.materials.rocks import ROCKS
from sim.materials.values import JUDGEMENT, Value, look_up, unknown
from sim.materials.woods import WOODS

SURFACES: dict[str, str] = {
    "rough stone": "natural or broken faces of most rocks",
    "smooth stone": "cleavage faces, slate, shale, gneiss, glassy breaks, water-worn stone",
    "algae-coated stone": "stone with a living film on it",
    "wood": "any wood",
    "glass": "bare panes",
    "plastic grid": "grid or hard plastic sheet under the stones",
    "rubber or foam": "rubber, foam or other soft sheet",
    "sand": "sand and other ground",
}

# what a scene may put under its stones -> the surface that the stones then rest on
UNDER_STONES: dict[str, str] = {"grid": "plastic grid", "sheet": "rubber or foam", "none": "glass"}

BARTON = (
    "basic angles of flat faces: Barton & Choubey 1977, Rock Mech. 10:1-54, via Mechanics of Asphalt table 2.5; "
    "Cafaro et al. 2022, Studia Geotech. Mech.; default below the middle of every rough rock's range"
)
SMOOTH = "TRB class of slate, schist and shale, 20-27 degrees; sheet minerals polished and wet, Horn & Deere 1962"
BEADS = "glass beads on plate 0.162 dry, 0.277 flooded, Soils & Foundations, abstract; natural stone on glass: no data"
RUBBER = "rubber on concrete 1.0 dry, 0.7 wet in secondary tables; default below it"
TIMBER = "wood on wood 0.25-0.5 dry, 0.2 wet, on concrete 0.62 dry in secondary tables; default below them"
GRAINS = "tan of 28-30 degrees; scour and digging are another matter"
OURS = "our estimate; no data found"

Pair = frozenset[str]


def _value(default: float, low: float, high: float, source: str) -> Value:
    # the evidence is published, the choice below it is ours
    return Value(default, low, high, "1", source, JUDGEMENT)


def _pairs(rows: list[tuple[str, str, Value, Value]]) -> dict[Pair, tuple[Value, Value]]:
    return {frozenset((one, other)): (dry, wet) for one, other, dry, wet in rows}


_SMOOTH_DRY, _SMOOTH_WET = _value(0.40, 0.36, 0.51, SMOOTH), _value(0.30, 0.22, 0.45, SMOOTH)
_ALGAE = _value(0.25, 0.15, 0.30, OURS)
_BARE_GLASS = _value(0.15, 0.12, 0.28, BEADS)
_GRID = _value(0.25, 0.20, 0.35, OURS)
_SOFT_DRY, _SOFT_WET = _value(0.60, 0.50, 1.0, RUBBER), _value(0.40, 0.30, 0.70, RUBBER)
_WOOD_DRY, _WOOD_WET = _value(0.50, 0.40, 0.62, TIMBER), _value(0.30, 0.20, 0.40, TIMBER)
_SAND = _value(0.53, 0.53, 0.58, GRAINS)

FRICTION: dict[Pair, tuple[Value, Value]] = _pairs(
    [
        ("rough stone", "rough stone", _value(0.55, 0.48, 0.78, BARTON), _value(0.45, 0.45, 0.73, BARTON)),
        ("rough stone", "smooth stone", _SMOOTH_DRY, _SMOOTH_WET),
        ("smooth stone", "smooth stone", _SMOOTH_DRY, _SMOOTH_WET),
        ("algae-coated stone", "algae-coated stone", _ALGAE, _ALGAE),
        ("algae-coated stone", "rough stone", _ALGAE, _ALGAE),
        ("algae-coated stone", "smooth stone", _ALGAE, _ALGAE),
        ("algae-coated stone", "wood", _ALGAE, _ALGAE),
        ("rough stone", "wood", _WOOD_DRY, _WOOD_WET),
        ("smooth stone", "wood", _SMOOTH_DRY, _WOOD_WET),
        ("wood", "wood", _value(0.25, 0.25, 0.50, TIMBER), _value(0.20, 0.20, 0.25, TIMBER)),
        ("rough stone", "glass", _BARE_GLASS, _BARE_GLASS),
        ("rough stone", "plastic grid", _GRID, _GRID),
        ("rough stone", "rubber or foam", _SOFT_DRY, _SOFT_WET),
        ("rough stone", "sand", _SAND, _SAND),
    ]
)


def surface_of(name: str) -> str:
    """The surface class of a rock, wood, glass, mat or ground, or of a surface itself.

    Raises
    ------
    MaterialError
        For a name that no table holds, with the nearest one.
    """
    classes = {
        **dict.fromkeys(GLASSES, "glass"),
        **dict.fromkeys(MATS, "rubber or foam"),
        **dict.fromkeys(GROUNDS, "sand"),
        **dict.fromkeys(WOODS, "wood"),
        **{row.name: row.surface for row in ROCKS.values()},
        **{surface: surface for surface in SURFACES},
    }
    try:
        return look_up("surface", name, classes)
    except MaterialError:
        raise MaterialError(unknown("material or surface", name, classes)) from None


def friction(one: str, other: str, wet: bool) -> Value:
    """Coefficient of static friction between two materials or surfaces.

    Parameters
    ----------
    one, other : str
        Rocks, woods, glasses, mats, grounds or `SURFACES`, in any order.
    wet : bool
        Under water, or still wet from it.

    Returns
    -------
    Value
        The row of the pair. A pair without a row takes the lower of what its two surfaces have
        against rough stone.

    Raises
    ------
    MaterialError
        For an unknown name.
    """
    first, second = surface_of(one), surface_of(other)
    column = 1 if wet else 0
    row = FRICTION.get(frozenset((first, second)))
    if row is not None:
        return row[column]
    against_stone = [FRICTION[frozenset((surface, "rough stone"))][column] for surface in (first, second)]
    return min(against_stone, key=lambda value: value.default)
