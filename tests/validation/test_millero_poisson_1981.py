"""Density of seawater at one atmosphere, EOS-80.

Source: Millero & Poisson 1981, International one-atmosphere equation of state of seawater, Deep-Sea
Research 28A:625-629; coefficients and check values in Fofonoff & Millard 1983, UNESCO Technical Papers
in Marine Science 44, section 3.
"""

from __future__ import annotations

import pytest

from sim.materials import water_density_kg_m3

TRACE_PPT = 1e-9  # enough to choose the salt-water formula, too little to weigh anything


@pytest.mark.parametrize(
    ("salinity_ppt", "temperature_c", "density"),
    [
        (TRACE_PPT, 5, 999.96675),  # from memory
        (TRACE_PPT, 25, 997.04796),
        (35, 5, 1027.67547),
        (35, 25, 1023.34306),
    ],
)
def test_check_values(salinity_ppt: float, temperature_c: float, density: float) -> None:
    assert water_density_kg_m3(temperature_c, salinity_ppt) == pytest.approx(density, abs=1e-5)


@pytest.mark.parametrize(("temperature_c", "density"), [(24, 1023.64), (26, 1023.04)])
def test_tank_temperatures(temperature_c: float, density: float) -> None:
    """Computed independently from the same coefficients, to two decimals."""
    assert water_density_kg_m3(temperature_c, 35) == pytest.approx(density, abs=6e-3)
