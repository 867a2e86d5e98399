"""The whole weight in plan and the feet of the stand: textbook statics of a body on equal springs."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from boxes import FLOOR_MM, HEAD, box_entry, scene_of
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.base import weights_of
from sim.base.feet import share_between_feet, standing_of
from sim.pieces.placing import place_pieces

SQUARE = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
FEET = "stand = { feet_mm = [[0, 0], [600, 0], [600, 400], [0, 400]], mass_kg = 20 }\n"


def test_four_feet_under_the_middle() -> None:
    """A quarter each; but as one leg may be short, any diagonal pair may take all: up to a half."""
    feet = share_between_feet(SQUARE, 800.0, np.array([0.5, 0.5]))
    assert feet is not None
    for foot in feet:
        assert (foot.nominal_n, foot.least_n, foot.most_n) == pytest.approx((200.0, 0.0, 400.0), abs=1e-6)


def test_off_the_middle() -> None:
    """W/4 (1 +- 2 ex +- 2 ey) for springs at the corners of a unit square."""
    feet = share_between_feet(SQUARE, 800.0, np.array([0.6, 0.45]))
    assert feet is not None
    expected = [200 * (1 - 0.2 + 0.1), 200 * (1 + 0.2 + 0.1), 200 * (1 + 0.2 - 0.1), 200 * (1 - 0.2 - 0.1)]
    assert [foot.nominal_n for foot in feet] == pytest.approx(expected)


def test_three_feet_are_determined_and_an_overhang_tips() -> None:
    three = share_between_feet(SQUARE[:3], 90.0, np.array([2 / 3, 1 / 3]))
    assert three is not None
    for foot in three:
        assert (foot.nominal_n, foot.least_n, foot.most_n) == pytest.approx((30.0, 30.0, 30.0))
    assert share_between_feet(SQUARE, 1.0, np.array([1.1, 0.5])) is None


@settings(max_examples=40, deadline=None)
@given(st.integers(3, 8), st.integers(0, 2**31))
def test_forces_balance_and_none_pulls(count: int, seed: int) -> None:
    rng = np.random.default_rng(seed)
    feet_m = rng.uniform(0.0, 1.0, (count, 2))
    centre = rng.dirichlet(np.ones(count)) @ feet_m
    feet = share_between_feet(feet_m, 100.0, centre)
    assert feet is not None
    force = np.array([foot.nominal_n for foot in feet])
    assert force.min() >= -1e-8
    for foot in feet:
        assert foot.least_n - 1e-6 <= foot.nominal_n <= foot.most_n + 1e-6
    # where a foot has lifted off, the others still balance as long as they can
    assert force.sum() == pytest.approx(100.0, rel=1e-6)
    assert force @ feet_m / 100.0 == pytest.approx(centre, abs=1e-6)


def test_the_full_tank_weighs_the_same_in_plan(tmp_path: Path) -> None:
    head = HEAD.replace("side_mm = 8\n", "side_mm = 8\n" + FEET)
    ground = '[ground]\nlayers = [{ material = "gravel", front_mm = 20, back_mm = 40 }]\n'
    stone = box_entry(tmp_path, "stone", (100, 80, 60), (500, 300, FLOOR_MM))
    scene = scene_of(tmp_path, ground, stone, head=head)
    pieces = place_pieces(scene)
    found = standing_of(scene, pieces)
    assert found.mass_kg == pytest.approx(weights_of(scene, pieces, flooded=True).total_kg, rel=1e-6)
    assert found.within_feet is True
    assert sum(foot.nominal_n for foot in found.feet) == pytest.approx(found.mass_kg * 9.80665)
    assert found.pieces_centre_m == pytest.approx([0.5, 0.3])
    # stone and deeper gravel at the back pull it to the right and to the back
    assert found.centre_m[0] > 0.3
    assert found.centre_m[1] > 0.2


def test_a_stone_moves_the_centre_by_its_weight_in_water(tmp_path: Path) -> None:
    scene = scene_of(tmp_path, box_entry(tmp_path, "stone", (100, 80, 60), (500, 200, FLOOR_MM)))
    pieces = place_pieces(scene)
    found = standing_of(scene, pieces)
    in_water = pieces[0].mass_kg - 0.1 * 0.08 * 0.06 * 997.299
    assert found.centre_m[0] - 0.3 == pytest.approx(0.2 * in_water / found.mass_kg, rel=1e-5)
    assert found.within_feet is None
