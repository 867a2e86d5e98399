"""Light through the water's surface: what an eye above the water sees by looking down into it.

An eye in front of the tank and above the water looks over the rim, or through the front pane and
then down through the surface; an eye over the tank looks through the open top.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sim.shot.refraction import Tank, air_tangents

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

MOST_STEPS = 80
SETTLED_M = 1e-15
ROUNDING_M = 1e-12


def from_above(points_m: Floats, eye_m: Floats, tank: Tank, through_pane: bool) -> tuple[Floats, Floats]:
    """Rays from an eye above the water to points under it, bent at the surface.

    The front pane, a slab of air-glass-air, moves a ray without turning it: seen from behind, the eye stands
    nearer by d (1 - cos / cos_glass). That shift depends on the ray, so ray and shift are found in turns.

    Parameters
    ----------
    points_m : (n, 3) below the water level
    eye_m : (3,) above the water level
    through_pane : bool
        Through the front pane before the surface, else straight through air.

    Returns
    -------
    directions : (n, 3) unit vectors in air, from the eye
    surface_m : (n, 3) where the ray meets the surface
    """
    sideways = points_m[:, :2] - eye_m[:2]
    height = np.full(len(points_m), eye_m[2] - tank.level_m)
    depth = tank.level_m - points_m[:, 2]
    none, index = np.zeros(len(points_m)), np.full(len(points_m), tank.water_index)
    shift = np.zeros(len(points_m))
    for _ in range(MOST_STEPS):
        offset = sideways - np.stack([none, shift], axis=1)
        radius = np.hypot(offset[:, 0], offset[:, 1])
        tangents = air_tangents(radius, height, none, depth, index, 1.0)
        share = np.where(radius > 0.0, tangents / np.where(radius > 0.0, radius, 1.0), 1.0 / (height + depth / index))
        rays = np.concatenate([offset * share[:, None], -np.ones((len(points_m), 1))], axis=1)
        rays /= np.linalg.norm(rays, axis=1, keepdims=True)
        before, shift = shift, _slab_shift(rays[:, 1], tank) if through_pane else shift
        if np.all(np.abs(shift - before) <= SETTLED_M):
            break
    behind = eye_m + np.stack([none, shift, none], axis=1)
    return rays, behind + rays * (height / -rays[:, 2])[:, None]


def enter_water(origins_m: Floats, directions: Floats, tank: Tank) -> tuple[Floats, Floats, Bools]:
    """Follow rays in the air of a tank down to the water and into it.

    Parameters
    ----------
    origins_m, directions : (n, 3) in air; unit vectors

    Returns
    -------
    origins_m, directions : (n, 3) at and below the surface; as they came for rays that do not get there
    enters : (n,) rays that meet the surface between the panes
    """
    above = origins_m[:, 2] >= tank.level_m - ROUNDING_M  # a tank filled to the rim is entered at its surface
    down = (directions[:, 2] < 0.0) & above & (tank.level_m > 0.0)
    run = np.where(down, (tank.level_m - origins_m[:, 2]) / np.where(down, directions[:, 2], 1.0), 0.0)
    met = origins_m + directions * run[:, None]
    enters = down & _within(met[:, :2], tank)
    bent = directions / np.array([tank.water_index, tank.water_index, 1.0])
    bent[:, 2] = -np.sqrt(np.maximum(0.0, 1.0 - (bent[:, :2] ** 2).sum(axis=1)))
    return np.where(enters[:, None], met, origins_m), np.where(enters[:, None], bent, directions), enters


def crossing_rim(origin_m: Floats, directions: Floats, tank: Tank) -> tuple[Floats, Bools]:
    """Where rays (n, 3) from an eye above the rim (or level with it) cross the height of the rim.

    Returns
    -------
    points_m : (n, 3)
    inside : (n,) whether they come in by the open top
    """
    down = (directions[:, 2] < 0.0) & (origin_m[2] >= tank.inner_m[2])
    run = np.where(down, (tank.inner_m[2] - origin_m[2]) / np.where(down, directions[:, 2], 1.0), np.nan)
    points = origin_m + directions * run[:, None]
    return points, down & _within(points[:, :2], tank)


def over_the_pane(origin_m: Floats, directions: Floats, tank: Tank) -> tuple[Floats, Bools]:
    """Rays (n, 3) from an eye in front of the front pane that pass above its upper edge, on their way in or beyond.

    Returns
    -------
    points_m : (n, 3) where they cross the plane of its inner face
    over : (n,)
    """
    forward = (directions[:, 1] > 0.0) & (origin_m[1] < -tank.side_m)
    slope = np.where(forward, 1.0 / np.where(forward, directions[:, 1], 1.0), np.nan)[:, None]
    outer, inner = (origin_m + directions * ((y - origin_m[1]) * slope) for y in (-tank.side_m, 0.0))
    with np.errstate(invalid="ignore"):
        over = forward & (outer[:, 2] > tank.inner_m[2]) & (inner[:, 2] > tank.inner_m[2])
    return inner, over


def _within(plan_m: Floats, tank: Tank) -> Bools:
    with np.errstate(invalid="ignore"):
        return np.asarray(((plan_m >= 0.0) & (plan_m <= tank.inner_m[:2])).all(axis=1))


def _slab_shift(forward: Floats, tank: Tank) -> Floats:
    """How much nearer, along y, the eye seems to stand for rays with the cosine `forward` to the pane's normal."""
    return tank.side_m * (1.0 - forward / np.sqrt(tank.glass_index**2 - 1.0 + forward**2))
