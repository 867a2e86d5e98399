"""Points seen through a flat pane of glass with water behind.

Source: Agrawal, Ramalingam, Taguchi & Chari 2012, A theory of multi-layer flat refractive geometry, CVPR. Checked
against the sum D tan a + d tan b + L tan c = r bisected in the angle, against rays bent at each face by the vector
form of Snell's law, and in the limits: h / n straight ahead (10 m of water look 7.5 m deep, published, n = 4/3),
and no glass, which is a pinhole.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from shots import distance_to_rays, scene_with, snell, to_plane

import sim.shot
from sim.materials.optics import apparent_depth_m
from sim.shot.camera import View
from sim.shot.lens import lens_of
from sim.shot.projection import project_with
from sim.shot.refraction import Tank, air_tangents, apparent_points, rays_into_tank, tank_of

Floats = NDArray[np.float64]

GLASS = 1.52
BACK = np.array([0.0, 1.0, 0.0])


def bisected(radius: Floats, distance: float, glass: float, depth: Floats, index: float) -> Floats:
    """The tangent by 200 halvings of the sine, from the angles themselves."""
    low, high = np.zeros_like(radius), np.ones_like(radius)
    for _ in range(200):
        sine = (low + high) / 2.0
        with np.errstate(divide="ignore"):
            reached = (
                distance * np.tan(np.arcsin(sine))
                + glass * np.tan(np.arcsin(sine / GLASS))
                + depth * np.tan(np.arcsin(sine / index))
            )
        low, high = np.where(reached < radius, sine, low), np.where(reached < radius, high, sine)
    return low / np.sqrt(1.0 - low**2)


@pytest.mark.parametrize("index", [1.0, 1.333])
@pytest.mark.parametrize("distance", [0.03, 0.4, 1.1, 3.0])
def test_newton_finds_the_angle(distance: float, index: float) -> None:
    rng = np.random.default_rng(1)
    radius, depth = rng.uniform(0.0, 1.5, 2000), rng.uniform(0.0, 0.8, 2000)
    same = np.ones_like(radius)
    found = air_tangents(radius, distance * same, 0.012 * same, depth, index * same, GLASS)
    wanted = bisected(radius, distance, 0.012, depth, index)
    assert np.abs(np.arctan(found) - np.arctan(wanted)).max() < 1e-13


def test_ten_metres_of_water_look_seven_and_a_half() -> None:
    assert float(apparent_depth_m(10.0, 4.0 / 3.0)) == pytest.approx(7.5)
    tank = Tank((20.0, 20.0, 20.0), 0.0, 20.0, water_index=4.0 / 3.0)
    eye = np.array([10.0, -1.0, 10.0])
    for aside in (0.0, 1e-9, 1e-4):  # on the axis itself, and as near to it as numbers go
        seems = apparent_points(np.array([[10.0 + aside, 10.0, 10.0]]), eye, tank)[0, 1]
        assert seems == pytest.approx(7.5, abs=1e-8)


def test_the_pane_itself_seems_thinner() -> None:
    tank = Tank((1.5, 0.6, 0.5), 0.012, 0.0, glass_index=GLASS)
    seems = apparent_points(np.array([[0.75, 0.0, 0.25]]), np.array([0.75, -1.0, 0.25]), tank)[0, 1]
    assert seems == pytest.approx(-0.012 + 0.012 / GLASS)


@pytest.mark.parametrize("index", [1.0, 1.333])
def test_both_directions_obey_snell_at_both_faces(index: float) -> None:
    """The ray to an apparent point, bent twice by the vector form, passes through the true point."""
    rng = np.random.default_rng(2)
    tank = Tank((1.5, 0.6, 0.5), 0.012, 0.5 if index > 1.0 else 0.0, water_index=1.333, glass_index=GLASS)
    eye = np.array([0.4, -0.5, 0.35])
    points = rng.uniform(0.0, 1.0, (3000, 3)) * tank.inner_m
    towards = apparent_points(points, eye, tank) - eye
    unit = towards / np.linalg.norm(towards, axis=1, keepdims=True)
    outer = to_plane(np.broadcast_to(eye, unit.shape), unit, 1, -0.012)
    in_glass = snell(unit, BACK, 1.0, GLASS)
    inner = to_plane(outer, in_glass, 1, 0.0)
    behind = snell(in_glass, BACK, GLASS, index)
    assert distance_to_rays(points, inner, behind).max() < 1e-12
    entry, inside = rays_into_tank(eye, towards, tank)
    assert np.abs(entry - inner).max() < 1e-13
    assert np.abs(inside - behind).max() < 1e-13


def test_dry_with_no_glass_to_speak_of_is_a_pinhole() -> None:
    scene = scene_with("position_mm = [500, -900, 400]\nlook_at_mm = [800, 300, 200]\nfocal_mm = 20")
    lens = lens_of(scene)
    thin = Tank((1.5, 0.6, 0.5), 1e-12, 0.0)
    points = np.random.default_rng(3).uniform(0.0, 1.0, (500, 3)) * [1.5, 0.6, 0.5]
    plain = View(lens.position_m, np.array([0.8, 0.3, 0.2]), lens.image_m, (0.036, 0.024))
    assert project_with(lens, thin, points, (6000, 4000)) == pytest.approx(
        plain.project(points, (6000, 4000)), abs=1e-6
    )


def test_flooding_draws_points_outward() -> None:
    """What lies behind water seems nearer, so larger; near the axis by the ratio of the apparent distances."""
    scene = scene_with("position_mm = [750, -1112, 250]\nfocal_mm = 24")
    points = np.random.default_rng(4).uniform(0.0, 1.0, (5000, 3)) * tank_of(scene, True).inner_m
    dry, wet = (
        np.linalg.norm(sim.shot.project(scene, points, flooded) - [960, 640], axis=1) for flooded in (False, True)
    )
    assert (wet > dry).all()
    near_axis = np.array([[0.7501, 0.6, 0.25]])
    dry, wet = (sim.shot.project(scene, near_axis, flooded)[0, 0] - 960.0 for flooded in (False, True))
    index = tank_of(scene, True).water_index
    apparent = 1.1 + 0.012 / GLASS
    assert wet / dry == pytest.approx((apparent + 0.6) / (apparent + 0.6 / index), rel=1e-6)
