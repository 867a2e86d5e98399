"""The ray-cast picture: right side up, not mirrored, and what it shows is where it is."""

from __future__ import annotations

import numpy as np
import pytest

from sim.shot.camera import View, overview
from sim.shot.drawing import arrow_shape, box_shape, tank_shapes
from sim.shot.raycast import Shape, render, to_linear, to_srgb

RED, BLUE = (200, 40, 40), (40, 40, 200)
SENSOR_M = (0.036, 0.024)
FRONT = View(np.array([0.0, -2.0, 0.0]), np.zeros(3), 0.035, SENSOR_M)


def cube(x: float, y: float, z: float, rgb: tuple[int, int, int], half: float = 0.1) -> Shape:
    middle = np.array([x, y, z])
    return box_shape(middle - half, middle + half, rgb)


def test_left_is_left_and_up_is_up() -> None:
    picture = render([cube(-0.3, 0, 0, RED), cube(0, 0, 0.3, BLUE)], FRONT, (300, 200))
    rows, columns = np.nonzero(picture.shape == 0)
    assert columns.mean() < 150
    rows, columns = np.nonzero(picture.shape == 1)
    assert rows.mean() < 100
    assert abs(columns.mean() - 150) < 3


def test_the_nearer_hides_the_farther() -> None:
    picture = render([cube(0, 1.0, 0, RED), cube(0, 0, 0, BLUE)], FRONT, (300, 200))
    assert picture.shape[100, 150] == 1


def test_pixels_are_where_the_projection_says() -> None:
    shape = cube(0.2, 0.1, 0.15, RED, half=0.02)
    picture = render([shape], FRONT, (600, 400))
    rows, columns = np.nonzero(picture.shape == 0)
    pixels = FRONT.project(shape.vertices_m, (600, 400))
    assert columns.min() == pytest.approx(pixels[:, 0].min(), abs=2)
    assert columns.max() == pytest.approx(pixels[:, 0].max(), abs=2)
    assert rows.min() == pytest.approx(pixels[:, 1].min(), abs=2)
    assert rows.max() == pytest.approx(pixels[:, 1].max(), abs=2)


def test_focal_length_sets_the_width_of_view() -> None:
    # 36 mm wide at 35 mm: tan of half the angle is 18 / 35, so at 2 m the edge lies 1.0286 m off the axis
    edge = FRONT.project(np.array([[18 / 35 * 2.0, 0.0, 0.0]]), (600, 400))
    assert edge[0] == pytest.approx([600.0, 200.0])


def test_behind_the_camera_is_nowhere() -> None:
    assert np.isnan(FRONT.project(np.array([[0.0, -3.0, 0.0]]), (600, 400))).all()


def test_colours_survive() -> None:
    codes = np.arange(256, dtype=np.uint8)
    assert np.array_equal(to_srgb(to_linear(codes)), codes)


def test_an_empty_scene_is_a_backdrop() -> None:
    picture = render([], FRONT, (60, 40))
    assert (picture.shape == -1).all()
    assert picture.rgb.min() > 150


def test_the_overview_holds_the_tank() -> None:
    inner = np.array([0.9, 0.45, 0.45])
    corners = np.array([[x, y, z] for x in (0, 0.9) for y in (0, 0.45) for z in (0, 0.45)])
    pixels = overview(np.zeros(3), inner).project(corners, (1200, 800))
    assert (pixels > 0).all()
    assert (pixels < [1200, 800]).all()


def test_same_scene_same_bytes() -> None:
    shapes = [
        *tank_shapes(np.array([0.5, 0.3, 0.3]), 0.008, 0.25),
        arrow_shape(np.zeros(3), np.array([0.1, 0, 0]), RED),
    ]
    view = overview(np.zeros(3), np.array([0.5, 0.3, 0.3]))
    one, other = (render(shapes, view, (120, 80)) for _ in range(2))
    assert np.array_equal(one.rgb, other.rgb)
