"""The camera of a scene: how it stands and turns, its frame, its distortion, and from where a pane fills it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shots import scene_with

import sim.shot
from sim.errors import SceneError
from sim.shot.framing import frame_m, lens_to_fill, stand_to_fill
from sim.shot.lens import distorted, lens_of, undistorted
from sim.shot.standing import fitting_lens_mm, standing

SIZE = (6000, 4000)


def test_square_on_by_default() -> None:
    lens = lens_of(scene_with("position_mm = [300, -900, 410]"))
    assert lens.axes == pytest.approx(np.array([[1.0, 0, 0], [0, 0, -1.0], [0, 1.0, 0]]))
    assert lens.focus_m == pytest.approx(0.9 + 0.3)  # the middle of the depth
    assert lens.pixels(np.array([[0.0, 1.0, 0.0]]), SIZE)[0] == pytest.approx([3000, 2000])


def test_it_looks_where_it_is_told() -> None:
    lens = lens_of(scene_with("position_mm = [300, -900, 410]\nlook_at_mm = [900, 200, 100]\nroll_deg = 20"))
    towards = np.array([[0.6, 1.1, -0.31]])
    assert lens.pixels(towards, SIZE)[0] == pytest.approx([3000, 2000])
    assert lens.focus_m == pytest.approx(np.linalg.norm(towards))
    assert lens.axes @ lens.axes.T == pytest.approx(np.eye(3))
    assert np.linalg.det(lens.axes) == pytest.approx(1.0)


def test_a_camera_rolled_clockwise_turns_the_picture_the_other_way() -> None:
    """Seen from behind, the camera's top leans to the right: what is straight up then lies to the upper left."""
    lens = lens_of(scene_with("position_mm = [750, -900, 250]\nroll_deg = 30"))
    u, v = lens.pixels(np.array([[0.0, 1.0, 0.1]]), SIZE)[0] - [3000, 2000]
    assert u < 0.0
    assert v < 0.0
    assert np.degrees(np.arctan2(-u, -v)) == pytest.approx(30.0)


@pytest.mark.parametrize(
    ("crop", "sides_mm"),
    [("sensor", (36, 24)), ("3:2", (36, 24)), ("4:3", (32, 24)), ("16:9", (36, 20.25)), ("1:1", (24, 24))],
)
def test_frames(crop: str, sides_mm: tuple[float, float]) -> None:
    assert frame_m((36.0, 24.0), crop) == pytest.approx((sides_mm[0] / 1000.0, sides_mm[1] / 1000.0))


@pytest.mark.parametrize("crop", ["sensor", "4:3", "16:9", "1:1"])
@pytest.mark.parametrize("focal_mm", [12, 24, 35, 85])
@pytest.mark.parametrize("inner_mm", [(1500.0, 600.0, 500.0), (300.0, 300.0, 600.0)])
def test_the_front_pane_fills_the_frame(focal_mm: float, crop: str, inner_mm: tuple[float, float, float]) -> None:
    """Projected through the glass, its corners lie on two opposite sides of the frame, and none is cut off."""
    scene = scene_with(f'focal_mm = {focal_mm}\ncrop = "{crop}"', inner_mm=inner_mm)
    length, _, height = (side / 1000.0 for side in inner_mm)
    corners = np.array([[x, 0.0, z] for x in (0.0, length) for z in (0.0, height)])
    size = lens_of(scene).size_px(6000)
    for flooded in (False, True):
        pixels = sim.shot.project(scene, corners, flooded, size)
        margins = np.concatenate([pixels, np.array(size) - pixels]).min(axis=0)
        assert margins.min() == pytest.approx(0.0, abs=0.6)  # height is rounded to whole pixels
        assert margins.max() >= -0.6
    across, up = lens_of(scene).frame_m
    if length / across > height / up:
        pixels = sim.shot.project(scene, corners, False, size)
        assert pixels[:, 0] == pytest.approx([0, 0, 6000, 6000], abs=1e-6)


@pytest.mark.parametrize("focal_mm", [14.0, 24.0, 50.0, 200.0])
def test_where_to_stand_and_which_lens_agree(focal_mm: float) -> None:
    pane, frame, beyond = (1.5, 0.5), (0.036, 0.024), 0.312
    distance = stand_to_fill(pane, 0.012, focal_mm / 1000.0, frame, beyond)
    assert distance is not None
    assert lens_to_fill(pane, 0.012, distance, frame, distance + beyond) == pytest.approx(focal_mm / 1000.0, rel=1e-10)


def test_the_lens_that_fits_where_the_camera_stands() -> None:
    row = standing(scene_with(), 28.0)
    assert row.position_m is not None
    x, y, z = (value * 1000.0 for value in row.position_m)
    assert fitting_lens_mm(scene_with(f"position_mm = [{x!r}, {y!r}, {z!r}]")) == pytest.approx(28.0)
    assert fitting_lens_mm(scene_with()) is None


def test_a_lens_too_wide_for_any_place() -> None:
    assert stand_to_fill((0.05, 0.05), 0.06, 0.001, (0.2, 0.2), 0.3) is None
    with pytest.raises(SceneError, match="does not fill its frame from anywhere"):
        lens_of(scene_with("focal_mm = 0.1\nsensor_mm = [200, 200]", 90.0, (100.0, 100.0, 100.0)))


def test_too_near_to_focus() -> None:
    with pytest.raises(SceneError, match="cannot focus at 40 mm"):
        lens_of(scene_with("position_mm = [750, -500, 250]\nfocal_mm = 50\nfocus_mm = 40"))


@pytest.mark.parametrize("focal_mm", [0.0, -24.0, float("nan"), float("inf")])
def test_no_focal_length(focal_mm: float) -> None:
    with pytest.raises(SceneError, match="Give more than 0 mm"):
        lens_of(scene_with(), focal_mm=focal_mm)


@given(st.floats(-0.2, 0.3), st.lists(st.tuples(st.floats(-0.9, 0.9), st.floats(-0.6, 0.6)), min_size=1, max_size=10))
def test_distortion_can_be_undone(k1: float, tangents: list[tuple[float, float]]) -> None:
    straight = np.array(tangents)
    assert undistorted(distorted(straight, k1), k1) == pytest.approx(straight, abs=1e-9)


def test_where_a_lens_would_fold_back_there_is_nothing() -> None:
    fold = np.sqrt(1.0 / (3.0 * 0.5))
    assert np.isnan(distorted(np.array([[fold * 1.01, 0.0]]), -0.5)).all()
    assert np.isnan(undistorted(np.array([[fold * 0.7, 0.0]]), -0.5)).all()
    assert np.isfinite(undistorted(np.array([[fold * 0.6, 0.0], [0.0, 0.0]]), -0.5)).all()


def test_barrel_distortion_draws_inward() -> None:
    plain, barrel = (lens_of(scene_with(f"position_mm = [750, -1000, 250]\ndistortion = {k1}")) for k1 in (0.0, -0.05))
    towards = np.array([[0.5, 1.0, 0.2]])
    assert plain.pixels(towards, SIZE)[0, 0] > barrel.pixels(towards, SIZE)[0, 0] > 3000
