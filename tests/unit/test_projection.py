"""From points to pixels and back: through the pane, through the water's surface, over the rim; and who stands wrong."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from shots import distance_to_rays, scene_with, snell, to_plane

import sim.shot
from sim.errors import SceneError
from sim.scene import Scene
from sim.shot.lens import lens_of
from sim.shot.refraction import tank_of
from sim.shot.sighting import PANE, SIDE, SURFACE, TOP, sights
from sim.shot.surface import enter_water

Floats = NDArray[np.float64]

INNER = np.array([1.5, 0.6, 0.5])
UP = np.array([0.0, 0.0, 1.0])


def points_in_the_tank(seed: int = 0, count: int = 3000) -> Floats:
    return np.random.default_rng(seed).uniform(0.0, 1.0, (count, 3)) * INNER


def miss(scene: Scene, points: Floats, flooded: bool) -> Floats:
    """How far the ray of each point's own pixel passes it by, and NaN where no way is open."""
    lens, tank = lens_of(scene), tank_of(scene, flooded)
    found = sights(points, lens.position_m, tank)
    origins, directions = sim.shot.ray(scene, sim.shot.project(scene, points, flooded), flooded)
    wet = found.way == SURFACE
    below, bent, enters = enter_water(origins[wet], directions[wet], tank)
    assert enters[found.open[wet]].all()
    origins[wet], directions[wet] = below, bent
    return np.where(found.open, distance_to_rays(points, origins, directions), np.nan)


CAMERAS = {
    "square-on": "",
    "wide, near": "position_mm = [750, -40, 250]\nfocal_mm = 14",
    "turned, rolled, distorted": (
        "position_mm = [300, -800, 400]\nlook_at_mm = [900, 200, 200]\nroll_deg = 12\ndistortion = -0.04\nfocal_mm = 20"
    ),
    "above the water": "position_mm = [750, -1000, 460]\nlook_at_mm = [750, 200, 200]",
    "above the rim": "position_mm = [750, -700, 1000]\nlook_at_mm = [750, 200, 200]\nfocal_mm = 24",
    "over the tank": "position_mm = [700, 250, 1300]\nlook_at_mm = [750, 300, 0]\nfocal_mm = 20",
    "straight down": "position_mm = [750, 300, 1300]\nlook_at_mm = [750, 300, 0]\nfocal_mm = 20",
    "from behind, over the rim": "position_mm = [750, 900, 1300]\nlook_at_mm = [750, 300, 0]\nfocal_mm = 20",
}


@pytest.mark.parametrize("level_mm", [0.0, 250.0, 430.0, 500.0])
@pytest.mark.parametrize("camera", CAMERAS.values(), ids=CAMERAS.keys())
def test_the_pixel_of_a_point_looks_at_the_point(camera: str, level_mm: float) -> None:
    scene = scene_with(camera, level_mm)
    for flooded in (False, True):
        passed = miss(scene, points_in_the_tank(), flooded)
        assert np.nanmax(passed) < 1e-9
        assert np.isfinite(passed).mean() > 0.6


def test_one_point_and_one_pixel_will_do() -> None:
    scene = scene_with()
    pixel = sim.shot.project(scene, [0.2, 0.3, 0.1], True)
    assert pixel.shape == (1, 2)
    origin, direction = sim.shot.ray(scene, pixel[0], True)
    assert origin.shape == direction.shape == (1, 3)
    assert origin[0, 1] == 0.0
    assert np.linalg.norm(direction) == pytest.approx(1.0)


def test_left_is_left_and_up_is_up() -> None:
    scene = scene_with()
    left, right, low, high = sim.shot.project(
        scene, [[0.1, 0.3, 0.25], [1.4, 0.3, 0.25], [0.75, 0.3, 0.05], [0.75, 0.3, 0.45]], True
    )
    assert left[0] < 960 < right[0]
    assert high[1] < 640 < low[1]


def test_mirrored_scenes_make_mirrored_pictures() -> None:
    points = points_in_the_tank(5, 500)
    one, other = (
        scene_with(f"position_mm = [{x}, -900, 300]\nlook_at_mm = [{target}, 300, 200]\nfocal_mm = 20", 400)
        for x, target in ((500, 900), (1000, 600))
    )
    mirrored = np.array([1.5, 0.0, 0.0]) + points * [-1.0, 1.0, 1.0]
    assert sim.shot.project(one, points, True) == pytest.approx(
        np.array([1920.0, 0.0]) + sim.shot.project(other, mirrored, True) * [-1.0, 1.0], abs=1e-8
    )


def test_above_a_partial_level_it_looks_dry() -> None:
    scene = scene_with("position_mm = [750, -1000, 450]", 300)
    points = points_in_the_tank(1)
    dry, wet = (sim.shot.project(scene, points, flooded) for flooded in (False, True))
    above = points[:, 2] > 0.3
    assert dry[above] == pytest.approx(wet[above], abs=1e-9)
    assert np.abs(dry - wet)[~above & (points[:, 1] > 0.1)].max(axis=1).min() > 0.0


def test_from_below_the_level_nothing_shows_above_it_behind_the_water() -> None:
    """The light would have to leave the water upward and enter the eye: it is reflected totally at the surface."""
    scene = scene_with("position_mm = [750, -1000, 250]", 300)
    found = sights(np.array([[0.75, 0.5, 0.31], [0.75, 0.5, 0.48]]), lens_of(scene).position_m, tank_of(scene, True))
    assert found.open.tolist() == [False, True]  # the first one's ray enters below the water line


def test_the_surface_obeys_snell() -> None:
    """Looking down from over the rim: bent once, by the vector form, the ray passes through the point."""
    scene = scene_with(CAMERAS["over the tank"], 430.0)
    points = points_in_the_tank(2) * [1.0, 1.0, 0.8]
    lens, tank = lens_of(scene), tank_of(scene, True)
    found = sights(points, lens.position_m, tank)
    assert (found.way[found.open] == SURFACE).all()
    rays = lens.directions(sim.shot.project(scene, points, True), lens.size_px())
    met = to_plane(np.broadcast_to(lens.position_m, rays.shape), rays, 2, 0.43)
    assert distance_to_rays(points, met, snell(rays, -UP, 1.0, tank.water_index)).max() < 1e-12


def test_straight_down_the_water_looks_shallower_by_its_index() -> None:
    scene = scene_with(CAMERAS["straight down"], 430.0)
    index = tank_of(scene, True).water_index
    lens = lens_of(scene)
    pixel = sim.shot.project(scene, [[0.75001, 0.3, 0.0]], True)[0, 0] - 960.0
    assert pixel == pytest.approx(1e-5 / (0.87 + 0.43 / index) * lens.focal_px((1920, 1280)), rel=1e-6)


def test_ways_in() -> None:
    scene = scene_with(CAMERAS["above the rim"], 300.0)
    lens, tank = lens_of(scene), tank_of(scene, True)
    points = np.array([[0.75, 0.02, 0.05], [0.75, 0.5, 0.2], [0.75, 0.01, 0.32], [0.75, 0.55, 0.48]])
    found = sights(points, lens.position_m, tank)
    assert found.way.tolist() == [PANE, SURFACE, PANE, TOP]
    assert found.open.all()
    assert found.bend_m[1, 2] == pytest.approx(0.3)  # on the surface


@pytest.mark.parametrize(
    ("position_mm", "said"),
    [
        ((750, 300, 200), "inside the tank"),
        ((750, -6, 200), "inside the tank"),  # in the glass
        ((750, 1500, 200), "behind the tank"),
        ((-600, 300, 200), "beside the tank"),
        ((750, 300, 460), "inside the tank"),
    ],
)
def test_places_from_which_there_is_no_front_shot(position_mm: tuple[float, ...], said: str) -> None:
    scene = scene_with(f"position_mm = {list(position_mm)}\nlook_at_mm = [700, 100, 100]", 430.0)
    for question in (sim.shot.project, sim.shot.ray):
        with pytest.raises(SceneError, match=said) as refused:
            question(scene, np.zeros((1, 3 if question is sim.shot.project else 2)), True)
        assert "give a y below -12 mm" in str(refused.value)


def test_behind_the_camera_is_nowhere() -> None:
    scene = scene_with("position_mm = [750, -1000, 250]\nlook_at_mm = [750, -2000, 250]")
    assert np.isnan(sim.shot.project(scene, points_in_the_tank(), True)).all()
    origins, directions = sim.shot.ray(scene, [[960.0, 640.0]], True)
    assert np.isnan(origins).all()
    assert np.isnan(directions).all()


def test_in_front_of_the_pane_nothing_bends() -> None:
    scene = scene_with("position_mm = [750, -1000, 250]")
    points = np.array([[0.9, -0.5, 0.3], [0.9, -0.012, 0.3]])
    lens = lens_of(scene)
    plain = lens.pixels(points - lens.position_m, (1920, 1280))
    assert sim.shot.project(scene, points, True) == pytest.approx(plain, abs=1e-9)


def test_the_size_of_the_picture_scales_the_pixels() -> None:
    scene = scene_with(CAMERAS["turned, rolled, distorted"])
    points = points_in_the_tank(3, 50)
    assert sim.shot.project(scene, points, True, (3840, 2560)) == pytest.approx(
        2.0 * sim.shot.project(scene, points, True, (1920, 1280))
    )


def test_stones_that_stand_out_of_the_tank_are_seen_over_the_pane() -> None:
    """From before the pane and below the rim: nothing bends on the way, as the light passes above the glass."""
    scene = scene_with("position_mm = [750, -1000, 450]", 400)
    points = np.array([[0.4, 0.3, 0.58], [0.9, 0.5, 0.7]])
    lens, tank = lens_of(scene), tank_of(scene, True)
    found = sights(points, lens.position_m, tank)
    assert found.way.tolist() == [TOP, TOP]
    assert found.open.all()
    assert np.nanmax(miss(scene, points, True)) < 1e-9
    assert sim.shot.project(scene, points, True) == pytest.approx(lens.pixels(points - lens.position_m, (1920, 1280)))


@pytest.mark.parametrize("x_mm", [-900, 2400])
def test_from_beyond_a_side_pane_the_light_comes_through_that(x_mm: int) -> None:
    scene = scene_with(f"position_mm = [{x_mm}, -300, 300]\nlook_at_mm = [750, 300, 250]\nfocal_mm = 20", 430)
    points = points_in_the_tank(6)
    for flooded in (False, True):
        lens, tank = lens_of(scene), tank_of(scene, flooded)
        found = sights(points, lens.position_m, tank)
        by_side = found.open & (found.way == SIDE)
        assert by_side.mean() > 0.15
        near, far = (found.entry_m[by_side, 0], 0.0 if x_mm < 0 else 1.5)
        assert near == pytest.approx(np.full(by_side.sum(), far))
        assert np.nanmax(miss(scene, points[by_side], flooded)) < 1e-9


def test_a_side_pane_bends_as_the_front_pane_does() -> None:
    """The tank turned by a quarter: the left pane shows to an eye beside it what the front pane shows to one before."""
    beside = scene_with("position_mm = [-900, 300, 250]\nlook_at_mm = [0, 300, 250]\nfocus_mm = 1000", 500)
    lens = lens_of(beside)
    assert not lens.position_m[1] < 0.0
    with pytest.raises(SceneError, match="beside the tank"):
        sim.shot.project(beside, [[0.5, 0.3, 0.2]], True)
    askew = scene_with("position_mm = [-900, -100, 250]\nlook_at_mm = [0, 300, 250]\nfocus_mm = 1000", 500)
    front = scene_with(
        "position_mm = [700, -900, 250]\nlook_at_mm = [300, 0, 250]\nfocus_mm = 1000", 500, (600.0, 1500.0, 500.0)
    )
    point = np.array([[0.2, 0.45, 0.2]])
    turned = np.array([[0.6 - 0.45, 0.2, 0.2]])
    assert sights(point, lens_of(askew).position_m, tank_of(askew, True)).way[0] == SIDE
    assert sim.shot.project(askew, point, True) == pytest.approx(sim.shot.project(front, turned, True), abs=1e-8)
