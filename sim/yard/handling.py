"""What hands do with a stone: set it down, lay it level, push it against something.

Each function takes pieces where they lie and says where one of them goes: rotation (3, 3) and position (3,).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from sim.contact import PLANE_NAMES, Poses, Rest, clearance, everything_else, set_down
from sim.contact.assembly import part_of
from sim.contact.settling import Outcome, Settled, let_go
from sim.pieces.body import Body
from sim.yard.bench import Floats, Laid

Pose = tuple[Floats, Floats]

FEEL_M = 2.0e-4  # a hand feels the way out of an overlap by moving so far
FREE_M = 4.0e-4  # so far from everything a stone is free to be lowered
REACH_M = 1.0e-3
MOST_PUSHES = 16
FARTHEST_NUDGE_M = 0.03  # a piece that must go farther is lifted out instead
BEYOND = 1.05  # of the depth: a little more than enough
TOUCH_M = 1.0e-6  # a snapped piece comes as near as this
LOWER_STEPS = 80
PLANES = {name: index for index, name in PLANE_NAMES.items()}


@dataclass(frozen=True, slots=True, eq=False)
class SetDown:
    """How setting one piece down went."""

    rest: Rest
    pose: Pose  # where it rests; where it was before unless it is at rest
    nudged_m: float  # sideways and up, to be free of overlaps


def lowered(laid: Laid, k: int, onto: NDArray[np.bool_]) -> SetDown:
    """Nudge a piece free of overlaps, and drop it until it rests on those of `onto` (n,) and in the tank."""
    others = everything_else(laid.dry, k)
    others = others[(others < 0) | onto[np.maximum(others, 0)]]
    start = _in_tank(laid, k)
    freed = _nudged(laid, k, others, start)
    there = laid.with_poses({k: (laid.poses.rotation[k], start if freed is None else freed)})
    seated = set_down(there.dry, there.poses, k, onto)
    nudged_m = float(np.linalg.norm(there.poses.position_m[k] - laid.poses.position_m[k]))
    rest, pose = seated.rest, (seated.rotation, seated.position_m)
    if rest is Rest.AT_REST and _beyond(laid, seated.position_m):
        rest = Rest.OUTSIDE
    if rest is not Rest.AT_REST:
        pose = (laid.poses.rotation[k], laid.poses.position_m[k])
    return SetDown(rest, pose, nudged_m)


def given_way(laid: Laid, group: Sequence[int], held: NDArray[np.bool_]) -> dict[int, tuple[Rest, Pose]]:
    """Let pieces that touch each other give under what was set on them, until they all lie still.

    A stone is set down onto others that stand still meanwhile; together they shift a little, mostly by less than a
    millimetre. Those of `held` (n,) do not. Where one would give way, the answer says so, and none should be moved.
    """
    chosen = np.zeros(len(laid.pieces), np.bool_)
    chosen[list(group)] = True
    part, poses = part_of(laid.dry, laid.poses, chosen)
    numbers = np.flatnonzero(chosen)
    part = replace(part, fixed=part.fixed | held[numbers])
    at_rest = [Settled(laid.pieces[k].id, Rest.AT_REST, 0.0, 0.0) for k in numbers]
    outcome = let_go(part, Outcome(poses, at_rest))
    return {
        int(k): (one.rest, (outcome.poses.rotation[i], outcome.poses.position_m[i]))
        for i, (k, one) in enumerate(zip(numbers, outcome.pieces, strict=True))
        if not part.fixed[i]
    }


def lowest_first(laid: Laid, chosen: Sequence[int]) -> list[int]:
    """The pieces in the order in which they are set down."""
    return sorted(chosen, key=lambda k: (float(laid.boxes[k][0][2]), k))


def levelled(laid: Laid, k: int, bedded: bool) -> Pose:
    """Turn a piece the least way that brings its beds level, about its middle.

    `bedded`: the layers of its body are level in its own frame, as those of generated stones and stand-ins are; else
    its broad faces tell how they lie.
    """
    normal = np.array([0.0, 0.0, 1.0]) if bedded else _across_broad_faces(laid.pieces[k].body)
    now = laid.poses.rotation[k] @ normal
    goal = np.array([0.0, 0.0, 1.0 if now[2] >= 0.0 else -1.0])
    axis = np.cross(now, goal)
    sine, cosine = float(np.linalg.norm(axis)), float(now @ goal)
    if sine < 1.0e-12:
        return laid.poses.rotation[k], laid.poses.position_m[k]
    turn = Rotation.from_rotvec(axis / sine * np.arctan2(sine, cosine)).as_matrix()
    return np.asarray(turn @ laid.poses.rotation[k]), laid.poses.position_m[k]


def snapped(laid: Laid, k: int, to: str, other: int | None = None) -> Pose:
    """Move a piece straight to a pane or the base until it touches, or onto the middle of another piece's top."""
    if to == "top":
        assert other is not None, "the top of which piece"
        return _onto(laid, k, other)
    number = -1 - PLANES[to]
    normal, offset = laid.dry.planes.normal[number], float(laid.dry.planes.offset_m[number])
    low, high = laid.boxes[k]
    gap_m = float(np.where(normal > 0.0, low, high) @ normal) - offset
    return laid.poses.rotation[k], laid.poses.position_m[k] - gap_m * normal


def turned(laid: Laid, chosen: Sequence[int], turn: Floats, together: bool) -> dict[int, Pose]:
    """Turn pieces by a rotation (3, 3), each about its own middle or all about that of the first one."""
    pivot = laid.poses.position_m[chosen[0]]
    found = {}
    for k in chosen:
        about = pivot if together else laid.poses.position_m[k]
        place = about + turn @ (laid.poses.position_m[k] - about)
        found[k] = (turn @ laid.poses.rotation[k], place)
    return found


def _onto(laid: Laid, k: int, other: int) -> Pose:
    """Above the middle of another piece, lowered straight until they touch."""
    low, high = laid.boxes[k]
    below = laid.boxes[other]
    shift = (below[0] + below[1] - low - high) / 2.0
    shift[2] = below[1][2] - low[2] + TOUCH_M
    rotation, place = laid.poses.rotation[k], laid.poses.position_m[k] + shift
    alone, position = np.array([other]), laid.poses.position_m.copy()
    for _ in range(LOWER_STEPS):
        position[k] = place
        gap_m = clearance(laid.dry, Poses(laid.poses.rotation, position), k, alone, 1.0)
        if gap_m <= TOUCH_M or place[2] - (high - low)[2] < 0.0:
            break
        place = place - np.array([0.0, 0.0, gap_m])
    return rotation, place


def _in_tank(laid: Laid, k: int) -> Floats:
    """Where a piece is when it is moved just as far as panes and base ask for, free of them."""
    low, high = laid.boxes[k]
    place: Floats = laid.poses.position_m[k].copy()
    for normal, offset in zip(laid.dry.planes.normal, laid.dry.planes.offset_m, strict=True):
        gap_m = float(np.where(normal > 0.0, low, high) @ normal) - offset
        place += max(0.0, FREE_M * BEYOND - gap_m) * normal
    return place


def _nudged(laid: Laid, k: int, others: NDArray[np.int64], start: Floats) -> Floats | None:
    """Feel the shortest way to where nothing is touched; None when it is a long one."""
    place = start
    rotation, position = laid.poses.rotation, laid.poses.position_m.copy()

    def depth_at(there: Floats) -> float:
        position[k] = there
        return FREE_M - clearance(laid.dry, Poses(rotation, position), k, others, REACH_M)

    for _ in range(MOST_PUSHES):
        depth = depth_at(place)
        if depth <= 0.0:
            return place
        slope = np.array([depth_at(place + step) - depth_at(place - step) for step in FEEL_M * np.eye(3)])
        length = float(np.linalg.norm(slope))
        if length <= 0.0:
            return None
        place = place - slope / length * max(depth * BEYOND, FEEL_M)
        if np.linalg.norm(place - start) > FARTHEST_NUDGE_M:
            return None
    return None


def _beyond(laid: Laid, position_m: Floats) -> bool:
    planes = laid.dry.planes
    return bool((planes.normal @ position_m < planes.offset_m).any())


def _across_broad_faces(body: Body) -> Floats:
    """The direction in which a piece is thinnest: the axis of its greatest moment of inertia."""
    return np.asarray(np.linalg.eigh(body.inertia_m5)[1][:, 2])
