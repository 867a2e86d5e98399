"""From a point in the tank to its pixel, and from a pixel into the tank."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sim.errors import Fault, SceneError
from sim.scene import Scene
from sim.shot.lens import Lens, lens_of
from sim.shot.refraction import Tank, apparent_points, rays_into_tank, tank_of
from sim.units import MM_PER_M

Floats = NDArray[np.float64]


def project(scene: Scene, points_m: ArrayLike, flooded: bool, size_px: tuple[int, int] | None = None) -> Floats:
    """Pixels of points in the tank, as the scene's camera sees them through the front pane.

    Points up to the water level are seen through water, those above it through air. Whether something
    hides a point is not looked at.

    Parameters
    ----------
    points_m : (n, 3) or (3,) tank frame, metres
    flooded : bool
        Filled to the scene's water level, or dry.
    size_px : (width, height), default 1920 wide and as high as the frame asks
        Its width is the width of the frame; pixels are square.

    Returns
    -------
    pixels : (n, 2) right and down from the picture's upper left corner; NaN behind the camera

    Raises
    ------
    SceneError
        When the camera does not stand in front of the front pane.
    """
    lens, tank = lens_of(scene), tank_of(scene, flooded)
    require_in_front(scene, lens, tank)
    return project_with(lens, tank, np.atleast_2d(np.asarray(points_m, dtype=np.float64)), size_px)


def project_with(lens: Lens, tank: Tank, points_m: Floats, size_px: tuple[int, int] | None = None) -> Floats:
    """`project` for a camera and a tank at hand; points (n, 3)."""
    towards = apparent_points(points_m, lens.position_m, tank) - lens.position_m
    return lens.pixels(towards, size_px or lens.size_px())


def ray(
    scene: Scene, pixels: ArrayLike, flooded: bool, size_px: tuple[int, int] | None = None
) -> tuple[Floats, Floats]:
    """The rays of pixels behind the front pane: the inverse of `project`.

    Parameters
    ----------
    pixels : (n, 2) or (2,)

    Returns
    -------
    origins_m : (n, 3) on the inner face of the front pane
    directions : (n, 3) unit vectors, away from the camera
        Both NaN where a ray does not reach the pane.

    Raises
    ------
    SceneError
        When the camera does not stand in front of the front pane.
    """
    lens, tank = lens_of(scene), tank_of(scene, flooded)
    require_in_front(scene, lens, tank)
    return ray_with(lens, tank, np.atleast_2d(np.asarray(pixels, dtype=np.float64)), size_px)


def ray_with(lens: Lens, tank: Tank, pixels: Floats, size_px: tuple[int, int] | None = None) -> tuple[Floats, Floats]:
    """`ray` for a camera and a tank at hand; pixels (n, 2)."""
    return rays_into_tank(lens.position_m, lens.directions(pixels, size_px or lens.size_px()), tank)


def require_in_front(scene: Scene, lens: Lens, tank: Tank) -> None:
    """Refuse a camera from which no light comes through the front pane.

    Raises
    ------
    SceneError
        When it stands in the tank, behind it, or level with the pane.
    """
    x, y, z = lens.position_m
    length, depth, height = tank.inner_m
    if y < -tank.side_m:
        return
    if y <= depth and 0.0 <= x <= length and 0.0 <= z <= height:
        where = "stands inside the tank"
    elif y > depth:
        where = "stands behind the tank"
    else:
        where = "is not in front of the front pane"
    raise SceneError(
        str(scene.file),
        [
            Fault(
                "camera.position_mm",
                f"the camera {where}",
                f"The shot goes through the front pane: give a y below {-tank.side_m * MM_PER_M:g} mm.",
            )
        ],
    )
