"""Can a piece be brought to its place while others stand there, and is there room for a hand?

Ways in, read backwards from where the piece ends: straight up; or away to a side, level or rising, and then up.
Each way has the mask of units that would be in it. A ray from every forward face of the piece says what is ahead.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import trimesh
from numpy.typing import NDArray

from sim.states import Stage
from sim.units import MM_PER_M

Floats = NDArray[np.float64]

FORWARD = 0.1  # cosine between a face's normal and the way, above which the face goes ahead
RAYS = 400  # per piece and way
IN_THE_WAY = 0.01  # share of the rays that must be stopped: less is a graze that a wiggle of the hand avoids
LIFT_M = 1.0e-3  # rays start so far ahead of the face, clear of what touches it
SIDES = 8
RISES_DEG = (0.0, 45.0)
AWAY = (0.6, 1.2, 2.4)  # lengths of the first leg, in widths of the piece


@dataclass(frozen=True, slots=True)
class Way:
    """A way in."""

    words: str
    blocked_by: int  # mask of units


class Shapes:
    """Meshes of the units where they end, then of the fixed pieces; their boxes and their forward faces."""

    def __init__(self, stage: Stage, units: Sequence[Sequence[int]]) -> None:
        self.units = len(units)
        fixed = [(int(piece),) for piece in np.flatnonzero(stage.dry.fixed)]
        self.meshes = [
            trimesh.util.concatenate(
                [trimesh.Trimesh(stage.pieces[p].vertices_m(), stage.pieces[p].body.faces, process=False) for p in unit]
            )
            for unit in [*units, *fixed]
        ]
        self.low = np.array([mesh.bounds[0] for mesh in self.meshes]).reshape(-1, 3)
        self.high = np.array([mesh.bounds[1] for mesh in self.meshes]).reshape(-1, 3)

    def points_m(self, unit: int) -> Floats:
        """Vertices (n, 3) of a unit."""
        return np.asarray(self.meshes[unit].vertices)

    def ahead(self, unit: int, way: Floats, shift_m: Floats, length_m: float) -> int:
        """Mask of units that are in a straight way of some length, from the unit's place shifted.

        Bits beyond the units are fixed pieces.
        """
        starts = self._forward_points(unit, way) + shift_m
        low, high = self.low[unit] + shift_m, self.high[unit] + shift_m
        end = length_m * way
        low, high = np.minimum(low, low + end), np.maximum(high, high + end)
        mask = 0
        for other in range(len(self.meshes)):
            if other == unit or np.any(self.low[other] > high) or np.any(self.high[other] < low):
                continue
            if self._stopped(other, starts, way, length_m) > IN_THE_WAY * len(starts):
                mask |= 1 << other
        return mask

    def _forward_points(self, unit: int, way: Floats) -> Floats:
        mesh = self.meshes[unit]
        ahead = np.flatnonzero(mesh.face_normals @ way > FORWARD)
        share = mesh.area_faces[ahead] * (mesh.face_normals[ahead] @ way)
        # evenly over the forward area, and the same in every run
        spread = (np.arange(RAYS) + 0.5) / RAYS * share.sum()
        chosen = ahead[np.minimum(np.searchsorted(np.cumsum(share), spread), len(ahead) - 1)]
        return np.asarray(mesh.triangles_center[chosen] + LIFT_M * way, dtype=np.float64)

    def _stopped(self, other: int, starts: Floats, way: Floats, length_m: float) -> int:
        """How many rays meet another unit within a length."""
        hits, rays, _ = self.meshes[other].ray.intersects_location(
            starts, np.tile(way, (len(starts), 1)), multiple_hits=False
        )
        if not len(rays):
            return 0
        return int(np.sum((hits - starts[rays]) @ way < length_m))


def ways_of(stage: Stage, shapes: Shapes, unit: int, after: int) -> tuple[Way, ...]:
    """Ways in for a unit; none where the tank itself or a fixed piece lets no way through.

    Parameters
    ----------
    after : mask of units that cannot be set before it: they are never in its way
    """
    up = np.array([0.0, 0.0, 1.0])
    high_m = stage.scene.tank.inner_mm[2] / MM_PER_M + float(np.ptp(shapes.high[:, 2])) + 1.0
    found = []
    if _through(stage, shapes.low[unit], shapes.high[unit]):
        straight = Way("straight down", shapes.ahead(unit, up, np.zeros(3), high_m))
        found.append(straight)
        if not straight.blocked_by & ~after:
            return (straight,)
    width_m = float(np.linalg.norm((shapes.high[unit] - shapes.low[unit])[:2]))
    for rise_deg in RISES_DEG:
        for side in range(SIDES):
            azimuth = 2.0 * np.pi * side / SIDES
            rise = np.radians(rise_deg)
            way = np.array([np.cos(rise) * np.cos(azimuth), np.cos(rise) * np.sin(azimuth), np.sin(rise)])
            for share in AWAY:
                shift = share * width_m * way
                if not _inside(stage, shapes.low[unit] + shift, shapes.high[unit] + shift):
                    continue
                if not _through(stage, shapes.low[unit] + shift, shapes.high[unit] + shift):
                    continue
                blocked = shapes.ahead(unit, way, np.zeros(3), share * width_m)
                blocked |= shapes.ahead(unit, up, shift, high_m)
                words = (
                    f"down {share * width_m * MM_PER_M:.0f} mm {_side_words(azimuth)} of its place, then in from there"
                )
                found.append(Way(words, blocked))
    return tuple(_best([way for way in found if not way.blocked_by >> shapes.units]))


def _best(ways: list[Way]) -> list[Way]:
    """The first one, and of the others those that are open where no other one is."""
    kept: list[Way] = []
    for way in ways:
        if not any(other.blocked_by & ~way.blocked_by == 0 for other in kept):
            kept = [*kept[:1], *(other for other in kept[1:] if way.blocked_by & ~other.blocked_by != 0), way]
    return kept


def _side_words(azimuth: float) -> str:
    names = ("right", "back right", "behind", "back left", "left", "front left", "in front", "front right")
    name = names[round(azimuth / (2.0 * np.pi) * SIDES) % SIDES]
    return name if name in ("behind", "in front") else f"to the {name}"


def _through(stage: Stage, low_m: Floats, high_m: Floats) -> bool:
    """Whether a box, from above, fits through the opening with a hand beside it."""
    x0, y0, x1, y1 = (side / MM_PER_M for side in stage.scene.tank.opening_box_mm)
    hand_m = stage.scene.check.hand_mm / MM_PER_M
    if low_m[0] < x0 or low_m[1] < y0 or high_m[0] > x1 or high_m[1] > y1:
        return False
    length_m, depth_m = (high_m - low_m)[:2]
    return bool(length_m + hand_m <= x1 - x0 or depth_m + hand_m <= y1 - y0)


def _inside(stage: Stage, low_m: Floats, high_m: Floats) -> bool:
    length_m, depth_m = (side / MM_PER_M for side in stage.scene.tank.inner_mm[:2])
    return bool(low_m[0] >= 0.0 and low_m[1] >= 0.0 and high_m[0] <= length_m and high_m[1] <= depth_m)


def grips_of(stage: Stage, shapes: Shapes, unit: int, hand_m: float) -> tuple[int, ...]:
    """Sides from which a hand can hold a unit, each with the mask of units that take its room.

    A hand needs a space as wide as itself beside the upper half of the piece, open to above and inside the tank.
    """
    if hand_m <= 0.0:
        return (0,)
    length_m, depth_m = (side / MM_PER_M for side in stage.scene.tank.inner_mm[:2])
    middle = (shapes.low[unit] + shapes.high[unit]) / 2.0
    found = []
    for side in range(SIDES):
        azimuth = 2.0 * np.pi * side / SIDES
        out = np.array([np.cos(azimuth), np.sin(azimuth)])
        across = np.array([-out[1], out[0]])
        edge = float((shapes.points_m(unit)[:, :2] @ out).max())
        spot = middle[:2] + (edge - middle[:2] @ out + hand_m / 2.0) * out
        if not (0.0 <= spot[0] <= length_m and 0.0 <= spot[1] <= depth_m):
            continue
        mask = 0
        for other in range(len(shapes.meshes)):
            cloud = shapes.points_m(other)
            if other == unit or shapes.high[other, 2] <= middle[2]:
                continue
            along, beside = cloud[:, :2] @ out - edge, cloud[:, :2] @ across - middle[:2] @ across
            taken = (cloud[:, 2] > middle[2]) & (along > 0.0) & (along < hand_m) & (np.abs(beside) < hand_m / 2.0)
            if np.any(taken):
                mask |= 1 << other
        if not mask >> shapes.units:
            found.append(mask)
    return tuple(sorted(set(found), key=lambda mask: (mask.bit_count(), mask)))
