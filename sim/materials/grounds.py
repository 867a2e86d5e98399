"""Ground: the granular layer on the base, dry and flooded."""

from __future__ import annotations

from dataclasses import dataclass

from sim.materials.values import JUDGEMENT, MEMORY, PUBLISHED, Value, look_up, middle

BULK = "published bulk-density and repose tables, secondary copies"
OURS = "our estimate; weigh a litre of yours"
REMEMBERED = "as remembered; weigh a litre of yours"
FLOODED = "(1 - n) rho_s + n rho_w with pores n of about 0.4"

STEEPEST_FLOODED_SLOPE_DEG = Value(
    25, 15, 30, "deg", "water-filled repose 15-30 degrees in " + BULK + "; slope without barriers ours", JUDGEMENT
)


@dataclass(frozen=True, slots=True)
class Ground:
    """One kind of ground.

    Attributes
    ----------
    dry_kg_m3, flooded_kg_m3 : Value
        Mass per volume of the layer, dry, and with its pores full of water.
    repose_deg : Value
        Angle of repose or friction, loose and dry.
    floats_at_first : bool
    note : str
    """

    name: str
    dry_kg_m3: Value
    flooded_kg_m3: Value
    repose_deg: Value
    floats_at_first: bool = False
    note: str = ""


_ROWS = (
    Ground(
        "sand",
        Value(1555, 1450, 1650, "kg/m3", "1555 in " + BULK + "; range ours", PUBLISHED),
        Value(2000, 1905, 2050, "kg/m3", FLOODED + "; wet sand 1905 in " + BULK, JUDGEMENT),
        Value(34, 30, 35, "deg", "34 dry, 45 damp, 15-30 water-filled in " + BULK, PUBLISHED),
        note="never stand stones on it: it is dug and washed away",
    ),
    Ground(
        "gravel",
        Value(1680, 1550, 1800, "kg/m3", "1680 in " + BULK + "; range ours", PUBLISHED),
        Value(2050, 2000, 2100, "kg/m3", FLOODED + "; wet gravel 2000 in " + BULK, JUDGEMENT),
        # natural gravel with sand rests at 25-30; loose dry gravel at 30-45
        Value(30, 25, 45, "deg", BULK, PUBLISHED),
    ),
    Ground(
        "baked clay soil",
        middle(700, 1000, "kg/m3", REMEMBERED, MEMORY),
        middle(1400, 1600, "kg/m3", REMEMBERED, MEMORY),
        Value(35, 30, 40, "deg", OURS, JUDGEMENT),
        note="crumbles with age and then rests flatter",
    ),
    Ground(
        "expanded clay",
        middle(250, 450, "kg/m3", REMEMBERED, MEMORY),
        Value(1300, 1000, 1400, "kg/m3", "our estimate once soaked; 500 wet in design tables", JUDGEMENT),
        middle(37, 39, "deg", BULK, PUBLISHED),
        floats_at_first=True,
        note="floats at first",
    ),
    Ground(
        "lava gravel",
        middle(500, 900, "kg/m3", REMEMBERED, MEMORY),
        middle(1300, 1500, "kg/m3", REMEMBERED, MEMORY),
        middle(35, 40, "deg", REMEMBERED, MEMORY),
        note="pumice grains float until soaked",
    ),
)

GROUNDS: dict[str, Ground] = {row.name: row for row in _ROWS}


def ground(name: str) -> Ground:
    """The ground of that name, upper and lower case alike.

    Raises
    ------
    MaterialError
        For an unknown name, with the nearest one.
    """
    return look_up("ground", name, GROUNDS)
