"""Angle of view, crop factors and the angle that remains in water.

Sources: angles of view at 36 x 24 mm, published photographic tables, agree to 0.1 degrees (16 mm computed
independently); angular width in water behind a flat pane, 2 asin(sin(H / 2) / 1.333), computed independently;
crop factors from the sensors' diagonals.
"""

from __future__ import annotations

import numpy as np
import pytest
from shots import scene_with

from sim.materials.optics import SENSORS
from sim.shot.framing import angle_of_view_rad
from sim.shot.lens import lens_of
from sim.shot.refraction import Tank, rays_into_tank

TABLE = [
    (14, 104.25, 81.20, 114.18, 72.6),
    (16, 96.73, 73.74, 107.03, 68.2),
    (20, 83.97, 61.93, 94.49, 60.2),
    (24, 73.74, 53.13, 84.06, 53.5),
    (50, 39.60, 26.99, 46.79, 29.4),
]


@pytest.mark.parametrize(("focal_mm", "across", "up", "diagonal", "_"), TABLE)
def test_angles_of_view(focal_mm: float, across: float, up: float, diagonal: float, _: float) -> None:
    sides_mm = (36.0, 24.0, np.hypot(36.0, 24.0))
    angles = [np.degrees(angle_of_view_rad(side, focal_mm)) for side in sides_mm]
    assert angles == pytest.approx([across, up, diagonal], abs=0.01)


@pytest.mark.parametrize(("across", "in_water"), [(row[1], row[4]) for row in TABLE])
def test_width_in_water(across: float, in_water: float) -> None:
    half = np.radians(across / 2.0)
    tank = Tank((9.0, 1.0, 9.0), 0.012, 9.0, water_index=1.333)
    _, inside = rays_into_tank(np.array([4.5, -1.0, 1.0]), np.array([[np.sin(half), np.cos(half), 0.0]]), tank)
    assert np.degrees(2.0 * np.arctan2(inside[0, 0], inside[0, 1])) == pytest.approx(in_water, abs=0.06)


def test_crop_factors() -> None:
    factors = {sensor.width_mm: sensor.crop_factor for sensor in SENSORS}
    assert factors == pytest.approx({36.0: 1.0, 23.5: 1.534, 22.3: 1.613, 17.3: 2.0, 13.2: 2.73}, abs=3e-3)


def test_close_focus_lengthens_the_lens() -> None:
    """A thin lens focused at s draws at v = f s / (s - f): 1 / f = 1 / s + 1 / v (Gauss)."""
    lens = lens_of(scene_with("position_mm = [750, -1100, 250]\nfocal_mm = 24\nfocus_mm = 1200"))
    assert 1.0 / lens.image_m + 1.0 / 1.2 == pytest.approx(1.0 / 0.024)
    assert lens.image_m / lens.focal_m == pytest.approx(1.0204, abs=1e-4)
    tangent = (lens.pixels(np.array([[0.1, 1.0, 0.0]]), (6000, 4000))[0, 0] - 3000.0) / 6000.0 * 36.0
    assert tangent == pytest.approx(0.1 * lens.image_m * 1000.0)
