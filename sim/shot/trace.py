"""Rays from the eye through the tank to what they show.

Each round casts all rays that still go on at the pieces and the floor, and then takes every one to the next
wall or surface. No ray is bent by an approximation: Snell's law at both faces of the pane that it comes in
by, total reflection at the outer face of a pane, Fresnel's shares where light is split.
"""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import numpy as np
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

from sim.shot.codes import GOES_ON, LOST, NO_WALL, OUTSIDE, SOIL, SOLID, TOP
from sim.shot.entering import enter
from sim.shot.panes import Basin
from sim.shot.paths import step

Floats = NDArray[np.float64]

MOST_MIRRORS = 8
RAYS_AT_ONCE = 1 << 17
THREADS = 2
HIT = ("primID", "u", "v")  # of the ray caster's arrays


@dataclass(frozen=True, slots=True, eq=False)
class Room:
    """What rays move in."""

    basin: Basin
    solids: EmbreeScene  # pieces and floor
    floor_m: Floats  # (rows, columns) height of the floor on an even grid over the base
    top_m: float  # highest point of any solid
    absorbed: Floats  # (3,) share of light lost per metre of water (exponent), by colour


@dataclass(frozen=True, slots=True, eq=False)
class First:
    """What each of n rays came to first, before any mirror; the water's surface is passed where it lets light pass.

    Only for rays that are not split.
    """

    end: NDArray[np.int8]  # (n,) of `sim.shot.codes`; GOES_ON: a mirror
    wall: NDArray[np.int8]  # (n,)
    face: NDArray[np.int32]  # (n,) triangle, for SOLID
    point_m: Floats  # (n, 3)


@dataclass(frozen=True, slots=True, eq=False)
class Ends:
    """Where rays ended: m records for n rays, several for a ray whose light was split."""

    ray: NDArray[np.int32]  # (m,)
    end: NDArray[np.int8]  # (m,) of `sim.shot.codes`
    wall: NDArray[np.int8]  # (m,) wall it ended at, or NO_WALL
    face: NDArray[np.int32]  # (m,) triangle, for SOLID
    weights: NDArray[np.float32]  # (m, 2) barycentric
    point_m: Floats  # (m, 3)
    way: Floats  # (m, 3)
    light: Floats  # (m, 3) share of the ray's light
    water_m: Floats  # (m,) way through water
    mirrored: NDArray[np.bool_]  # (m,) whether a mirror came before this end
    entry_m: Floats  # (n, 3) where each ray came into the tank, NaN if it did not
    first: First


@dataclass(slots=True, eq=False)
class _Front:
    """Rays on their way."""

    ray: NDArray[np.int32]
    origins: Floats
    ways: Floats
    wet: NDArray[np.bool_]
    light: Floats
    water_m: Floats
    mirrored: NDArray[np.bool_]

    def of(self, chosen: NDArray[np.bool_] | NDArray[np.intp]) -> _Front:
        return _Front(
            self.ray[chosen], self.origins[chosen], self.ways[chosen],
            self.wet[chosen], self.light[chosen], self.water_m[chosen], self.mirrored[chosen],
        )  # fmt: skip


def trace(room: Room, eyes_m: Floats, ways: Floats, split: bool = True) -> Ends:
    """Follow rays from the eye until they end.

    Parameters
    ----------
    eyes_m : (n, 3) or (1, 3)
    ways : (n, 3) unit directions in air
    split : bool
        Follow both parts of split light (for pictures). Else one end per ray: light passes what lets it
        pass and is mirrored where nothing passes.
    """
    records: list[_Ended] = []
    first = First(
        np.full(len(ways), OUTSIDE, np.int8), np.full(len(ways), NO_WALL, np.int8),
        np.full(len(ways), -1, np.int32), np.full((len(ways), 3), np.nan),
    )  # fmt: skip
    front, entry = _entered(room, eyes_m, ways, records, first)
    for _ in range(MOST_MIRRORS + 1):
        if not len(front.ray):
            break
        front = _advance(room, front, split, records, first)
    if len(front.ray):
        records.append(_ended(front, np.full(len(front.ray), LOST, np.int8)))
    return Ends(
        ray=np.concatenate([one.front.ray for one in records]),
        end=np.concatenate([one.end for one in records]),
        wall=np.concatenate([one.wall for one in records]),
        face=np.concatenate([one.face for one in records]),
        weights=np.concatenate([one.weights for one in records]),
        point_m=np.concatenate([one.front.origins for one in records]),
        way=np.concatenate([one.front.ways for one in records]),
        light=np.concatenate([one.front.light for one in records]),
        water_m=np.concatenate([one.front.water_m for one in records]),
        mirrored=np.concatenate([one.front.mirrored for one in records]),
        entry_m=entry,
        first=first,
    )


def in_parts(count: int) -> Iterator[slice]:
    """Slices of many rays, small enough to stay in the processor's own memory."""
    for start in range(0, count, RAYS_AT_ONCE):
        yield slice(start, min(start + RAYS_AT_ONCE, count))


def workers() -> ThreadPoolExecutor:
    """Threads for parts of a picture; each part has pixels of its own, so their order does not matter."""
    return ThreadPoolExecutor(THREADS)


def cast(solids: EmbreeScene, origins_m: Floats, ways: Floats) -> dict[str, NDArray[Any]]:
    """Nearest triangle for each ray: the ray caster's own arrays; tfar is huge where there is none."""
    found: dict[str, NDArray[Any]] = solids.run(origins_m.astype(np.float32), ways.astype(np.float32), output=True)
    return found


@dataclass(slots=True, eq=False)
class _Ended:
    """Rays that ended in one round."""

    front: _Front
    end: NDArray[np.int8]
    wall: NDArray[np.int8]
    face: NDArray[np.int32]
    weights: NDArray[np.float32]


def _ended(
    front: _Front,
    ends: NDArray[np.int8],
    walls: NDArray[np.int8] | None = None,
    found: dict[str, NDArray[Any]] | None = None,
) -> _Ended:
    count = len(ends)
    if walls is None:
        walls = np.full(count, NO_WALL, np.int8)
    if found is None:
        return _Ended(front, ends, walls, np.full(count, -1, np.int32), np.zeros((count, 2), np.float32))
    face = np.where(ends == SOLID, found["primID"], -1).astype(np.int32)
    return _Ended(front, ends, walls, face, np.stack([found["u"], found["v"]], axis=1))


def _entered(room: Room, eyes_m: Floats, ways: Floats, records: list[_Ended], first: First) -> tuple[_Front, Floats]:
    count = len(ways)
    ends, wet = np.empty(count, np.int8), np.empty(count, np.bool_)
    origins, inside = np.empty((count, 3)), np.empty((count, 3))
    share, reach = np.empty(count), np.empty(count)
    enter(
        np.ascontiguousarray(eyes_m), np.ascontiguousarray(ways), room.basin, room.floor_m,
        ends, origins, inside, wet, share, reach,
    )  # fmt: skip
    front = _Front(
        np.arange(count, dtype=np.int32), origins, inside, wet,
        np.repeat(share[:, None], 3, axis=1), np.zeros(count), np.zeros(count, np.bool_),
    )  # fmt: skip
    entry = np.where(((ends == GOES_ON) | (ends == SOIL))[:, None], origins, np.nan)
    if room.top_m > room.basin.height_m:
        records.append(_met_before(room, eyes_m, ways, front, ends, reach, first))
    over = ends > GOES_ON
    first.end[over], first.point_m[over] = ends[over], origins[over]
    records.append(_ended(front.of(over), ends[over]))
    return front.of(ends == GOES_ON), entry


def _met_before(
    room: Room, eyes_m: Floats, ways: Floats, front: _Front, ends: NDArray[np.int8], reach: Floats, first: First
) -> _Ended:
    """End rays that meet a piece above the rim before they come to the tank; marks them in `ends` with -1."""
    eyes = np.broadcast_to(eyes_m, ways.shape)
    found = cast(room.solids, eyes, ways)
    run = found["tfar"].astype(np.float64)
    met = (run < reach) & (found["geomID"] != -1) & (eyes[:, 2] + run * ways[:, 2] >= room.basin.height_m)
    ahead = front.of(met)
    ahead.ways = ways[met]
    ahead.origins = eyes[met] + ways[met] * run[met, None]
    ahead.light = np.ones_like(ahead.origins)
    ends[met] = -1
    first.end[met], first.face[met], first.point_m[met] = SOLID, found["primID"][met], ahead.origins
    return _ended(ahead, np.full(int(met.sum()), SOLID, np.int8), None, {k: found[k][met] for k in HIT})


def _advance(room: Room, front: _Front, split: bool, records: list[_Ended], first: First) -> _Front:
    """One round; returns the rays that go on."""
    found = cast(room.solids, front.origins, front.ways)
    count = len(front.ray)
    ends, walls, runs = np.empty(count, np.int8), np.empty(count, np.int8), np.empty(count)
    other_ends, other, other_wet = np.empty(count, np.int8), np.empty((count, 9)), np.empty(count, np.bool_)
    was_wet = front.wet.copy()
    starts, ways = (None, None) if split else (front.origins.copy(), front.ways.copy())
    step(
        front.origins, front.ways, front.wet, front.light, found["tfar"],
        room.basin, room.floor_m, room.absorbed, split, ends, walls, runs, other_ends, other, other_wet,
    )  # fmt: skip
    front.water_m += np.where(was_wet, runs, 0.0)
    if room.top_m > room.basin.height_m:
        _met_above(room, front, ends, walls, found)
    if starts is not None and ways is not None:
        plain = ~front.mirrored
        ray = front.ray[plain]
        first.end[ray], first.wall[ray] = ends[plain], walls[plain]
        first.point_m[ray] = (starts + ways * runs[:, None])[plain]  # on the inner face, whatever the glass does then
        first.face[ray] = np.where(ends[plain] == SOLID, found["primID"][plain], -1)
    over = ends != GOES_ON
    records.append(_ended(front.of(over), ends[over], walls[over], {k: found[k][over] for k in HIT}))
    front.mirrored |= front.wet == was_wet  # what goes on either crossed the surface or was reflected
    onward = front.of(~over)
    parts = np.flatnonzero(other_ends == GOES_ON)
    if not len(parts):
        return onward
    rays = other[parts]
    return _Front(
        np.concatenate([onward.ray, front.ray[parts]]),
        np.concatenate([onward.origins, rays[:, :3]]),
        np.concatenate([onward.ways, rays[:, 3:6]]),
        np.concatenate([onward.wet, other_wet[parts]]),
        np.concatenate([onward.light, rays[:, 6:]]),
        np.concatenate([onward.water_m, front.water_m[parts]]),
        np.concatenate([onward.mirrored, np.ones(len(parts), np.bool_)]),
    )


def _met_above(
    room: Room, front: _Front, ends: NDArray[np.int8], walls: NDArray[np.int8], found: dict[str, NDArray[Any]]
) -> None:
    """Let rays that leave by the open top meet what rises above it; in place."""
    out = np.flatnonzero((ends == OUTSIDE) & (walls == TOP))
    if not len(out):
        return
    above = cast(room.solids, front.origins[out], front.ways[out])
    met = above["geomID"] != -1
    hit = out[met]
    front.origins[hit] += front.ways[hit] * above["tfar"][met, None].astype(np.float64)
    ends[hit], walls[hit] = SOLID, NO_WALL
    for key in HIT:
        found[key][hit] = above[key][met]
