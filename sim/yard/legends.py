"""What the colours of the page mean: the same as in the pictures of a report."""

from __future__ import annotations

from sim.report.loads_picture import FINE, OVER, TIGHT
from sim.report.picture import FAIR_RGB, FAIR_SHARE, FIRM_RGB, MOVES_RGB, PLAIN_RGB, WEAK_RGB, WEAK_SHARE
from sim.yard.protocol import Legends, Swatch

MOVES, WEAK, FAIR, FIRM, UNKNOWN = range(5)  # swatches of a margin
# the colour map of the sheet of loads, cividis reversed, in five steps: its lightness falls all the way
PRESSURE = ("#e5cf52", "#aea371", "#7c7b78", "#4f576c", "#083370")
PRESSURE_MARKS = "▁▂▄▆█"  # one sign each, rising
JOINT_STEPS = ((0.7, FINE, "○", "up to 70 % of its strength"), (1.0, TIGHT, "□", "up to all of it"))


def hexed(rgb: tuple[int, int, int]) -> str:
    """A colour as #rrggbb."""
    return "#{:02x}{:02x}{:02x}".format(*rgb)


def legends() -> Legends:
    """All legends."""
    weak, fair = f"{100 * WEAK_SHARE:.0f} %", f"{100 * FAIR_SHARE:.0f} %"
    margin = (
        Swatch(hexed(MOVES_RGB), None, "comes down, or moves first", "!"),
        Swatch(hexed(WEAK_RGB), WEAK_SHARE, f"a push under {weak} of its weight moves it", "▽"),
        Swatch(hexed(FAIR_RGB), FAIR_SHARE, f"under {fair}", "○"),
        Swatch(hexed(FIRM_RGB), None, f"over {fair}", "△"),
        Swatch(hexed(PLAIN_RGB), None, "fixed, or not known", "·"),
    )
    count = len(PRESSURE)
    pressure = tuple(
        Swatch(colour, (k + 1) / count, f"up to {100 * (k + 1) // count} % of the greatest", PRESSURE_MARKS[k])
        for k, colour in enumerate(PRESSURE)
    )
    joint = (
        *(Swatch(colour, upto, words, mark) for upto, colour, mark, words in JOINT_STEPS),
        Swatch(OVER, None, "breaks", "×"),
    )
    return Legends(margin, pressure, joint)


def margin_swatch(share: float | None, moves: bool = False) -> int:
    """Swatch of a least push over the weight."""
    if moves:
        return MOVES
    if share is None:
        return UNKNOWN
    return WEAK if share < WEAK_SHARE else FAIR if share < FAIR_SHARE else FIRM


def pressure_swatch(share: float) -> int:
    """Swatch of a pressure over the greatest one."""
    return min(int(share * len(PRESSURE)), len(PRESSURE) - 1)


def joint_swatch(share: float | None) -> int | None:
    """Swatch of the share of its strength that a joint uses."""
    if share is None:
        return None
    return next((k for k, step in enumerate(JOINT_STEPS) if share <= step[0]), len(JOINT_STEPS))
