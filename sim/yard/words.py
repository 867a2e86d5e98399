"""Sentences and names for the page."""

from __future__ import annotations

import math
from collections.abc import Collection

from sim.order import HoldStep
from sim.report.orders import force_words

LONGEST_NAME = 64


def hold_words(hold: HoldStep) -> str:
    """How a piece is held: "hold lintel with 8.2 N up, until pier_2 is set"."""
    at = "" if hold.at_mm is None else " at {:.0f}, {:.0f}, {:.0f} mm".format(*hold.at_mm)
    return f"hold {hold.piece} with {force_words(hold.force_n)}{at}, until {hold.until}"


def tilt_share(tilt_deg: float) -> float:
    """A tilt as the sideways push over the weight that it amounts to."""
    return math.tan(math.radians(min(tilt_deg, 89.0)))


def free_name(wanted: str, taken: Collection[str]) -> str:
    """A name that nothing has: the wanted one, or it with a number that counts on."""
    lower = {name.lower() for name in taken}
    wanted = wanted[:LONGEST_NAME]
    if wanted.lower() not in lower:
        return wanted
    stem = wanted.rstrip("0123456789").rstrip("_-") or "piece"
    number = 2
    while f"{stem}_{number}".lower() in lower:
        number += 1
    return f"{stem[: LONGEST_NAME - 6]}_{number}"


def listed(names: Collection[str]) -> str:
    """Names for the menu: one, two, or how many."""
    given = list(names)
    return " and ".join(given) if len(given) < 3 else f"{len(given)} pieces"
