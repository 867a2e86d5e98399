"""Depth of field: near = s (H - f) / (H + s - 2 f), far = s (H - f) / (H - s), H = f^2 / (N c) + f.

Source: the published worked example of eumat.sourceforge.net, reference/dof: 4 m, f/8, circle 0.03 mm. The hyperfocal
distance of 50 mm at f/8 is computed independently.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from shots import scene_with

from sim.materials.optics import SHARP_CIRCLE_MM, sharp_circle_m
from sim.shot.framing import depth_of_field_m, hyperfocal_m
from sim.shot.lens import lens_of
from sim.shot.refraction import Tank, apparent_points
from sim.shot.standing import sharp_depths_m

CIRCLE_M = 0.03e-3


@pytest.mark.parametrize(
    ("focal_mm", "near_m", "far_m"),
    [(28, 1.80512, math.inf), (35, 2.25122, 17.9225), (50, 2.90023, 6.4433), (85, 3.53967, 4.59796)],
)
def test_published_example(focal_mm: float, near_m: float, far_m: float) -> None:
    assert depth_of_field_m(focal_mm / 1000.0, 8.0, CIRCLE_M, 4.0) == pytest.approx((near_m, far_m), rel=2e-5)


def test_hyperfocal_distance() -> None:
    assert hyperfocal_m(0.050, 8.0, CIRCLE_M) == pytest.approx(10.467, abs=5e-4)


def test_the_circle_goes_with_the_sensor() -> None:
    assert sharp_circle_m((36.0, 24.0)) == pytest.approx(SHARP_CIRCLE_MM.default / 1000.0)
    assert sharp_circle_m((18.0, 12.0)) == pytest.approx(0.015e-3)


def test_blur_at_the_limits_is_the_circle() -> None:
    """The formula of the limits and that of the blur are two; at a limit they must meet."""
    lens = lens_of(scene_with("position_mm = [750, -1100, 250]\nfocal_mm = 50\nfocus_mm = 1400\naperture = 4"))
    limits = np.array(depth_of_field_m(lens.focal_m, lens.aperture, lens.circle_m, lens.focus_m))
    assert lens.blur_m(limits) == pytest.approx([CIRCLE_M, CIRCLE_M], rel=1e-9)
    assert lens.blur_m(np.array([1.4])) == pytest.approx([0.0], abs=1e-15)


def test_sharp_depths_lie_at_the_limits_as_they_seem() -> None:
    """The point at a sharp depth behind water and glass seems to lie exactly at a limit in air."""
    lens = lens_of(scene_with("position_mm = [750, -1100, 250]\nfocal_mm = 50\nfocus_mm = 1300\naperture = 4"))
    tank = Tank((1.5, 0.6, 0.5), 0.012, 0.5, water_index=1.333)
    limits = depth_of_field_m(lens.focal_m, lens.aperture, lens.circle_m, lens.focus_m)
    depths = sharp_depths_m(lens, tank)
    points = np.array([[0.75, depth, 0.25] for depth in depths])
    seems = apparent_points(points, lens.position_m, tank)[:, 1] - lens.position_m[1]
    assert 0.0 < depths[0] < depths[1]
    assert seems == pytest.approx(limits, rel=1e-9)
    # water makes the sharp zone 1.333 times as deep as air does
    dry = sharp_depths_m(lens, Tank((1.5, 0.6, 0.5), 0.012, 0.0))
    assert (depths[1] - depths[0]) / (dry[1] - dry[0]) == pytest.approx(1.333, rel=1e-9)
