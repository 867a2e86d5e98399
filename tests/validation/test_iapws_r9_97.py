"""Refractive index of water at 589 nm.

Sources: the refractometer scale (published page): 1.33299 at 20 C, relative to air; IAPWS R9-97, Release
on the Refractive Index of Ordinary Water Substance: 1.33335 at 20 C relative to vacuum, other
temperatures computed independently from it and divided by the index of air.
"""

from __future__ import annotations

import pytest

from sim.materials import AIR_INDEX, water_index


def test_refractometer_scale() -> None:
    assert water_index(20) == pytest.approx(1.33299, abs=1e-5)


def test_relative_to_vacuum() -> None:
    assert water_index(20) * AIR_INDEX == pytest.approx(1.33335, abs=1e-5)


@pytest.mark.parametrize(
    ("temperature_c", "index"), [(22, 1.33280), (24, 1.33261), (25, 1.33250), (26, 1.33240), (30, 1.33194)]
)
def test_by_temperature(temperature_c: float, index: float) -> None:
    assert water_index(temperature_c) == pytest.approx(index, abs=1.5e-5)


def test_seawater() -> None:
    """About 1.3394 at 35 ppt and 20 C on refractometer scales for seawater (from memory)."""
    assert water_index(20, 35) == pytest.approx(1.3394, abs=1e-4)
