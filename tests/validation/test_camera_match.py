"""A camera from one photo of an empty tank.

Sources: Hartley & Zisserman, Multiple View Geometry, chapter 7; Caprile & Torre 1990, IJCV 4; Zhang 2000, PAMI 22
(from memory). Accuracy wanted: corners clicked to 2 px of 6,000 give the focal length to 0.3 % and the distance to
4 mm, one sigma, at 24 mm. An unnoticed k1 of -0.03 shifts the distance by 29 mm (computed independently).
"""

from __future__ import annotations

import numpy as np
import pytest
from clicking import SIZE, borders, clicked, corners_of, empty_tank
from shots import scene_with

from sim.errors import BedjointError
from sim.scene import Camera, Scene
from sim.shot.clicks import CORNERS, EDGES, Clicks, corner_m
from sim.shot.lens import Lens, lens_of
from sim.shot.match import Match, frame_of_photo, match_camera
from sim.shot.projection import project_with
from sim.shot.refraction import Tank, tank_of

TURNED = "position_mm = [770, -1112, 280]\nlook_at_mm = [750, 300, 250]\nroll_deg = 0.3\nfocal_mm = 24"
SQUARE = "position_mm = [750, -1112, 250]\nfocal_mm = 24"


def parts(camera: str) -> tuple[Scene, Lens, Tank]:
    scene = scene_with(camera)
    return scene, lens_of(scene), tank_of(scene, flooded=False)


def trials(camera: str, count: int, **how: float) -> list[Match]:
    _, lens, tank = parts(camera)
    return [match_camera(tank, clicked(lens, tank, seed=seed, **how), SIZE, Camera()) for seed in range(count)]


def test_clicks_two_pixels_off() -> None:
    found = trials(TURNED, 40, off_px=2.0)
    focal = np.array([match.focal_mm for match in found])
    distance = np.array([match.distance_m for match in found]) * 1000.0
    assert focal.std() / 24.0 < 0.003
    assert abs(focal.mean() / 24.0 - 1.0) < 0.001
    assert distance.std() < 4.0
    assert distance.mean() == pytest.approx(1100.0, abs=1.0)
    # what each match says of its own uncertainty is right, too
    assert np.mean([match.focal_off_mm for match in found]) == pytest.approx(focal.std(), rel=0.35)
    assert np.mean([match.distance_off_m for match in found]) * 1000.0 == pytest.approx(distance.std(), rel=0.35)
    assert np.mean([match.click_px for match in found]) == pytest.approx(2.0, rel=0.15)


@pytest.mark.parametrize(
    "camera",
    [
        TURNED,
        "position_mm = [770, -662, 280]\nfocal_mm = 14",
        "position_mm = [770, -2312, 280]\nfocal_mm = 50",
        "position_mm = [200, -1512, 600]\nlook_at_mm = [750, 300, 200]\nroll_deg = 5\nfocal_mm = 24",
        SQUARE,
    ],
)
def test_exact_clicks_give_the_camera_back(camera: str) -> None:
    scene, lens, tank = parts(camera)
    match = match_camera(tank, clicked(lens, tank), SIZE, Camera(focus_mm=lens.focus_m * 1000.0))
    assert match.focal_mm == pytest.approx(lens.focal_m * 1000.0, rel=1e-6)
    assert match.lens.position_m == pytest.approx(lens.position_m, abs=1e-6)
    assert match.lens.axes == pytest.approx(lens.axes, abs=1e-7)
    # and what is written into the file is the same camera again
    again = lens_of(scene.model_copy(update={"camera": match.camera}))
    points = np.random.default_rng(0).uniform(0.0, 1.0, (200, 3)) * tank.inner_m
    assert project_with(again, tank, points, SIZE) == pytest.approx(project_with(lens, tank, points, SIZE), abs=1e-2)


@pytest.mark.parametrize("camera", [SQUARE, TURNED])
@pytest.mark.parametrize("side", ["front", "back"])
def test_four_corners_square_on_are_refused(camera: str, side: str) -> None:
    _, lens, tank = parts(camera)
    names = tuple(name for name in CORNERS if name.startswith(side))
    for seed in range(3):
        with pytest.raises(BedjointError) as refused:
            match_camera(tank, clicked(lens, tank, names, off_px=2.0, seed=seed), SIZE, Camera())
        assert f"inner corners of the {'back' if side == 'front' else 'front'} pane" in str(refused.value)
        assert "--lens" in str(refused.value)


def test_four_corners_will_do_when_the_lens_is_known() -> None:
    _, lens, tank = parts(SQUARE)
    names = tuple(name for name in CORNERS if name.startswith("front"))
    match = match_camera(tank, clicked(lens, tank, names, off_px=2.0), SIZE, Camera(), focal_mm=24.0)
    assert match.focal_mm == pytest.approx(24.0)
    assert match.distance_m == pytest.approx(1.1, abs=2e-3)
    assert not match.click_known


@pytest.mark.parametrize("names", [CORNERS[:0], CORNERS[:1], CORNERS[:3]])
def test_too_few(names: tuple[str, ...]) -> None:
    _, lens, tank = parts(SQUARE)
    with pytest.raises(BedjointError, match="cannot fix a camera"):
        match_camera(
            tank,
            clicked(lens, tank, names or CORNERS[:1]) if names else Clicks({}, (), np.zeros((0, 2))),
            SIZE,
            Camera(),
        )


def test_five_corners_fix_it_less_well() -> None:
    _, lens, tank = parts(TURNED)
    few, all_of_them = (
        match_camera(tank, clicked(lens, tank, CORNERS[:count], off_px=2.0), SIZE, Camera()) for count in (5, 8)
    )
    assert abs(few.focal_mm - 24.0) < 4.0 * few.focal_off_mm
    assert few.focal_off_mm > all_of_them.focal_off_mm


def test_distortion_is_found_from_points_along_edges() -> None:
    found = trials(f"{TURNED}\ndistortion = -0.03", 10, off_px=2.0, per_edge=3)
    k1 = np.array([match.distortion for match in found])
    assert k1.mean() == pytest.approx(-0.03, abs=0.002)
    assert k1.std() < 0.004
    assert np.mean([match.distortion_off or 0.0 for match in found]) == pytest.approx(k1.std(), rel=0.8)
    assert np.mean([match.distance_m for match in found]) == pytest.approx(1.1, abs=3e-3)


def test_points_near_a_corner_do_not_fix_the_distortion() -> None:
    """They say no more than the corner itself: k1 is left at 0, and the match says so."""
    _, lens, tank = parts(TURNED)
    first, last = (corner_m(f"back_{height}_left", tank) for height in ("bottom", "top"))
    points = first + np.linspace(0.01, 0.03, 6)[:, None] * (last - first)
    clicks = clicked(lens, tank, off_px=1.0)
    along = project_with(lens, tank, points, SIZE)
    match = match_camera(
        tank, Clicks(clicks.corners, (("back_bottom_left", "back_top_left"),) * 6, along), SIZE, Camera()
    )
    assert match.distortion == 0.0
    assert match.distortion_off is None
    assert any("do not fix the distortion" in caution for caution in match.cautions)


@pytest.mark.parametrize(
    ("size_px", "sensor_mm", "crop"),
    [
        ((6000, 4000), (36.0, 24.0), "sensor"),
        ((4000, 6000), (24.0, 36.0), "sensor"),
        ((5333, 4000), (36.0, 24.0), "4:3"),
        ((6000, 3375), (36.0, 24.0), "16:9"),
        ((6000, 2000), (36.0, 12.0), "sensor"),
    ],
)
def test_the_shape_of_the_photo(size_px: tuple[int, int], sensor_mm: tuple[float, float], crop: str) -> None:
    """Upright, cut to a usual frame, or cut to any other from the full width: the match finds the camera again."""
    camera = frame_of_photo(size_px, Camera())
    assert (camera.sensor_mm, camera.crop) == (sensor_mm, crop)
    scene = scene_with(
        f'position_mm = [770, -3112, 280]\nfocal_mm = 24\nsensor_mm = {list(sensor_mm)}\ncrop = "{crop}"'
    )
    lens, tank = lens_of(scene), tank_of(scene, flooded=False)
    match = match_camera(tank, clicked(lens, tank, size_px=size_px), size_px, camera)
    assert match.focal_mm == pytest.approx(24.0, rel=1e-4)
    assert match.lens.position_m == pytest.approx(lens.position_m, abs=1e-3)


def test_distortion_unnoticed_shifts_the_distance() -> None:
    _, lens, tank = parts(f"{TURNED}\ndistortion = -0.03")
    match = match_camera(tank, clicked(lens, tank), SIZE, Camera())
    assert (match.distance_m - 1.1) * 1000.0 == pytest.approx(29.0, abs=2.0)
    assert match.distortion_off is None
    assert any("Distortion is taken as 0" in caution for caution in match.cautions)


def test_glass_left_out_of_the_model_would_show() -> None:
    """The pane is in the model: with 12 mm of glass taken for none the distance is off by millimetres."""
    _, lens, tank = parts(TURNED)
    bare = Tank(tank.inner_m, 1e-9, 0.0)
    match = match_camera(bare, clicked(lens, tank), SIZE, Camera())
    assert abs(match.distance_m - 1.112) > 0.002


def test_corners_with_left_and_right_mixed_up() -> None:
    _, lens, tank = parts(TURNED)
    clicks = clicked(lens, tank)
    swapped = dict(clicks.corners)
    swapped["back_top_left"], swapped["back_top_right"] = swapped["back_top_right"], swapped["back_top_left"]
    with pytest.raises(BedjointError, match="fit no photo of a tank of 1500 x 600 x 500 mm"):
        match_camera(tank, Clicks(swapped, (), np.zeros((0, 2))), SIZE, Camera())


def test_a_click_outside_the_photo() -> None:
    _, lens, tank = parts(TURNED)
    with pytest.raises(BedjointError, match="outside the photo of 3000 x 2000 px"):
        match_camera(tank, clicked(lens, tank), (3000, 2000), Camera())


def test_a_traced_photo_gives_its_own_camera_back() -> None:
    """Faces traced pixel by pixel, with no use of the projection; corners from straight lines along their borders."""
    size, tangent = (3000, 2000), 36.0 / 24.5 / 3000.0
    eye = np.array([0.79, -1.212, 0.27])
    faces = empty_tank(np.array([1.5, 0.6, 0.5]), 0.012, eye, tangent, size)
    _, _, tank = parts(SQUARE)
    match = match_camera(tank, Clicks(corners_of(faces), (), np.zeros((0, 2))), size, Camera())
    assert match.lens.image_m * 1000.0 == pytest.approx(24.5, rel=2e-3)
    assert match.lens.position_m == pytest.approx(eye, abs=3e-3)
    # the wireframe of that camera lies on the borders of the faces
    share = np.linspace(0.02, 0.98, 40)[:, None]
    for edge in EDGES:
        first, last = (corner_m(name, tank) for name in edge)
        drawn = project_with(match.lens, tank, first + share * (last - first), size)
        seen = ((drawn > 2.0) & (drawn < np.array(size) - 2.0)).all(axis=1)
        gaps = np.linalg.norm(drawn[seen][:, None] - borders(faces, edge)[None], axis=2).min(axis=1)
        assert gaps.max() < 1.0
