"""Conversions at the edges, and the way numbers are printed.

Inside, everything is SI and names carry the unit (`thickness_m`, `load_n`).
Files, commands and reports speak mm, kg, degrees and ml.
"""

from __future__ import annotations

STANDARD_GRAVITY_M_S2 = 9.80665  # CGPM 1901, declaration on the unit of mass and weight

METRES_PER_UNIT = {"mm": 0.001, "cm": 0.01, "m": 1.0, "in": 0.0254}

MM_PER_M = 1000.0
ML_PER_M3 = 1.0e6
MM2_PER_M2 = 1.0e6
PA_PER_KPA = 1000.0
PA_PER_MPA = 1.0e6


def significant(value: float, digits: int = 3) -> str:
    """Print `value` with `digits` significant digits and no exponent.

    >>> significant(0.012345), significant(1234.5), significant(0.0)
    ('0.0123', '1234', '0')
    """
    if value == 0.0:
        return "0"
    text = f"{value:.{digits}g}"
    if "e" in text or abs(value) >= 10**digits:
        text = f"{value:.0f}" if abs(value) >= 1 else f"{value:.{digits + 5}f}".rstrip("0").rstrip(".") or "0"
    return text
