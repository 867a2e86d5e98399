"""Light through the front pane: from a point in the tank to the lens, and back along a ray.

Glossary
--------
eye : the lens, a point in front of the front pane
distance : from the eye to the outer face of the front pane, along its normal
depth : of a point behind the inner face of the front pane
apparent point : where a point seems to lie for an eye that knows of no refraction: on the ray that
    reaches the eye, as far to the side and as high as the point itself

Everything lies in the tank's frame: the front pane's inner face is y = 0, its outer face y = -side.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sim.materials import GLASS_INDEX, water_index
from sim.scene import Scene
from sim.units import MM_PER_M

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

MOST_STEPS = 60  # Newton needs 3 to 5; grazing rays at a lens close to the pane need more


@dataclass(frozen=True, slots=True)
class Tank:
    """What a tank does to light."""

    inner_m: tuple[float, float, float]  # length, depth, height
    side_m: float  # thickness of the front pane, and of the others
    level_m: float  # of the water; 0: dry
    water_index: float = 1.333  # relative to air
    glass_index: float = GLASS_INDEX

    def index_at(self, height_m: Floats) -> Floats:
        """Index of what fills the tank at heights (...): that of water up to the level, else 1."""
        return (
            np.where(height_m <= self.level_m, self.water_index, 1.0) if self.level_m > 0.0 else np.ones_like(height_m)
        )


def tank_of(scene: Scene, flooded: bool) -> Tank:
    """The tank of a scene, dry or filled to its water level."""
    length_mm, depth_mm, height_mm = scene.tank.inner_mm
    return Tank(
        inner_m=(length_mm / MM_PER_M, depth_mm / MM_PER_M, height_mm / MM_PER_M),
        side_m=scene.tank.side_mm / MM_PER_M,
        level_m=scene.water_level_mm / MM_PER_M if flooded else 0.0,
        water_index=water_index(scene.water.temperature_c, scene.water.salinity_ppt),
    )


def air_tangents(
    radius_m: Floats, distance_m: Floats, glass_m: Floats, depth_m: Floats, index: Floats, glass_index: float
) -> Floats:
    """Tangent of the angle in air under which a point behind a pane is seen.

    Solves D t + d t / sqrt(ng^2 + (ng^2 - 1) t^2) + L t / sqrt(n^2 + (n^2 - 1) t^2) = r. The left side grows
    and is concave, so Newton's method from the paraxial value climbs to the root and cannot miss it.

    Parameters
    ----------
    radius_m : (n,) distance r of the point from the pane's normal through the eye
    distance_m : (n,) distance D in air, above 0
    glass_m, depth_m : (n,) path lengths d and L along the normal, in glass and behind it
    index : (n,) index behind the pane, 1 or more
    glass_index : float

    Returns
    -------
    tangents : (n,)

    References
    ----------
    Agrawal, Ramalingam, Taguchi & Chari 2012, A theory of multi-layer flat refractive geometry, CVPR.
    """
    glass2, behind2 = glass_index**2, index**2
    tangents = radius_m / (distance_m + glass_m / glass_index + depth_m / index)
    for _ in range(MOST_STEPS):
        squares = tangents * tangents
        in_glass = 1.0 / (glass2 + (glass2 - 1.0) * squares)
        behind = 1.0 / (behind2 + (behind2 - 1.0) * squares)
        glass_part, behind_part = glass_m * np.sqrt(in_glass), depth_m * np.sqrt(behind)
        reached = (distance_m + glass_part + behind_part) * tangents
        slope = distance_m + glass_part * glass2 * in_glass + behind_part * behind2 * behind
        step = (radius_m - reached) / slope
        tangents = tangents + step
        if np.all(np.abs(step) <= 4e-16 * np.maximum(1.0, tangents)):
            break
    return np.asarray(tangents)


def apparent_points(points_m: Floats, eye_m: Floats, tank: Tank, index: Floats | None = None) -> Floats:
    """Where points seem to lie, seen through the front pane: x and z stay, y becomes the apparent distance r / t.

    A picture of the apparent points by an ordinary pinhole camera is the refracted picture. Planes
    x = const and z = const stay planes, and what hides what is kept.

    Parameters
    ----------
    points_m : (n, 3) tank frame; those in front of the pane stay as they are
    eye_m : (3,) in front of the front pane's outer face
    index : (n,) index of what fills the tank at each point; None: water up to the level, air above it

    Returns
    -------
    apparent_m : (n, 3)
    """
    y = points_m[:, 1]
    distance = np.full(len(points_m), -tank.side_m - eye_m[1])
    glass = np.clip(y + tank.side_m, 0.0, tank.side_m)
    depth = np.maximum(y, 0.0)
    behind = tank.index_at(points_m[:, 2]) if index is None else index
    radius = np.hypot(points_m[:, 0] - eye_m[0], points_m[:, 2] - eye_m[2])
    tangents = air_tangents(radius, distance, glass, depth, behind, tank.glass_index)
    straight = distance + glass / tank.glass_index + depth / behind  # on the normal through the eye
    far = radius > 1e-9 * straight
    seems = np.where(far, radius / np.where(far, tangents, 1.0), straight)
    apparent = points_m.copy()
    apparent[:, 1] = np.where(y > -tank.side_m, eye_m[1] + seems, y)
    return apparent


def rays_into_tank(origin_m: Floats, directions: Floats, tank: Tank) -> tuple[Floats, Floats]:
    """Follow rays from the lens through both faces of the front pane.

    Behind the pane lies water where a ray arrives up to the water level, and air above it. The panes' edges
    are not looked at: a ray that passes beside the tank is followed as if the pane went on.

    Parameters
    ----------
    origin_m : (3,) or (n, 3) in front of the front pane's outer face
    directions : (n, 3) in air, of any length

    Returns
    -------
    points_m : (n, 3) on the inner face, y = 0
    directions : (n, 3) unit vectors behind the pane
        Both NaN for rays that do not go towards the pane.
    """
    unit = directions / np.linalg.norm(directions, axis=1, keepdims=True)
    origins = np.broadcast_to(origin_m, unit.shape)
    across, forward = unit[:, [0, 2]], unit[:, 1]
    forward = np.where(forward > 0.0, forward, np.nan)
    lateral2 = (across**2).sum(axis=1)
    run = (-tank.side_m - origins[:, 1]) / forward + tank.side_m / np.sqrt(tank.glass_index**2 - lateral2)
    points = np.zeros_like(unit)
    points[:, [0, 2]] = origins[:, [0, 2]] + across * run[:, None]
    points[np.isnan(run)] = np.nan
    across[np.isnan(run)] = np.nan
    behind = tank.index_at(points[:, 2])
    inside = np.empty_like(unit)
    inside[:, [0, 2]] = across / behind[:, None]
    # as 1 - (lateral / n)^2, but exact for air: the forward part is then what it was
    inside[:, 1] = np.sqrt(forward**2 + behind**2 - 1.0) / behind
    return points, inside


def beside(eye_m: Floats, tank: Tank, right: bool) -> bool:
    """Whether an eye stands beyond the left or the right side pane."""
    return bool(eye_m[0] > tank.inner_m[0] + tank.side_m if right else eye_m[0] < -tank.side_m)


def turned_tank(tank: Tank) -> Tank:
    """The same tank with a side pane as its front; see `turned`."""
    length, depth, height = tank.inner_m
    return replace(tank, inner_m=(depth, length, height))


def turned(places_m: Floats, tank: Tank, right: bool) -> Floats:
    """Points (..., 3) in the frame whose front pane is the left or the right side pane: (y, x or length - x, z)."""
    x = places_m[..., 0]
    return np.stack([places_m[..., 1], tank.inner_m[0] - x if right else x, places_m[..., 2]], axis=-1)


def turned_back(places_m: Floats, tank: Tank, right: bool) -> Floats:
    """The inverse of `turned`."""
    x = places_m[..., 1]
    return np.stack([tank.inner_m[0] - x if right else x, places_m[..., 0], places_m[..., 2]], axis=-1)
