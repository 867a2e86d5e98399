"""Density of air-free fresh water.

Source: Tanaka, Girard, Davis, Peuto & Bignell 2001, Recommended table for the density of water between
0 C and 40 C based on recent experimental reports, Metrologia 38:301-309, doi 10.1088/0026-1394/38/4/3.
The values below were computed independently from the paper's equation (1), to three decimals.
"""

from __future__ import annotations

import pytest

from sim.materials import water_density_kg_m3

TABLE = [
    (0, 999.843), (4, 999.975), (10, 999.703), (15, 999.103), (20, 998.207), (22, 997.773), (24, 997.299),
    (25, 997.047), (26, 996.786), (28, 996.235), (30, 995.649), (35, 994.033),
]  # fmt: skip


@pytest.mark.parametrize(("temperature_c", "density"), TABLE)
def test_table(temperature_c: float, density: float) -> None:
    assert water_density_kg_m3(temperature_c) == pytest.approx(density, abs=6e-4)


def test_densest_at_3_983_degrees() -> None:
    """The constant a1 of equation (1) is the temperature of greatest density, a5 the density there."""
    assert water_density_kg_m3(3.983035) == pytest.approx(999.974950, abs=1e-9)
    assert water_density_kg_m3(3.983035) > max(water_density_kg_m3(3.9), water_density_kg_m3(4.1))
