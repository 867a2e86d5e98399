"""Figures and lines of the text report."""

from __future__ import annotations

import textwrap

from sim.units import significant

WIDTH = 100
NOTHING = 1.0e-3  # newtons or degrees: less is printed as none
FILLED = {"air": "in air", "partial": "partial fill", "flooded": "flooded", "drained": "drained, wet"}


def figure(value: float | None, cap: float | None = None) -> str:
    """Two digits; '-' where unknown, 'none' from the cap upward."""
    if value is None:
        return "-"
    if abs(value) < NOTHING:
        return "0"
    return "none" if cap is not None and value >= cap else significant(value, 2)


def sentence(text: str) -> str:
    """With a capital and a full stop."""
    return text[:1].upper() + text[1:] + ("" if text.endswith(".") else ".")


def wrapped(text: str, first: str = "", later: str = "") -> str:
    """Broken into lines."""
    return textwrap.fill(text, WIDTH, initial_indent=first, subsequent_indent=later, break_long_words=False)
