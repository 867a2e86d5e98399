"""From a point in the tank to its pixel, and from a pixel into the tank."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sim.scene import Scene
from sim.shot.lens import Lens, lens_of
from sim.shot.refraction import Tank, beside, rays_into_tank, tank_of, turned, turned_back, turned_tank
from sim.shot.sighting import require_outside, sights
from sim.shot.surface import crossing_rim, over_the_pane

Floats = NDArray[np.float64]


def project(scene: Scene, points_m: ArrayLike, flooded: bool, size_px: tuple[int, int] | None = None) -> Floats:
    """Pixels of points in the tank, as the scene's camera sees them.

    Points up to the water level are seen through the front pane and water, those above it through the pane and air.
    From above the water, what does not show through the pane is seen through the surface, or over the rim; from
    beyond a side pane, through that. Where no way is open, the pixel is that of a front pane and a filling without
    end. Whether something hides a point is not looked at: `sim.shot.where.where` does.

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
        When the camera stands neither in front of the front pane nor above the rim.
    """
    lens, tank = _ready(scene, flooded)
    return project_with(lens, tank, np.atleast_2d(np.asarray(points_m, dtype=np.float64)), size_px)


def project_with(lens: Lens, tank: Tank, points_m: Floats, size_px: tuple[int, int] | None = None) -> Floats:
    """`project` for a camera and a tank at hand; points (n, 3)."""
    return lens.pixels(sights(points_m, lens.position_m, tank).directions, size_px or lens.size_px())


def ray(
    scene: Scene, pixels: ArrayLike, flooded: bool, size_px: tuple[int, int] | None = None
) -> tuple[Floats, Floats]:
    """The rays of pixels inside the tank: the inverse of `project`.

    A ray that starts in air, above the water, may meet the surface: `sim.shot.surface.enter_water` takes it on.

    Parameters
    ----------
    pixels : (n, 2) or (2,)

    Returns
    -------
    origins_m : (n, 3) on the inner face of the front pane, or of a side pane that is met first; level with the rim
        for rays that come in over it
    directions : (n, 3) unit vectors, away from the camera
        Both NaN where a ray goes neither to the pane nor in by the top.

    Raises
    ------
    SceneError
        When the camera stands neither in front of the front pane nor above the rim.
    """
    lens, tank = _ready(scene, flooded)
    return ray_with(lens, tank, np.atleast_2d(np.asarray(pixels, dtype=np.float64)), size_px)


def ray_with(lens: Lens, tank: Tank, pixels: Floats, size_px: tuple[int, int] | None = None) -> tuple[Floats, Floats]:
    """`ray` for a camera and a tank at hand; pixels (n, 2)."""
    towards = lens.directions(pixels, size_px or lens.size_px())
    eye = lens.position_m
    if eye[1] < -tank.side_m:
        origins, inside = rays_into_tank(eye, towards, tank)
    else:
        origins, inside = np.full_like(towards, np.nan), np.full_like(towards, np.nan)
    for right in (False, True):
        if beside(eye, tank, right):
            points, ways = _through_side(lens, tank, towards, right)
            met = ~_in_opening(origins[:, [0, 2]], tank.inner_m[0], tank) & _in_opening(
                points[:, [1, 2]], tank.inner_m[1], tank
            )
            origins, inside = np.where(met[:, None], points, origins), np.where(met[:, None], ways, inside)
    for points, over in (over_the_pane(eye, towards, tank), crossing_rim(eye, towards, tank)):
        origins, inside = np.where(over[:, None], points, origins), np.where(over[:, None], towards, inside)
    return origins, inside


def _through_side(lens: Lens, tank: Tank, towards: Floats, right: bool) -> tuple[Floats, Floats]:
    eye = lens.position_m
    target = turned(eye + towards, tank, right)
    points, ways = rays_into_tank(turned(eye, tank, right), target - turned(eye, tank, right), turned_tank(tank))
    back = turned_back(points, tank, right)
    return back, turned_back(points + ways, tank, right) - back


def _in_opening(places_m: Floats, width_m: float, tank: Tank) -> NDArray[np.bool_]:
    with np.errstate(invalid="ignore"):
        return np.asarray(((places_m >= 0.0) & (places_m <= [width_m, tank.inner_m[2]])).all(axis=1))


def _ready(scene: Scene, flooded: bool) -> tuple[Lens, Tank]:
    lens, tank = lens_of(scene), tank_of(scene, flooded)
    require_outside(scene, lens.position_m, tank)
    return lens, tank
