"""By which way a point of the tank is seen, if light from it reaches the lens at all.

Glossary
--------
pane : through the front pane, then straight through water or air
surface : from above through the water's surface, over the rim or through the front pane before
top : over the rim, straight through air
side : through a side pane, by an eye that stands beyond it
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.errors import Fault, SceneError
from sim.scene import Scene
from sim.shot.refraction import Tank, apparent_points, beside, rays_into_tank, turned, turned_back, turned_tank
from sim.shot.surface import crossing_rim, from_above, over_the_pane
from sim.units import MM_PER_M

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int8]

PANE, SURFACE, TOP, SIDE = 0, 1, 2, 3
WAYS = ("pane", "surface", "top", "side")
EDGE_M = 1e-9  # the edges of the opening belong to it


@dataclass(frozen=True, slots=True, eq=False)
class Sights:
    """How points are seen from an eye."""

    directions: Floats  # (n, 3) in air, from the eye
    entry_m: Floats  # (n, 3) where the light leaves the tank: on the front pane's inner face or level with the rim
    bend_m: Floats  # (n, 3) the last bend of the ray before the point; the entry where there is no other
    way: Ints  # (n,) PANE, SURFACE, TOP or SIDE
    open: Bools  # (n,) whether light comes by this way; what stands in the tank is not looked at


def sights(points_m: Floats, eye_m: Floats, tank: Tank) -> Sights:
    """The way by which an eye sees points; the front pane first, then surface, open top and side panes.

    Where no way is open, the front pane's is given as if pane and filling went on, and `open` says no.

    Parameters
    ----------
    points_m : (n, 3) tank frame
    eye_m : (3,) in front of the front pane, or above the rim
    """
    if eye_m[1] < -tank.side_m:
        found = _by_pane(points_m, eye_m, tank)
    else:
        found = Sights(points_m - eye_m, points_m, points_m, np.full(len(points_m), TOP, np.int8), _none(points_m))
    inside = ((points_m >= -EDGE_M) & (points_m <= np.array(tank.inner_m) + EDGE_M)).all(axis=1)
    under = (points_m[:, 2] <= tank.level_m) & (tank.level_m > 0.0)
    for through_pane in (False, True):
        lacking = ~found.open & inside & under & (eye_m[2] > tank.level_m)
        if lacking.any() and (eye_m[1] < -tank.side_m or not through_pane):
            found = _with(found, lacking, _by_surface(points_m[lacking], eye_m, tank, through_pane))
    between = ((points_m[:, :2] >= 0.0) & (points_m[:, :2] <= tank.inner_m[:2])).all(axis=1)  # stones may stand out
    lacking = ~found.open & between & ~under
    if lacking.any():
        found = _with(found, lacking, _by_top(points_m[lacking], eye_m, tank))
    for right in (False, True):
        lacking = ~found.open & inside
        if lacking.any() and beside(eye_m, tank, right):
            found = _with(found, lacking, _by_side(points_m[lacking], eye_m, tank, right))
    return found


def require_outside(scene: Scene, eye_m: Floats, tank: Tank) -> None:
    """Refuse an eye that has neither the front pane nor the open top before it.

    Raises
    ------
    SceneError
        When it stands inside the tank, behind it or beside it.
    """
    if eye_m[1] < -tank.side_m or eye_m[2] > tank.inner_m[2]:
        return
    x, y, z = eye_m
    length, depth, height = tank.inner_m
    if 0.0 <= x <= length and -tank.side_m <= y <= depth and 0.0 <= z <= height:
        where = "stands inside the tank"
    elif y > depth:
        where = "stands behind the tank"
    else:
        where = "stands beside the tank"
    remedy = (
        f"The shot goes through the front pane: give a y below {-tank.side_m * MM_PER_M:g} mm; "
        f"or look in from above: a z over {height * MM_PER_M:g} mm."
    )
    raise SceneError(str(scene.file), [Fault("camera.position_mm", f"the camera {where}", remedy)])


def _by_pane(points_m: Floats, eye_m: Floats, tank: Tank) -> Sights:
    towards = apparent_points(points_m, eye_m, tank) - eye_m
    entry, _ = rays_into_tank(eye_m, towards, tank)
    before = points_m[:, 1] <= 0.0
    entry[before] = points_m[before]  # on the pane or in front of it: nothing bends behind
    wet = (points_m[:, 2] <= tank.level_m) & (tank.level_m > 0.0)
    with np.errstate(invalid="ignore"):
        is_open = (entry[:, 0] >= -EDGE_M) & (entry[:, 0] <= tank.inner_m[0] + EDGE_M)
        is_open &= (entry[:, 2] >= -EDGE_M) & (entry[:, 2] <= tank.inner_m[2] + EDGE_M)
        is_open &= before | np.where(wet, entry[:, 2] <= tank.level_m + EDGE_M, entry[:, 2] > tank.level_m - EDGE_M)
    return Sights(towards, entry, entry, np.full(len(points_m), PANE, np.int8), is_open)


def _by_surface(points_m: Floats, eye_m: Floats, tank: Tank, through_pane: bool) -> Sights:
    rays, met = from_above(points_m, eye_m, tank, through_pane)
    is_open = ((met[:, :2] >= -EDGE_M) & (met[:, :2] <= np.array(tank.inner_m[:2]) + EDGE_M)).all(axis=1)
    if through_pane:
        entry, _ = rays_into_tank(eye_m, rays, tank)
        is_open &= (entry[:, 0] >= 0.0) & (entry[:, 0] <= tank.inner_m[0])
        is_open &= (entry[:, 2] > tank.level_m) & (entry[:, 2] <= tank.inner_m[2])
    else:
        entry, over = crossing_rim(eye_m, rays, tank)
        is_open &= over
    return Sights(rays, entry, met, np.full(len(points_m), SURFACE, np.int8), is_open)


def _by_top(points_m: Floats, eye_m: Floats, tank: Tank) -> Sights:
    towards = points_m - eye_m
    entry, over = crossing_rim(eye_m, towards, tank)
    above, level = over_the_pane(eye_m, towards, tank)
    entry = np.where(over[:, None], entry, above)
    return Sights(towards, entry, entry, np.full(len(points_m), TOP, np.int8), over | level)


def _by_side(points_m: Floats, eye_m: Floats, tank: Tank, right: bool) -> Sights:
    """As through the front pane, in a frame whose front is the side pane."""
    eye = turned(eye_m, tank, right)
    seen = _by_pane(turned(points_m, tank, right), eye, turned_tank(tank))
    entry = turned_back(seen.entry_m, tank, right)
    towards = turned_back(seen.directions + eye, tank, right) - eye_m
    return Sights(towards, entry, entry, np.full(len(points_m), SIDE, np.int8), seen.open)


def _with(old: Sights, chosen: Bools, new: Sights) -> Sights:
    """`old`, but by the new way where that one is open."""
    at = np.flatnonzero(chosen)[new.open]
    fields = []
    for name in ("directions", "entry_m", "bend_m", "way", "open"):
        values = getattr(old, name).copy()
        values[at] = getattr(new, name)[new.open]
        fields.append(values)
    return Sights(*fields)


def _none(points_m: Floats) -> Bools:
    return np.zeros(len(points_m), dtype=np.bool_)
