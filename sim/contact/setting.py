"""Setting a piece down: lift it clear, lower it, let it come to rest, and say how it went."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from sim.contact.assembly import Assembly, Poses, part_of
from sim.contact.distance import OVERLAP_M, clearance, everything_else
from sim.contact.relaxing import Loaded, Relaxed, relax
from sim.units import STANDARD_GRAVITY_M_S2

Floats = NDArray[np.float64]

CLEAR_M = 5.0e-4  # lowering stops this far above what lies below, where seating takes over
LIFT_STEP_M = 2.0e-3
LOWER_SHARE = 0.98  # of the least distance: no step can pass through anything
LOWER_STEPS = 60
FARTHEST_SLIDE_M = 0.02
MOST_STEPS = 600  # a round stone rocks long before it lies still
LOADED_SHARE = 1.0e-3  # of the weight: touches that carry less do not count as support
NON_COLLINEAR_M = 1.0e-3


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
    moved_m: float  # of its centre, from the lowered place
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
    index = int(there[:piece].sum())
    return _verdict(local, start, *_come_to_rest(local, start, index), index)


def bearing(loaded: Loaded, piece: int, weight_n: float) -> NDArray[np.bool_]:
    """Which touches of a piece carry a noticeable share of its weight."""
    mine = (loaded.a == piece) | (loaded.b == piece)
    return np.asarray(mine & (loaded.force_n > LOADED_SHARE * weight_n), dtype=np.bool_)


def spans_an_area(points_m: Floats) -> bool:
    """Whether points (k, 3) are not all within a millimetre of one line."""
    if len(points_m) < 3:
        return False
    spread = np.linalg.svd(points_m - points_m.mean(axis=0), compute_uv=False)
    return bool(spread[1] > NON_COLLINEAR_M)


def _come_to_rest(assembly: Assembly, start: Poses, piece: int) -> tuple[Relaxed, int]:
    """Relax one piece, and how many steps it took.

    A piece that is still on two points only may be tipping too slowly to be seen: it is left to go on
    until it lies on an area, moves away or the steps are used up.
    """
    free = np.zeros(len(assembly.mass_kg), np.bool_)
    free[piece] = True
    poses, steps = start, 0
    while True:
        result = relax(assembly, poses, free, most_steps=MOST_STEPS - steps, farthest_m=FARTHEST_SLIDE_M)
        steps += result.steps
        lies = spans_an_area(result.loaded.point_m[_bearing_one(assembly, result, piece)])
        if lies or not result.at_rest or steps >= MOST_STEPS or _slid(start, result, piece) > FARTHEST_SLIDE_M:
            return result, steps
        poses = result.poses


def _bearing_one(assembly: Assembly, result: Relaxed, piece: int) -> NDArray[np.bool_]:
    return bearing(result.loaded, piece, float(assembly.mass_kg[piece]) * STANDARD_GRAVITY_M_S2)


def _slid(start: Poses, result: Relaxed, piece: int) -> float:
    return float(np.linalg.norm(result.poses.position_m[piece] - start.position_m[piece]))


def _verdict(assembly: Assembly, start: Poses, result: Relaxed, steps: int, piece: int) -> Seated:
    carries = _bearing_one(assembly, result, piece)
    gap = float(np.abs(result.loaded.gap_m[carries]).max(initial=0.0))
    moved = _slid(start, result, piece)
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
