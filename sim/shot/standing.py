"""Where to stand with a lens, or which lens to take from a place, so that the front pane fills the frame."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sim.errors import SceneError
from sim.scene import Scene
from sim.shot.framing import depth_of_field_m, frame_m, lens_to_fill
from sim.shot.lens import Lens, lens_of
from sim.shot.refraction import Tank, tank_of
from sim.units import MM_PER_M


@dataclass(frozen=True, slots=True)
class Standing:
    """Where the camera stands for one lens; all None when the lens is too wide for any place."""

    focal_mm: float
    distance_m: float | None  # from the lens to the front pane's outer face
    position_m: tuple[float, float, float] | None
    angles_deg: tuple[float, float] | None  # of view: horizontal, vertical
    sharp_m: tuple[float, float] | None  # depths behind the front pane's inner face; the far one may be infinite


def standing(scene: Scene, focal_mm: float) -> Standing:
    """Where the camera stands square-on so that the front pane fills the frame of a lens."""
    try:
        lens = lens_of(scene, focal_mm, fill=True)
    except SceneError:
        return Standing(focal_mm, None, None, None, None)
    x, y, z = (float(value) for value in lens.position_m)
    across, up, _ = lens.angles_of_view_rad()
    tank = tank_of(scene, flooded=True)
    return Standing(
        focal_mm=focal_mm,
        distance_m=-y - tank.side_m,
        position_m=(x, y, z),
        angles_deg=(math.degrees(across), math.degrees(up)),
        sharp_m=sharp_depths_m(lens, tank),
    )


def fitting_lens_mm(scene: Scene, distance_m: float | None = None) -> float | None:
    """Focal length with which the front pane fills the frame from some distance, square-on.

    Parameters
    ----------
    distance_m : from the lens to the front pane's outer face, above 0; default that of the scene's camera

    Returns
    -------
    focal_mm : float, or None when the scene gives no position, or one that is not in front of the pane
    """
    tank = tank_of(scene, flooded=False)
    camera = scene.camera
    if distance_m is None and camera.position_mm is not None:
        distance_m = -camera.position_mm[1] / MM_PER_M - tank.side_m
    if distance_m is None or distance_m <= 0.0:
        return None
    focus = distance_m + tank.side_m + tank.inner_m[1] / 2.0
    if camera.focus_mm is not None:
        focus = camera.focus_mm / MM_PER_M
    pane = (tank.inner_m[0], tank.inner_m[2])
    frame = frame_m(camera.sensor_mm, camera.crop)
    return lens_to_fill(pane, tank.side_m, distance_m, frame, focus, tank.glass_index) * MM_PER_M


def sharp_depths_m(lens: Lens, tank: Tank) -> tuple[float, float]:
    """From where to where behind the front pane's inner face it looks sharp, straight ahead.

    A depth z seems to lie at D + d / ng + z / n, and that is what the lens must hold sharp. The near limit is 0
    at least, the far one may be infinite; depths beyond the back pane are given as if the filling went on.
    """
    near, far = depth_of_field_m(lens.focal_m, lens.aperture, lens.circle_m, lens.focus_m)
    before = float(-lens.position_m[1] - tank.side_m) + tank.side_m / tank.glass_index
    index = float(tank.index_at(np.array([min(tank.level_m, tank.inner_m[2]) / 2.0]))[0])
    return max(0.0, (near - before) * index), max(0.0, (far - before) * index)
