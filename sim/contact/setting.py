"""Setting a piece down: lift it clear, lower it, let it come to rest, and say how it went."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from sim.contact.assembly import Assembly, Poses, part_of
from sim.contact.distance import OVERLAP_M, clearance, everything_else
from sim.contact.relaxing import Loaded, Relaxed, nothing_loaded, relax
from sim.units import STANDARD_GRAVITY_M_S2

Floats = NDArray[np.float64]

CLEAR_M = 5.0e-4  # lowering stops this far above what lies below, where seating takes over
LIFT_STEP_M = 2.0e-3
LOWER_SHARE = 0.98  # of the least distance: no step can pass through anything
LOWER_STEPS = 60
FARTHEST_SLIDE_M = 0.02
MOST_STEPS = 600  # a round stone rocks long before it lies still
LOADED_SHARE = 1.0e-3  # of the weight: touches that carry less do not count as support
NON_COLLINEAR_M = 1.0e-4
NARROW_M = 1.0e-3  # what lies on a strip narrower than this must find its rest again when it is rocked
DROP_STEPS = 2
FALLS_SHARE = 0.5  # of the weight: what carries less does not hold a piece that goes straight down, it falls
STRAIGHT_SHARE, STRAIGHT_M = 0.2, 2.0e-3  # of the fall, and what a touch on the way may add
SPELL_STEPS = 100  # after so many steps the walk is looked at
TEETERS_M = 3.0e-4  # what has turned and moved less in a spell, and lies on a line, is balancing
LINE_RESTS = 3  # a piece that is still on a line is let go again so often, for it may be tipping slowly
ROCK_DEG = 2.0  # a hand rocks a stone that lies on a line or a narrow strip by so much to either side
MOVING_SHARE = 0.95  # of the friction: stones that move come to rest with a little in reserve


class Rest(Enum):
    """How setting down ended."""

    AT_REST = "at rest"
    NO_ROOM = "no free room above where it was put"
    SLID = "slides or topples away from where it was put"
    UNEASY = "does not come to rest"
    OVERLAPS = "would end inside its neighbour"
    TOO_FEW = "rests on fewer than three points that span an area"
    OUTSIDE = "leaves the tank"
    GIVES_WAY = "gives way under what was set on it"
    AS_IT_IS = "left as it is, not examined"


@dataclass(frozen=True, slots=True, eq=False)
class Seated:
    """One piece after setting down."""

    rest: Rest
    rotation: Floats  # (3, 3)
    position_m: Floats  # (3,)
    moved_m: float  # of its centre, from where it first touched
    gap_m: float  # widest gap among the contacts that bear
    steps: int


def set_down(assembly: Assembly, poses: Poses, piece: int, onto: NDArray[np.bool_] | None = None) -> Seated:
    """Set one piece down onto others that stand still.

    Parameters
    ----------
    onto : (n,) bool; pieces that are there already, default all others. The rest is ignored.

    Returns
    -------
    Seated
        `rest` is `Rest.AT_REST` only when the piece lies still on three or more points that span
        an area, each within 20 um, and nothing overlaps. Otherwise it names the reason, with the
        last pose reached.
    """
    count = len(assembly.mass_kg)
    there = np.ones(count, np.bool_) if onto is None else np.asarray(onto, np.bool_).copy()
    there[piece] = True
    others = everything_else(assembly, piece)
    others = others[(others < 0) | there[np.maximum(others, 0)]]
    position = _lifted(assembly, poses, piece, others)
    if position is None:
        return Seated(Rest.NO_ROOM, poses.rotation[piece].copy(), poses.position_m[piece].copy(), 0.0, 0.0, 0)
    position = _lowered(assembly, poses, piece, others, position)
    local, start = part_of(assembly, _with_position(poses, piece, position), there)
    local = replace(local, friction=MOVING_SHARE * local.friction)
    index = int(there[:piece].sum())
    start = _dropped(local, start, index)
    around = everything_else(local, index)
    return _verdict(local, start, *_come_to_rest(local, start, index, around), index)


def bearing(loaded: Loaded, piece: int, weight_n: float) -> NDArray[np.bool_]:
    """Which touches of a piece carry a noticeable share of its weight."""
    mine = (loaded.a == piece) | (loaded.b == piece)
    return np.asarray(mine & (loaded.force_n > LOADED_SHARE * weight_n), dtype=np.bool_)


def spans_an_area(points_m: Floats, wider_than_m: float = NON_COLLINEAR_M) -> bool:
    """Whether points (k, 3) lie farther than that from every line: three or more do, two never."""
    if len(points_m) < 3:
        return False
    spread = np.linalg.svd(points_m - points_m.mean(axis=0), compute_uv=False)
    return bool(spread[1] > wider_than_m)


def _dropped(assembly: Assembly, poses: Poses, piece: int) -> Poses:
    """Where a piece first bears: lowering also stops beside a wall that is near, and from there it falls on.

    It may brush the wall on its way, but goes straight down and does not turn: else it slides or topples.
    """
    free = np.arange(len(assembly.mass_kg)) == piece
    weight_n = float(assembly.mass_kg[piece]) * STANDARD_GRAVITY_M_S2
    now = poses
    for _ in range(MOST_STEPS // DROP_STEPS):
        result = relax(assembly, now, free, most_steps=DROP_STEPS)
        mine = (result.loaded.a == piece) | (result.loaded.b == piece)
        carried = float(result.loaded.force_n[mine].sum()) / weight_n
        aside, turned_m = _strayed(assembly, poses, result.poses, piece)
        fell_m = float(poses.position_m[piece, 2] - result.poses.position_m[piece, 2])
        if carried > FALLS_SHARE or aside + turned_m > STRAIGHT_M + STRAIGHT_SHARE * fell_m:
            break
        now = result.poses
    return now


def _strayed(assembly: Assembly, start: Poses, now: Poses, piece: int) -> tuple[float, float]:
    """How far a piece has gone sideways, and the most that any point has moved by its turning, m."""
    turn = Rotation.from_matrix(now.rotation[piece] @ start.rotation[piece].T).magnitude()
    aside = np.linalg.norm((now.position_m[piece] - start.position_m[piece])[:2])
    return float(aside), float(turn * assembly.bodies.radius[piece])


def _come_to_rest(assembly: Assembly, start: Poses, piece: int, others: NDArray[np.int64]) -> tuple[Relaxed, int]:
    """Relax one piece, and how many steps it took.

    A piece that lies on a line or a narrow strip is rocked to both sides, as a hand would do, and let go again.
    It stays in the wider rest that it finds so, or in the narrow one where it finds rest again from both sides.
    What tips over from either side only balanced, and is called still on too few points.
    """
    result, steps = _walk(assembly, start, start, piece)
    if _slid(start, result.poses, piece) > FARTHEST_SLIDE_M or _lies(assembly, result, piece, NARROW_M):
        return result, steps
    both, narrow = True, result
    for rocked in _rocked(assembly, result, piece):
        position = _lifted(assembly, rocked, piece, others)
        if position is None:
            continue
        again = _with_position(rocked, piece, _lowered(assembly, rocked, piece, others, position))
        other, more = _walk(assembly, again, start, piece)
        steps += more
        found = other.at_rest and _slid(start, other.poses, piece) <= FARTHEST_SLIDE_M
        if found and _lies(assembly, other, piece, NARROW_M):
            return other, steps
        both = both and found and _lies(assembly, other, piece, NON_COLLINEAR_M)
        narrow = narrow if narrow.at_rest else other
    return (narrow if both else replace(result, loaded=nothing_loaded())), steps


def _walk(assembly: Assembly, poses: Poses, start: Poses, piece: int) -> tuple[Relaxed, int]:
    """Relax until the piece lies still, is too far from its start, balances or has used up the steps."""
    free = np.zeros(len(assembly.mass_kg), np.bool_)
    free[piece] = True
    steps = rests = 0
    while True:
        left_m = max(FARTHEST_SLIDE_M - _slid(start, poses, piece), TEETERS_M)
        spell = min(SPELL_STEPS, MOST_STEPS - steps)
        result = relax(assembly, poses, free, most_steps=spell, farthest_m=left_m)
        steps += result.steps
        rests += result.at_rest
        lies = _lies(assembly, result, piece, NON_COLLINEAR_M)
        ended = result.at_rest and (lies or rests >= LINE_RESTS)
        if ended or steps >= MOST_STEPS or _slid(start, result.poses, piece) > FARTHEST_SLIDE_M:
            return result, steps
        strayed_m = float(result.moved_m[piece]) + _strayed(assembly, poses, result.poses, piece)[1]
        if not result.at_rest and strayed_m < TEETERS_M and not lies:
            return result, steps
        poses = result.poses


def _lies(assembly: Assembly, result: Relaxed, piece: int, wider_than_m: float) -> bool:
    return spans_an_area(result.loaded.point_m[_bearing_one(assembly, result, piece)], wider_than_m)


def _rocked(assembly: Assembly, result: Relaxed, piece: int) -> list[Poses]:
    """The piece turned about the line on which it balances: to where its centre leans, and the other way."""
    points = result.loaded.point_m[_bearing_one(assembly, result, piece)]
    if len(points) == 0:
        return []
    middle = points.mean(axis=0)
    along = np.linalg.svd(points - middle)[2][0] if len(points) > 1 else np.array([1.0, 0.0, 0.0])
    arm = result.poses.position_m[piece] - middle
    lean = np.array([arm[1], -arm[0], 0.0]) @ along  # turning about `along` by this sign lowers the centre
    found = []
    for sign in (1.0, -1.0):
        turn = Rotation.from_rotvec(-sign * np.radians(ROCK_DEG) * (1.0 if lean >= 0 else -1.0) * along).as_matrix()
        rotation, position = result.poses.rotation.copy(), result.poses.position_m.copy()
        rotation[piece], position[piece] = turn @ rotation[piece], middle + turn @ arm
        found.append(Poses(rotation, position))
    return found


def _bearing_one(assembly: Assembly, result: Relaxed, piece: int) -> NDArray[np.bool_]:
    return bearing(result.loaded, piece, float(assembly.mass_kg[piece]) * STANDARD_GRAVITY_M_S2)


def _slid(start: Poses, now: Poses, piece: int) -> float:
    return float(np.linalg.norm(now.position_m[piece] - start.position_m[piece]))


def _verdict(assembly: Assembly, start: Poses, result: Relaxed, steps: int, piece: int) -> Seated:
    carries = _bearing_one(assembly, result, piece)
    gap = float(np.abs(result.loaded.gap_m[carries]).max(initial=0.0))
    moved = _slid(start, result.poses, piece)
    if moved > FARTHEST_SLIDE_M:
        rest = Rest.SLID
    elif not result.at_rest:
        rest = Rest.UNEASY
    elif clearance(assembly, result.poses, piece, everything_else(assembly, piece), 1e-3) < -OVERLAP_M:
        rest = Rest.OVERLAPS
    elif not spans_an_area(result.loaded.point_m[carries]):
        rest = Rest.TOO_FEW
    else:
        rest = Rest.AT_REST
    return Seated(rest, result.poses.rotation[piece], result.poses.position_m[piece], moved, gap, steps)


def _with_position(poses: Poses, piece: int, position: Floats) -> Poses:
    moved = poses.position_m.copy()
    moved[piece] = position
    return Poses(poses.rotation, moved)


def _lifted(assembly: Assembly, poses: Poses, piece: int, others: NDArray[np.int64]) -> Floats | None:
    """The lowest place at or above the given one, in steps, where nothing is touched."""
    position: Floats = poses.position_m[piece].copy()
    low, high = assembly.bodies.low, assembly.bodies.high
    tallest = float(np.linalg.norm(high - low, axis=1).max(initial=0.0))
    ceiling = float(poses.position_m[:, 2].max(initial=0.0)) + 2.0 * tallest
    while position[2] <= ceiling:
        gap = clearance(assembly, _with_position(poses, piece, position), piece, others, CLEAR_M)
        if gap >= CLEAR_M * 0.5:
            return position
        position[2] += max(LIFT_STEP_M, -gap * 0.5)
    return None


def _lowered(assembly: Assembly, poses: Poses, piece: int, others: NDArray[np.int64], position: Floats) -> Floats:
    """Straight down until something is `CLEAR_M` away."""
    position = position.copy()
    for _ in range(LOWER_STEPS):
        gap = clearance(assembly, _with_position(poses, piece, position), piece, others, 1.0)
        if gap < CLEAR_M:
            break
        position[2] -= gap * LOWER_SHARE
    return position
