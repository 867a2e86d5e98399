"""Expanded polystyrene mats.

Source: ASTM D6817, Standard Specification for Rigid Cellular Polystyrene Geofoam, table 1 (minima): density
and compressive resistance at 1, 5 and 10 % strain.
"""

from __future__ import annotations

import pytest

from sim.materials import mat

# type, density kg/m3, resistance kPa at 1, 5 and 10 %
TABLE = [
    ("EPS12", 11.2, 15, 35, 40),
    ("EPS15", 14.4, 25, 55, 70),
    ("EPS19", 18.4, 40, 90, 110),
    ("EPS22", 21.6, 50, 115, 135),
    ("EPS29", 28.8, 75, 170, 200),
    ("EPS39", 38.4, 103, 241, 276),
]


@pytest.mark.parametrize(("name", "density", "at_1", "at_5", "at_10"), TABLE)
def test_table_1(name: str, density: float, at_1: float, at_5: float, at_10: float) -> None:
    row = mat(name)
    assert row.permanent_kpa is not None
    assert row.at_5_percent_kpa is not None
    assert row.at_10_percent_kpa is not None
    assert row.density_kg_m3.default == density
    assert (row.permanent_kpa.default, row.at_5_percent_kpa.default, row.at_10_percent_kpa.default) == (
        at_1,
        at_5,
        at_10,
    )
    # Hooke between 0 and 1 %
    assert row.youngs_mpa.default * 1000.0 * 0.01 == pytest.approx(at_1)


# computed independently: Winkler moduli, and how far 4.4 kPa of water presses the mat
@pytest.mark.parametrize(
    ("name", "thickness_mm", "bedding", "sinks_um"),
    [("EPS22", 10, 5.0e8, 9), ("EPS15", 10, 2.5e8, 18), ("soft PE foam", 6, 5.0e7, 88)],
)
def test_bedding(name: str, thickness_mm: float, bedding: float, sinks_um: float) -> None:
    modulus = mat(name).bedding_n_m3(thickness_mm / 1000.0)
    assert modulus == pytest.approx(bedding)
    assert 4400.0 / modulus * 1e6 == pytest.approx(sinks_um, abs=0.5)
