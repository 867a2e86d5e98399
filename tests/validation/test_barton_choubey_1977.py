"""Friction of rock on rock.

Sources: Barton & Choubey 1977, The shear strength of rock joints in theory and practice, Rock Mechanics
10:1-54, basic friction angles of flat faces (read through Mechanics of Asphalt, table 2.5); Cafaro et al.
2022, Studia Geotechnica et Mechanica, doi 10.2478/sgem-2022-0014 (read). Degrees, dry and wet.
Natural faces grip better than flat ones, so a default errs low when it is not above the middle.
"""

from __future__ import annotations

import math

import pytest

from sim.materials import friction

BARTON = [
    ("sandstone", (26, 35), (25, 34)),
    ("limestone", (31, 37), (27, 35)),
    ("basalt", (35, 38), (31, 36)),
    ("granite", (31, 35), (29, 31)),  # fine
    ("granite", (31, 35), (31, 33)),  # coarse
    ("gneiss", (26, 29), (23, 26)),
    ("dolerite", (36, 36), (32, 32)),
]
CAFARO = [
    ("weathered mudstone", 32, 29),
    ("limestone", 34, 31),
    ("sandstone", 31, 29),
    ("marble", 49, 42),
    ("shale", 29, 21),
    ("granite", 33, 31),
]


@pytest.mark.parametrize(("rock", "dry_deg", "wet_deg"), BARTON)
def test_barton_table(rock: str, dry_deg: tuple[float, float], wet_deg: tuple[float, float]) -> None:
    for angles_deg, wet in ((dry_deg, False), (wet_deg, True)):
        middle = math.tan(math.radians(sum(angles_deg) / 2))
        assert 0.5 * middle < friction(rock, rock, wet).default <= middle


@pytest.mark.parametrize(("rock", "dry_deg", "wet_deg"), CAFARO)
def test_cafaro_table(rock: str, dry_deg: float, wet_deg: float) -> None:
    for angle_deg, wet in ((dry_deg, False), (wet_deg, True)):
        measured = math.tan(math.radians(angle_deg))
        assert 0.45 * measured < friction(rock, rock, wet).default <= measured
