"""Soaked wood.

Source: USDA Forest Products Laboratory, Wood Handbook, chapter 4 (cell-wall density, largest moisture
content; from memory). The values below were computed independently from its formulas.
"""

from __future__ import annotations

import pytest

from sim.materials import largest_moisture, saturated_density_kg_m3, water_density_kg_m3

# basic gravity, soaked kg/m3 in fresh water of 20 C, largest moisture %
TABLE = [(0.35, 1119, 221), (0.45, 1154, 157), (0.5, 1171, 135), (0.6, 1206, 102), (0.8, 1275, 60), (1.0, 1344, 35)]


@pytest.mark.parametrize(("basic", "soaked", "moisture_percent"), TABLE)
def test_table(basic: float, soaked: float, moisture_percent: float) -> None:
    assert saturated_density_kg_m3(basic, water_density_kg_m3(20)) == pytest.approx(soaked, abs=1.0)
    assert 100.0 * largest_moisture(basic) == pytest.approx(moisture_percent, abs=0.6)


@pytest.mark.parametrize("basic", [0.35, 0.6, 1.0])
def test_both_formulas_agree(basic: float) -> None:
    """Oven-dry mass plus the most water it takes is the soaked mass, as far as 1.53 and 1.54 agree."""
    soaked = 1000.0 * basic * (1.0 + largest_moisture(basic))
    assert saturated_density_kg_m3(basic, 1000.0) == pytest.approx(soaked, rel=0.006)
