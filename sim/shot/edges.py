"""Sight of the tank's inner edges: which of their points the camera sees, and what stands before the others."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.scene import Scene
from sim.shot.floor import floor_height_m
from sim.shot.lens import Lens
from sim.shot.refraction import tank_of
from sim.shot.sighting import SURFACE, sights
from sim.shot.stage import Stage
from sim.shot.trace import cast
from sim.units import MM_PER_M

Floats = NDArray[np.float64]

STEP_MM = 0.5
INSIDE_M = 2e-4  # the points looked at lie that far inside the edge
TOUCHING_M = 3e-4

# name: where it is (x, y, z as shares of the inner size, None: it runs along this axis)
EDGES: dict[str, tuple[float | None, float | None, float | None]] = {
    "back left edge": (0.0, 1.0, None),
    "back right edge": (1.0, 1.0, None),
    "back bottom edge": (None, 1.0, 0.0),
    "left bottom edge": (0.0, None, 0.0),
    "right bottom edge": (1.0, None, 0.0),
}


@dataclass(frozen=True, slots=True, eq=False)
class EdgeSight:
    """Points along an edge, evenly spaced."""

    along_mm: Floats  # (n,) place along the edge
    step_mm: float
    points_m: Floats  # (n, 3)
    clear: NDArray[np.bool_]  # (n,) would be seen without any piece
    blocker: NDArray[np.int32]  # (n,) first piece before it, -1: none
    starts_m: Floats  # (n, 3) last bend of the light before the point


def edge_points(name: str, scene: Scene) -> tuple[Floats, Floats, float]:
    """Points (n, 3) along an edge over the ground, their place along it (n,) in mm, and their distance in mm."""
    inner_m = np.array(scene.tank.inner_mm) / MM_PER_M
    place = EDGES[name]
    axis = place.index(None)
    low_mm = floor_height_m(scene, np.array([[share or 0.0 for share in place[:2]]]) * inner_m[:2])[0] * MM_PER_M
    low_mm = low_mm if axis == 2 else 0.0
    count = max(2, int((scene.tank.inner_mm[axis] - low_mm) / STEP_MM))
    step = (scene.tank.inner_mm[axis] - low_mm) / count
    along = low_mm + (np.arange(count) + 0.5) * step
    points = np.empty((count, 3))
    for k, share in enumerate(place):
        points[:, k] = (
            along / MM_PER_M if share is None else np.clip(share * inner_m[k], INSIDE_M, inner_m[k] - INSIDE_M)
        )
    if axis != 2:
        points[:, 2] += floor_height_m(scene, points[:, :2])
    return points, np.asarray(along, dtype=np.float64), float(step)


def edge_sight(name: str, scene: Scene, stage: Stage, lens: Lens, flooded: bool, size_px: tuple[int, int]) -> EdgeSight:
    """Which points of an edge a camera sees."""
    points, along, step = edge_points(name, scene)
    found = sights(points, lens.position_m, tank_of(scene, flooded))
    pixels = lens.pixels(found.directions, size_px)
    with np.errstate(invalid="ignore"):
        clear = found.open & ((pixels >= 0.0) & (pixels <= np.array(size_px))).all(axis=1)
    blocker = np.full(len(points), -1, np.int32)
    legs = [(found.bend_m, points)]
    if (found.way == SURFACE).any():
        legs.insert(0, (found.entry_m, found.bend_m))
    for start, end in legs:
        way, length = _way(start, end)
        going = np.flatnonzero(clear & (length > TOUCHING_M) & (blocker < 0))
        if not len(going):
            continue
        floor = cast(stage.ground, start[going], way[going])
        clear[going] &= ~((floor["geomID"] != -1) & (floor["tfar"] < length[going] - TOUCHING_M))
        met = cast(stage.solids, start[going], way[going])
        owner = stage.owner[met["primID"]]
        stands = (met["geomID"] != -1) & (met["tfar"] < length[going] - TOUCHING_M) & (owner < stage.floor_owner)
        blocker[going[stands]] = owner[stands]
    return EdgeSight(along, step, points, clear, blocker, found.bend_m)


def _way(start_m: Floats, end_m: Floats) -> tuple[Floats, Floats]:
    way = end_m - start_m
    length = np.linalg.norm(way, axis=1)
    return way / np.maximum(length, 1e-12)[:, None], length
