"""Annealed glass under load for long.

Source: EN 16612:2019, Glass in building: determination of the lateral load resistance of glass panes by
calculation. Formulas from memory, the standard was not opened; values computed independently from them.
"""

from __future__ import annotations

import pytest

from sim.materials import design_strength_mpa, duration_factor, glass

DAY_H, YEAR_H = 24.0, 365.25 * 24.0


@pytest.mark.parametrize(
    ("hours", "factor"),
    [
        (30 / 3600, 0.894),
        (10 / 60, 0.742),
        (11, 0.571),
        (7 * DAY_H, 0.481),
        (30 * DAY_H, 0.439),
        (YEAR_H, 0.376),
        (50 * YEAR_H, 0.294),
    ],
)
def test_duration(hours: float, factor: float) -> None:
    assert duration_factor(hours) == pytest.approx(factor, abs=6e-4)


@pytest.mark.parametrize(
    ("surface", "edge", "design", "unfactored"),
    [(1.0, 1.0, 7.25, 5.37), (0.6, 1.0, 4.35, 3.22), (1.0, 0.8, 5.80, 4.30)],
)
def test_permanent_design_strength(surface: float, edge: float, design: float, unfactored: float) -> None:
    strength = design_strength_mpa(float("inf"), surface, edge)
    assert strength == pytest.approx(design, abs=5e-3)
    assert strength / 1.35 == pytest.approx(unfactored, abs=5e-3)


def test_the_limits_stay_below_the_standard() -> None:
    """Limits of the tool are a judgement: each below the standard's for its zone, load factor 1.35 included."""
    kind = glass("annealed")
    assert kind.limit_mpa("surface") < design_strength_mpa(float("inf")) / 1.35
    assert kind.limit_mpa("edge") < design_strength_mpa(float("inf"), edge_factor=0.8) / 1.35
    assert kind.limit_mpa("abraded") < design_strength_mpa(float("inf"), surface_factor=0.6) / 1.35
