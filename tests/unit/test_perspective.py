"""The depth table: worked numbers, and what the projection itself says of sizes and of the ground."""

from __future__ import annotations

import numpy as np
import pytest
from shots import scene_with

import sim.shot
from sim.errors import BedjointError
from sim.pieces.placing import place_pieces
from sim.shot.lens import lens_of
from sim.shot.perspective import depth_table
from sim.shot.refraction import Tank, tank_of

SQUARE = "position_mm = [750, -1012, 300]\nfocal_mm = 24"


def test_worked_example() -> None:
    """D = 1 m, 12 mm of glass of 1.52, water of 4 / 3, full size at 150 mm, twice as far at 600 mm.

    A0 = 1 + 0.012 / 1.52 + 0.15 / (4 / 3) = 1.120395; A = 1 + 0.012 / 1.52 + 0.6 / (4 / 3) = 1.457895;
    scale = A / (2 A0) = 0.650616; the eye 300 mm over the base: the ground rises 300 (1 - 0.650616) = 104.815 mm.
    """
    scene = scene_with(SQUARE)
    tank = Tank((1.5, 0.6, 0.5), 0.012, 0.5, water_index=4.0 / 3.0)
    table = depth_table(scene, [], lens_of(scene), tank, times=(2.0,), depths_m=(0.15, 0.6))
    reference, back = table.rows
    assert reference.apparent_m == pytest.approx(1.120395, abs=1e-6)
    assert back.apparent_m == pytest.approx(1.457895, abs=1e-6)
    assert reference.scales == pytest.approx([0.5])
    assert back.scales == pytest.approx([0.650616], abs=1e-6)
    assert back.rises_m == pytest.approx([0.104815], abs=1e-6)
    assert back.receding_scale == pytest.approx(back.scales[0])
    assert reference.receding_scale == pytest.approx(1.0)
    assert back.shrinks_to == pytest.approx(1.120395 / 1.457895, abs=1e-6)
    assert table.seems_deep_m == pytest.approx(0.45)


@pytest.mark.parametrize("flooded", [False, True])
def test_the_projection_draws_what_the_table_promises(flooded: bool) -> None:
    """A small stick near the axis, scaled by the table, is drawn as a full one would be k times as far in air."""
    scene = scene_with(SQUARE)
    lens, tank = lens_of(scene), tank_of(scene, flooded)
    table = depth_table(scene, [], lens, tank, times=(1.0, 2.5))
    apparent0 = next(row.apparent_m for row in table.rows if row.depth_m == pytest.approx(0.15))
    for row in table.rows:
        for k, scale in zip(table.times, row.scales, strict=True):
            stick = 1e-3 * scale
            ends = [[0.75 - stick / 2.0, row.depth_m, 0.3], [0.75 + stick / 2.0, row.depth_m, 0.3]]
            (left, _), (right, _) = sim.shot.project(scene, ends, flooded, (6000, 4000))
            assert right - left == pytest.approx(1e-3 * lens.focal_px((6000, 4000)) / (k * apparent0), rel=1e-5)


def test_the_risen_ground_is_drawn_at_the_height_of_far_level_ground() -> None:
    scene = scene_with("position_mm = [750, -1012, 60]\nfocal_mm = 24")
    lens, tank = lens_of(scene), tank_of(scene, True)
    table = depth_table(scene, [], lens, tank, times=(1.5, 3.0))
    apparent0 = next(row.apparent_m for row in table.rows if row.depth_m == pytest.approx(0.15))
    for row in table.rows:
        assert row.rises_m is not None
        for k, rise in zip(table.times, row.rises_m, strict=True):
            v = sim.shot.project(scene, [[0.75, row.depth_m, rise]], True, (6000, 4000))[0, 1] - 2000.0
            assert v == pytest.approx(lens.focal_px((6000, 4000)) * 0.06 / (k * apparent0), rel=1e-2, abs=0.1)


def test_ground_in_front_lowers_the_eye() -> None:
    bare = scene_with(SQUARE)
    sand = scene_with(SQUARE, rest='[ground]\nlayers = [{ material = "sand", front_mm = 40, back_mm = 80 }]')
    eyes = [depth_table(scene, [], lens_of(scene), tank_of(scene, True)).eye_over_ground_m for scene in (bare, sand)]
    assert eyes == pytest.approx([0.3, 0.25])  # 50 mm deep at a quarter of the depth


def test_from_under_the_ground_nothing_carries_the_eye() -> None:
    scene = scene_with(
        "position_mm = [750, -1012, 20]", rest='[ground]\nlayers = [{ material = "sand", front_mm = 40, back_mm = 80 }]'
    )
    table = depth_table(scene, [], lens_of(scene), tank_of(scene, True))
    assert all(row.rises_m is None and row.receding_rise_m is None for row in table.rows)


def test_pieces_look_smaller_the_farther_they_stand() -> None:
    block = 'generate = { shape = "block", seed = 1, size_mm = [80, 60, 60] }\nrock = "basalt"'
    entries = [
        f'[[piece]]\nid = "{name}"\n{block}\nat_mm = [400, {y}, 0]\n' for name, y in (("near", 150), ("far", 500))
    ]
    scene = scene_with(SQUARE, rest="".join(entries))
    table = depth_table(scene, place_pieces(scene), lens_of(scene), tank_of(scene, True))
    near, far = table.pieces
    assert near.scale == pytest.approx(1.0)
    assert far.scale == pytest.approx(near.apparent_m / far.apparent_m)
    assert far.scale < near.scale


@pytest.mark.parametrize(
    ("wanted", "said"),
    [
        ({"times": (0.0,)}, "above 0"),
        ({"back_times": float("nan")}, "above 0"),
        ({"reference_m": 0.7}, "outside the tank"),
        ({"depths_m": (-0.1,)}, "outside the tank"),
    ],
)
def test_no_such_table(wanted: dict[str, float], said: str) -> None:
    scene = scene_with(SQUARE)
    with pytest.raises(BedjointError, match=said):
        depth_table(scene, [], lens_of(scene), tank_of(scene, True), **wanted)


def test_the_camera_must_stand_before_the_pane() -> None:
    scene = scene_with("position_mm = [750, 300, 1200]\nlook_at_mm = [750, 300, 0]")
    with pytest.raises(BedjointError, match="not in front of the front pane"):
        depth_table(scene, [], lens_of(scene), tank_of(scene, True))


def test_every_depth_has_its_row() -> None:
    scene = scene_with(SQUARE)
    rows = depth_table(scene, [], lens_of(scene), tank_of(scene, True)).rows
    assert [row.depth_m for row in rows] == pytest.approx(np.linspace(0.0, 0.6, 9))
