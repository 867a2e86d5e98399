"""One step of a ray inside a tank: to the next wall or surface, and off it or through it.

Each kernel takes many rays at once and writes beside them; what lies on the way (pieces, floor) comes from
the ray caster as a distance per ray.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from sim.compiling import compiled, inner
from sim.shot.codes import (
    BACK,
    BASE,
    FILM,
    FRONT,
    GOES_ON,
    LEFT,
    LOST,
    NO_WALL,
    OUTSIDE,
    RIGHT,
    SEAM,
    SOIL,
    SOLID,
    SURFACE,
    TOP,
)
from sim.shot.entering import FAR_M, floor_height
from sim.shot.panes import Basin, glass_reach, slab_share, surface_share

Floats = NDArray[np.float64]

FAINTEST = 0.09  # share of a pixel's light below which a reflection is not followed; those above fade in from it
BELOW_FLOOR_M = -1e-3  # the floor itself is met as a solid; this is for rays that slip through a crack


@inner  # type: ignore[untyped-decorator]
def _wall_ahead(origin: Floats, way: Floats, wet: bool, basin: Basin) -> tuple[float, int]:
    """Distance to the next wall, and which it is."""
    best, wall = FAR_M, NO_WALL
    if way[0] != 0.0:
        best = ((basin.length_m if way[0] > 0.0 else 0.0) - origin[0]) / way[0]
        wall = RIGHT if way[0] > 0.0 else LEFT
    if way[1] != 0.0:
        run = ((basin.depth_m if way[1] > 0.0 else 0.0) - origin[1]) / way[1]
        if run < best:
            best, wall = run, BACK if way[1] > 0.0 else FRONT
    if way[2] > 0.0:
        run = ((basin.level_m if wet else basin.height_m) - origin[2]) / way[2]
        if run < best:
            best, wall = run, SURFACE if wet else TOP
    elif way[2] < 0.0:
        over_water = not wet and basin.level_m > 0.0
        run = ((basin.level_m if over_water else BELOW_FLOOR_M) - origin[2]) / way[2]
        if run < best:
            best, wall = run, SURFACE if over_water else BASE
    return max(best, 0.0), wall


@inner  # type: ignore[untyped-decorator]
def _on_seam(point: Floats, wall: int, basin: Basin) -> bool:
    """Whether a point of a pane lies under the silicone along one of its inner edges."""
    width, along = basin.seam_m, point[1]
    across_m = basin.depth_m
    if wall in (BACK, FRONT):
        along, across_m = point[0], basin.length_m
    return bool(point[2] < width or along < width or along > across_m - width)


@inner  # type: ignore[untyped-decorator]
def _through_pane(point: Floats, way: Floats, axis: int, n: float, basin: Basin) -> None:
    """Turn a ray at a pane's inner face into the one that leaves its outer face; in place."""
    cosine = abs(way[axis])
    sideways = glass_reach(n, basin.glass_n, cosine) * basin.side_m
    sine2 = 0.0
    for k in range(3):
        if k != axis:
            point[k] += sideways * way[k]
            way[k] *= n
            sine2 += way[k] * way[k]
    point[axis] += math.copysign(basin.side_m, way[axis])
    way[axis] = math.copysign(math.sqrt(max(0.0, 1.0 - sine2)), way[axis])


@inner  # type: ignore[untyped-decorator]
def _at_pane(point: Floats, way: Floats, wall: int, wet: bool, basin: Basin) -> tuple[int, float, int]:
    """End (or GOES_ON), share reflected, axis. A total reflection turns the ray in place, at the outer face."""
    axis = 0 if wall in (LEFT, RIGHT) else 1
    if _on_seam(point, wall, basin):
        return SEAM, 0.0, axis
    if (wall == LEFT and basin.film_left) or (wall == RIGHT and basin.film_right) or (wall == BACK and basin.film_back):
        return FILM, 0.0, axis
    n = basin.water_n if wet else 1.0
    cosine = abs(way[axis])
    share = slab_share(n, basin.glass_n, cosine)
    if share >= 1.0:
        sideways = 2.0 * glass_reach(n, basin.glass_n, cosine) * basin.side_m
        for k in range(3):
            if k != axis:
                point[k] += sideways * way[k]
        way[axis] = -way[axis]
    return GOES_ON, share, axis


@inner  # type: ignore[untyped-decorator]
def _through_surface(way: Floats, wet: bool, n: float) -> None:
    """Bend a ray that passes the water's surface; in place."""
    ratio = n if wet else 1.0 / n
    way[0] *= ratio
    way[1] *= ratio
    way[2] = math.copysign(math.sqrt(max(0.0, 1.0 - way[0] ** 2 - way[1] ** 2)), way[2])


@compiled  # type: ignore[untyped-decorator]
def step(
    origins: Floats,
    ways: Floats,
    wet: NDArray[np.bool_],
    light: Floats,
    distances: NDArray[np.float32],
    basin: Basin,
    floor: Floats,
    absorbed: Floats,
    split: bool,
    ends: NDArray[np.int8],
    walls: NDArray[np.int8],
    runs: Floats,
    other_ends: NDArray[np.int8],
    other: Floats,
    other_wet: NDArray[np.bool_],
) -> None:
    """Take every ray to the next thing it meets and through or off it, in place.

    Parameters
    ----------
    origins, ways : (n, 3)
    wet : (n,) whether in water
    light : (n, 3) what share of each colour still counts
    distances : (n,) to the nearest solid, infinite where there is none
    absorbed : (3,) per metre of water
    split : bool
        Follow both parts where light is split. Else: the part that passes, unless reflection is total.
    ends, walls, runs : (n,) written
        What a ray ended on or GOES_ON, the wall it met or NO_WALL, and the length of this step.
    other_ends, other, other_wet : (n,), (n, 9), (n,) written
        Where light split, what the second ray ended on or GOES_ON, else -1; its origin, direction and light.
    """
    for i in range(len(ways)):
        point, way = origins[i], ways[i]
        other_ends[i] = -1
        run, wall = _wall_ahead(point, way, wet[i], basin)
        solid = distances[i] < run
        if solid:
            run, wall = float(distances[i]), NO_WALL
        walls[i], runs[i] = wall, run
        for k in range(3):
            point[k] += run * way[k]
            if wet[i]:
                light[i, k] *= math.exp(-absorbed[k] * run)
        if solid:
            ends[i] = SOLID
            continue
        if wall in (TOP, NO_WALL):
            ends[i] = OUTSIDE
            continue
        if wall == BASE:
            ends[i] = LOST
            continue
        if wall == SURFACE:
            n = basin.water_n
            share = surface_share(n if wet[i] else 1.0, 1.0 if wet[i] else n, abs(way[2]))
            ends[i] = GOES_ON
            point[2] = basin.level_m
            if share >= 1.0:
                way[2] = -way[2]
                continue
            if split:
                _branch(other_ends, other, other_wet, i, point, way, 2, light[i], share, wet[i])
            _through_surface(way, wet[i], n)
            wet[i] = not wet[i]
            continue
        end, share, axis = _at_pane(point, way, wall, wet[i], basin)
        ends[i] = end
        if end != GOES_ON:
            continue
        if share >= 1.0:
            if point[2] < floor_height(point[0], point[1], floor, basin):
                ends[i] = SOIL  # through the glass it sees the ground that lies against the pane
            continue
        if split:
            _branch(other_ends, other, other_wet, i, point, way, axis, light[i], share, wet[i])
        _through_pane(point, way, axis, basin.water_n if wet[i] else 1.0, basin)
        ends[i] = OUTSIDE


@inner  # type: ignore[untyped-decorator]
def _branch(
    ends: NDArray[np.int8],
    other: Floats,
    other_wet: NDArray[np.bool_],
    i: int,
    point: Floats,
    way: Floats,
    axis: int,
    light: Floats,
    share: float,
    wet: bool,
) -> None:
    """Split a ray: write its reflected part, and leave the rest to the part that passes."""
    faint = FAINTEST / max(light[0], light[1], light[2], FAINTEST)
    followed = (share - faint) / (1.0 - faint) if share > faint else 0.0  # from 0 on, so that no edge shows
    if followed <= 0.0:
        return
    ends[i], other_wet[i] = GOES_ON, wet
    for k in range(3):
        other[i, k], other[i, 3 + k], other[i, 6 + k] = point[k], way[k], light[k] * followed
        light[k] *= 1.0 - followed
    other[i, 3 + axis] = -way[axis]
