"""Weights of a whole tank: hand calculation of the published kind, and Archimedes.

Test case: footprint 0.9 x 0.45 m, water 0.43 m at 998 kg/m3 without displacement, 35 kg of glass, 30 kg of stone,
25 kg of ground: 263.8 kg, 2.587 kN, 6.388 kPa (recomputed).
"""

from __future__ import annotations

from pathlib import Path

import pytest
from boxes import FLOOR_MM, HEAD, box_entry, scene_of

from sim.base import glass_mass_kg, weights_of
from sim.materials import water_density_kg_m3
from sim.pieces.placing import place_pieces
from sim.units import STANDARD_GRAVITY_M_S2

G = STANDARD_GRAVITY_M_S2


def test_the_hand_calculation() -> None:
    water_kg = 0.9 * 0.45 * 0.43 * 998.0
    total = water_kg + 35 + 30 + 25
    assert water_kg == pytest.approx(173.8, abs=0.05)
    assert total * G / 1000 == pytest.approx(2.587, abs=1e-3)
    assert total * G / (0.9 * 0.45) / 1000 == pytest.approx(6.388, abs=2e-3)


def test_archimedes_cancels_inside_the_tank(tmp_path: Path) -> None:
    scene = scene_of(tmp_path, box_entry(tmp_path, "stone", (100, 80, 60), (300, 200, FLOOR_MM)))
    pieces = place_pieces(scene)
    dry, full = weights_of(scene, pieces, False), weights_of(scene, pieces, True)
    density = water_density_kg_m3(24.0)
    volume = 0.1 * 0.08 * 0.06
    assert dry.water_kg == 0.0
    assert full.displaced_l == pytest.approx(1000 * volume)
    assert full.water_kg == pytest.approx((0.6 * 0.4 * 0.3 - volume) * density)
    assert full.total_kg - dry.total_kg == pytest.approx(full.water_kg)
    # pressure on the free base and the stone's own footing carry the same
    buoyed = pieces[0].mass_kg - volume * density
    assert full.pieces_kg + full.water_kg == pytest.approx(0.6 * 0.4 * 0.3 * density + buoyed)


def test_a_half_covered_stone_and_ground(tmp_path: Path) -> None:
    head = HEAD.replace("level_mm = 300", "level_mm = 35")
    ground = '[ground]\nlayers = [{ material = "gravel", front_mm = 20, back_mm = 40 }]\n'
    scene = scene_of(tmp_path, ground, box_entry(tmp_path, "stone", (100, 80, 60), (300, 200, FLOOR_MM)), head=head)
    full = weights_of(scene, place_pieces(scene), True)
    assert full.displaced_l == pytest.approx(1000 * 0.1 * 0.08 * 0.03, rel=1e-6)
    assert full.ground_kg == pytest.approx(1680 * 0.030 * 0.6 * 0.4, rel=1e-6)


def test_glass(tmp_path: Path) -> None:
    """600 x 400 x 400 mm inside, all 8 mm: base 616 x 416, two panes 616, two 400 long."""
    volume = 0.616 * 0.416 * 0.008 + 2 * (0.616 + 0.4) * 0.4 * 0.008
    assert glass_mass_kg(scene_of(tmp_path)) == pytest.approx(2500 * volume)


def test_bands_follow_the_load(tmp_path: Path) -> None:
    scene = scene_of(tmp_path)
    assert weights_of(scene, [], False).band == "small"
    assert weights_of(scene, [], True).band == "small"
    deep = HEAD.replace("[600, 400, 400]", "[1200, 600, 600]").replace("level_mm = 300", "level_mm = 550")
    assert weights_of(scene_of(tmp_path, head=deep), [], True).band == "large"
