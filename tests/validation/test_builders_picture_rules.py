"""What builders say of pictures, as far as lens and light decide it. Source: common practice, no source."""

from __future__ import annotations

import numpy as np
import pytest
from shots import scene_with

import sim.shot
from sim.materials.optics import FOREGROUND_SHARE, mirror_limit, slab_reflectance
from sim.materials.values import PRACTICE
from sim.shot.lens import lens_of
from sim.shot.perspective import depth_table
from sim.shot.refraction import tank_of
from sim.shot.standing import standing

LITRES_450 = (1500.0, 600.0, 500.0)


@pytest.mark.parametrize("position_mm", [(750, -600, 250), (750, -1100, 250), (200, -900, 400), (750, -2500, 100)])
def test_a_side_pane_in_view_of_a_filled_tank_is_a_mirror(position_mm: tuple[int, int, int]) -> None:
    """Common practice: always. All of the inner side pane reflects totally; dry it reflects in part."""
    scene = scene_with(f"position_mm = {list(position_mm)}\nfocal_mm = 14")
    lens, tank = lens_of(scene), tank_of(scene, True)
    y, z = (axis.ravel() for axis in np.meshgrid(np.linspace(0.005, 0.595, 40), np.linspace(0.01, 0.49, 30)))
    for x in (0.0, 1.5):
        pixels = sim.shot.project(scene, np.stack([np.full_like(y, x), y, z], axis=1), True)
        sideways = np.abs(lens.directions(pixels, lens.size_px())[:, 0])
        assert (sideways < mirror_limit(tank.water_index)).all()
        share = slab_reflectance(sideways / tank.water_index, tank.water_index, tank.glass_index, 1.0)
        assert share == pytest.approx(1.0)
        dry = slab_reflectance(sideways, 1.0, tank.glass_index, 1.0)
        assert (dry < 0.999).all()


def test_a_wider_lens_from_nearer_makes_the_depth_look_deeper() -> None:
    """Common practice. At equal framing of the front pane, front to back shrinks the more, the wider the lens."""
    ratios = []
    for focal_mm in (50.0, 35.0, 24.0, 14.0):
        scene = scene_with(f"focal_mm = {focal_mm}")
        rows = depth_table(scene, [], lens_of(scene), tank_of(scene, True)).rows
        ratios.append(rows[0].shrinks_to / rows[-1].shrinks_to)
    assert ratios == sorted(ratios)
    assert ratios[-1] - 1.0 > 2.0 * (ratios[0] - 1.0)


def test_water_flattens_the_depth() -> None:
    """Common practice: what was planned dry looks shallower filled."""
    scene = scene_with("focal_mm = 24")
    dry, wet = (depth_table(scene, [], lens_of(scene), tank_of(scene, flooded)) for flooded in (False, True))
    assert wet.seems_deep_m == pytest.approx(dry.seems_deep_m / tank_of(scene, True).water_index)


def test_a_24_mm_lens_stands_where_a_person_can() -> None:
    """Common practice: full-frame 24 mm is ordinary before some 450 litres; contest pictures go wider."""
    for focal_mm, low_m, high_m in ((24.0, 0.8, 1.5), (20.0, 0.6, 1.2), (14.0, 0.35, 1.0)):
        distance = standing(scene_with(inner_mm=LITRES_450), focal_mm).distance_m
        assert distance is not None
        assert low_m < distance < high_m


def test_the_front_quarter_of_the_depth_stays_foreground() -> None:
    """Common practice: full size is what stands behind it."""
    assert FOREGROUND_SHARE.status == PRACTICE
    scene = scene_with()
    assert depth_table(scene, [], lens_of(scene), tank_of(scene, True)).reference_m == pytest.approx(0.25 * 0.6)


def test_large_in_front_and_small_behind() -> None:
    """Common practice: a scene that is to recede is built smaller and higher with distance."""
    scene = scene_with("focal_mm = 24")
    table = depth_table(scene, [], lens_of(scene), tank_of(scene, True), times=(2.0, 3.0), back_times=3.0)
    behind = [row for row in table.rows if row.depth_m >= table.reference_m - 1e-9]
    scales = [row.receding_scale for row in behind]
    rises = [row.receding_rise_m or 0.0 for row in behind]
    assert scales == sorted(scales, reverse=True)
    assert rises == sorted(rises)
    assert scales[0] == pytest.approx(1.0)
    assert scales[-1] < 0.6
    assert all(row.scales[0] > row.scales[1] for row in table.rows)  # the farther it is to look, the smaller
