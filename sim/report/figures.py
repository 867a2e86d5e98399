"""Figures and lines of the text report."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

import numpy as np

from sim.units import significant

WIDTH = 100
WAYS = (("right", "left"), ("to the back", "to the front"), ("up", "down"))
SMALL_SHARE = 0.2  # of a force: lesser parts are not named
NOTHING = 1.0e-3  # newtons or degrees: less is printed as none
FILLED = {"air": "in air", "partial": "partial fill", "flooded": "flooded", "drained": "drained, wet"}


def figure(value: float | None, cap: float | None = None) -> str:
    """Two digits; '-' where unknown, 'none' from the cap upward."""
    if value is None:
        return "-"
    if abs(value) < NOTHING:
        return "0"
    return "none" if cap is not None and value >= cap else significant(value, 2)


def force_ways(force_n: Sequence[float], words: Sequence[tuple[str, str]] = WAYS) -> str:
    """Which way a force (3,) pulls: "up and left". `words`: two for each axis, along it and against it."""
    size = float(np.linalg.norm(force_n))
    named = [axis for axis in (2, 0, 1) if abs(force_n[axis]) > SMALL_SHARE * size]
    return " and ".join(words[axis][0 if force_n[axis] > 0.0 else 1] for axis in named)


def sentence(text: str) -> str:
    """With a capital and a full stop."""
    return text[:1].upper() + text[1:] + ("" if text.endswith(".") else ".")


def wrapped(text: str, first: str = "", later: str = "") -> str:
    """Broken into lines."""
    return textwrap.fill(text, WIDTH, initial_indent=first, subsequent_indent=later, break_long_words=False)
