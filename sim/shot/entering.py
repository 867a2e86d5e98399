"""How rays come into a tank: through the front or a side pane, or over the rim."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from sim.compiling import compiled, inner
from sim.shot.codes import GOES_ON, OUTSIDE, RIM, SOIL
from sim.shot.panes import Basin, glass_reach, slab_share

Floats = NDArray[np.float64]

FAR_M = 1e9


@inner  # type: ignore[untyped-decorator]
def floor_height(x: float, y: float, floor: Floats, basin: Basin) -> float:
    """Height of the floor at a place; beyond the panes that along them."""
    rows, columns = floor.shape[0] - 1, floor.shape[1] - 1
    u = min(max(x / basin.length_m, 0.0), 1.0) * columns
    v = min(max(y / basin.depth_m, 0.0), 1.0) * rows
    i, j = min(int(u), columns - 1), min(int(v), rows - 1)
    s, t = u - i, v - j
    near = floor[j, i] * (1.0 - s) + floor[j, i + 1] * s
    far = floor[j + 1, i] * (1.0 - s) + floor[j + 1, i + 1] * s
    height: float = near * (1.0 - t) + far * t
    return height


@inner  # type: ignore[untyped-decorator]
def _box_entry(eye: Floats, way: Floats, basin: Basin) -> tuple[float, int]:
    """Distance to the outer box of the tank and the axis of the face met; axis -1: it passes by."""
    low = (-basin.side_m, -basin.side_m, -basin.base_m)
    high = (basin.length_m + basin.side_m, basin.depth_m + basin.side_m, basin.height_m)
    near, far, axis = -FAR_M, FAR_M, -1
    for k in range(3):
        if way[k] == 0.0:
            if eye[k] < low[k] or eye[k] > high[k]:
                return FAR_M, -1
            continue
        one, two = (low[k] - eye[k]) / way[k], (high[k] - eye[k]) / way[k]
        if one > two:
            one, two = two, one
        if one > near:
            near, axis = one, k
        far = min(far, two)
    if near > far or near < 0.0:
        return FAR_M, -1
    return near, axis


@compiled  # type: ignore[untyped-decorator]
def enter(
    eyes: Floats,
    ways: Floats,
    basin: Basin,
    floor: Floats,
    ends: NDArray[np.int8],
    origins: Floats,
    inside: Floats,
    wet: NDArray[np.bool_],
    share: Floats,
    reach: Floats,
) -> None:
    """Take rays from the eye to where they come into the tank, through a pane or over its rim.

    Parameters
    ----------
    eyes : (n, 3) or (1, 3)
    ways : (n, 3) unit directions in air
    floor : (rows, columns) height of the floor on an even grid over the base, rows from front to back
    ends, origins, inside, wet, share, reach : (n, ...) written
        What the ray ended on (`GOES_ON`: it is inside), where it is, its direction there, whether in water,
        the share of light that the pane lets through, and the distance in air up to the tank.
    """
    sides = (basin.length_m, basin.depth_m, basin.height_m)
    for i in range(len(ways)):
        eye, way = eyes[i if len(eyes) > 1 else 0], ways[i]
        run, axis = _box_entry(eye, way, basin)
        reach[i], wet[i], share[i] = run, False, 1.0
        for k in range(3):
            origins[i, k], inside[i, k] = eye[k], way[k]
        if axis < 0:
            ends[i] = OUTSIDE
            continue
        for k in range(3):
            origins[i, k] = eye[k] + run * way[k]
        if axis == 2:
            x, y = origins[i, 0], origins[i, 1]
            open_here = way[2] < 0.0 and 0.0 < x < sides[0] and 0.0 < y < sides[1]
            ends[i] = GOES_ON if open_here else RIM
            continue
        cosine = abs(way[axis])
        sideways = glass_reach(1.0, basin.glass_n, cosine) * basin.side_m
        for k in range(3):
            if k != axis:
                origins[i, k] += sideways * way[k]
        origins[i, axis] = 0.0 if way[axis] > 0.0 else sides[axis]
        other = 1 - axis
        if not (0.0 < origins[i, other] < sides[other] and 0.0 < origins[i, 2] < sides[2]):
            ends[i] = RIM
            continue
        share[i] = 1.0 - slab_share(1.0, basin.glass_n, cosine)
        ends[i] = GOES_ON
        if origins[i, 2] < basin.level_m:
            wet[i] = True
            n = basin.water_n
            for k in range(3):
                inside[i, k] = way[k] / n
            inside[i, axis] = math.copysign(math.sqrt(n * n - 1.0 + cosine * cosine) / n, way[axis])
        if origins[i, 2] < floor_height(origins[i, 0], origins[i, 1], floor, basin):
            ends[i] = SOIL
