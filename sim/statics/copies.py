"""The robust margin: does the stack still stand, and how far can it be tilted, if every piece lay a little off?

Copy    the stack with each lump shifted and turned a little, come to rest again on the true meshes.
Lump    pieces glued together: they move as one.

A stack that rests on an edge stands on paper and falls at a touch: among its copies some fall, or
stand with next to no tilt left. Copies are a matter of geometry and are made once, dry; every
state of water judges the same copies under its own loads and friction.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from sim.contact import CONTACT_M, OVERLAP_M, PLANE_NAMES, Assembly, Poses, find_contacts, overlaps, relax
from sim.joints import Joint
from sim.statics.judge import Judgement, Verdict, judge_system
from sim.statics.loads import Loads
from sim.statics.lumps import HELD, carried
from sim.statics.programme import Feasible
from sim.statics.system import assemble_system, limit_joints
from sim.statics.tilt import critical_tilt, unsliding

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

COPIES = 4
SHIFT_M = 2.0e-4
TURN_DEG = 0.06
FELL_M = 0.01  # a point of a piece that has moved farther has not come to rest but fallen
MOST_STEPS = 1200
STEPS_AT_ONCE = 200  # between looks at whether something has fallen
# Seating leaves bearing surfaces 6 um apart as a rule, now and then up to 20 um: `CONTACT_M` allows for that. On
# gently curved or finely faceted stone it also counts a rim of a millimetre or two that nothing bears on, which makes
# a tilt too high by up to its half. Where a narrower reach carries the stack, that is the margin.
NARROW_M = (1.0e-5, 1.5e-5)
MM = 1.0e3


class Fate(Enum):
    """How a copy ended."""

    AT_REST = "at rest"
    FELL = "fell"
    UNKNOWN = "undetermined"


@dataclass(frozen=True, slots=True, eq=False)
class Copy:
    """The stack a little otherwise, and what became of it."""

    poses: Poses  # where it ended
    fate: Fate
    fallen: int  # piece that moved farthest in a fall; -1 where nothing fell
    moved_m: Floats  # (n,) how far the farthest corner of each piece's box is from where it was unchanged
    steps: int
    reason: str = ""  # why there is no answer

    @property
    def at_rest(self) -> bool:
        return self.fate is Fate.AT_REST

    @property
    def fell(self) -> bool:
        return self.fate is Fate.FELL


@dataclass(frozen=True, slots=True, eq=False)
class Robust:
    """The least margin over the copies of one state and the stack as given; nan where no copy gave an answer.

    A copy that fell, comes down under these loads or lives on wedging counts with a tilt of 0.
    """

    least_tilt_deg: float  # sliding on the base included, as `Equilibrium.critical_tilt_deg`
    least_stack_tilt_deg: float  # on a base that it cannot slide on, as `Equilibrium.stack_tilt_deg`
    copies: int  # that gave an answer
    tilts_deg: Floats  # (c,) per copy, nan without an answer
    stack_tilts_deg: Floats  # (c,)
    falls: int  # copies that fell or come down
    moving: tuple[int, ...]  # pieces that set out, in the copy with the least tilt
    unknown: str  # why some copy gave no answer, else empty; only a least tilt of 0 is certain in spite of it


def shaken(
    assembly: Assembly,
    poses: Poses,
    lumps: Ints | None = None,
    count: int = COPIES,
    shift_m: float = SHIFT_M,
    turn_deg: float = TURN_DEG,
    seed: int = 1,
    most_steps: int = MOST_STEPS,
    workers: int | None = None,
    progress: Callable[[int, int], None] | None = None,
    names: Sequence[str] | None = None,
) -> tuple[Copy, ...]:
    """Make copies of a stack whose lumps lie a little off, and let each come to rest.

    Parameters
    ----------
    assembly, poses : the stack; its friction is that of the copies
    lumps : (n,) labels, pieces with the same label are glued and move as one; `HELD` (-1): glued to the
        tank. A lump with a fixed piece is fixed. Default: no glue
    count : copies wanted
    shift_m : each free lump is shifted by up to this along each axis, evenly distributed
    turn_deg : and turned by up to this about a random axis through its centre of mass
    seed : of the changes; copy k is the same whatever the count
    most_steps : of relaxation; a copy still on its way then is undetermined
    workers : threads, default one per core; compiled code runs outside Python's lock
    progress : called in this thread with (copies done, copies in all)
    names : of the pieces, for the reasons; default their numbers

    Returns
    -------
    tuple of Copy
        'at rest' only where everything lies still and no two pieces share space.
    """
    label = np.arange(len(assembly.mass_kg)) if lumps is None else np.asarray(lumps, np.int64)
    held = np.isin(label, np.append(label[assembly.fixed], HELD))
    # pressed out of each other, pieces may fly off or jam: that says nothing about the stack
    called = [f"piece {k}" for k in range(len(label))] if names is None else names
    inside = _jam(assembly, poses, label, held, max(OVERLAP_M, shift_m), called)

    def work(k: int) -> Copy:
        if inside:
            return Copy(poses, Fate.UNKNOWN, -1, np.zeros(len(label)), 0, f"as given, {inside}")
        start = shifted(assembly, poses, label, held, shift_m, turn_deg, np.random.default_rng([seed, k]))
        return _come_to_rest(assembly, poses, start, label, held, most_steps, called)

    copies: list[Copy] = []
    with ThreadPoolExecutor(max(1, min(count, workers or os.cpu_count() or 1))) as pool:
        for copy in pool.map(work, range(count)):
            copies.append(copy)
            if progress is not None:
                progress(len(copies), count)
    return tuple(copies)


def shifted(
    assembly: Assembly,
    poses: Poses,
    label: Ints,
    held: NDArray[np.bool_],
    shift_m: float,
    turn_deg: float,
    rng: np.random.Generator,
) -> Poses:
    """Poses with each lump that is not held shifted and turned about its centre of mass."""
    rotation, position = poses.rotation.copy(), poses.position_m.copy()
    for lump in np.unique(label):
        # drawn for held ones too, so that fixing one piece leaves the changes of the others as they are
        shift = rng.uniform(-shift_m, shift_m, 3)
        axis = rng.normal(size=3)
        turn = Rotation.from_rotvec(axis / np.linalg.norm(axis) * np.radians(rng.uniform(-turn_deg, turn_deg)))
        own = np.flatnonzero((label == lump) & ~held)
        if not len(own):
            continue
        centre = np.average(poses.position_m[own], axis=0, weights=assembly.mass_kg[own])
        rotation[own] = turn.as_matrix() @ poses.rotation[own]
        position[own] = centre + shift + turn.apply(poses.position_m[own] - centre)
    return Poses(rotation, position)


def robust(
    copies: Sequence[Copy],
    assembly: Assembly,
    nominal: Poses,
    loads_of: Callable[[Poses], Loads],
    joints: Sequence[Joint] = (),
    reach_m: float = CONTACT_M,
    workers: int | None = None,
) -> Robust:
    """Judge copies under the loads and friction of one state, and report the least margin.

    Parameters
    ----------
    copies : from `shaken`
    assembly : with the friction of the state, dry or wet
    nominal : poses at which the joints are given
    loads_of : loads of the state at given poses
    joints : glued ones, at the nominal poses; each goes where its piece goes
    reach_m : gaps below this count as contact. Up to `CONTACT_M` each copy is judged on the narrowest reach
        that carries it, from `NARROW_M` on
    workers : threads, default one per core

    Returns
    -------
    Robust
        Compare `least_tilt_deg` with `Equilibrium.critical_tilt_deg` of the stack as given.
    """

    def work(copy: Copy) -> _Answer:
        return _judged(copy, assembly, nominal, loads_of, joints, reach_m)

    if not copies:
        return Robust(np.nan, np.nan, 0, np.zeros(0), np.zeros(0), 0, (), "no copy was made")
    with ThreadPoolExecutor(max(1, min(len(copies), workers or os.cpu_count() or 1))) as pool:
        answers = list(pool.map(work, copies))
    tilts = np.array([answer.tilt_deg for answer in answers])
    stack = np.array([answer.stack_tilt_deg for answer in answers])
    known = [answer for answer in answers if not answer.unknown]
    # Copies that were pressed together stay up to 14 um inside each other, so that more of their rims touch. The
    # stack as given, where it stands, bounds the margin too; that it does not stand is said elsewhere.
    if known and not any(answer.falls for answer in known):
        given = work(Copy(nominal, Fate.AT_REST, -1, np.zeros(len(assembly.mass_kg)), 0))
        known += [] if given.unknown or given.falls else [given]
    lowest = min(known, key=lambda answer: np.nan_to_num(answer.tilt_deg, nan=np.inf), default=None)
    return Robust(
        least_tilt_deg=_least(np.array([answer.tilt_deg for answer in known])),
        least_stack_tilt_deg=_least(np.array([answer.stack_tilt_deg for answer in known])),
        copies=sum(not answer.unknown for answer in answers),
        tilts_deg=tilts,
        stack_tilts_deg=stack,
        falls=sum(answer.falls for answer in answers),
        moving=lowest.moving if lowest else (),
        unknown=next((answer.unknown for answer in answers if answer.unknown), ""),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Answer:
    tilt_deg: float
    stack_tilt_deg: float
    falls: bool
    moving: tuple[int, ...]
    unknown: str = ""


def _come_to_rest(
    assembly: Assembly,
    nominal: Poses,
    start: Poses,
    label: Ints,
    held: NDArray[np.bool_],
    most_steps: int,
    names: Sequence[str],
) -> Copy:
    now, steps = start, 0
    while True:
        relaxed = relax(assembly, now, ~held, None, min(STEPS_AT_ONCE, most_steps - steps), FELL_M, label)
        steps += relaxed.steps
        last, now = now, relaxed.poses
        moved = _farthest(assembly, nominal, now)
        if moved.max(initial=0.0) > FELL_M:
            return Copy(now, Fate.FELL, int(moved.argmax()), moved, steps)
        if relaxed.at_rest:
            jam = _jam(assembly, now, label, held, OVERLAP_M, names)
            return Copy(now, Fate.UNKNOWN if jam else Fate.AT_REST, -1, moved, steps, jam)
        if steps >= most_steps:
            stride_m = float(_farthest(assembly, last, now).max(initial=0.0)) / max(relaxed.steps, 1)
            reason = f"{names[int(moved.argmax())]} still moves after {steps} steps, {stride_m * MM:.4f} mm in each"
            return Copy(now, Fate.UNKNOWN, -1, moved, steps, reason)


def _farthest(assembly: Assembly, one: Poses, other: Poses) -> Floats:
    """How far (n,) the corners of each piece's box lie apart in two poses, the farthest one."""
    low, high = assembly.bodies.low, assembly.bodies.high
    pick = np.array(np.meshgrid([0, 1], [0, 1], [0, 1], indexing="ij")).reshape(3, 8).T == 1
    corner = np.where(pick[None], high[:, None], low[:, None])
    apart = np.einsum("nij,nkj->nki", other.rotation - one.rotation, corner)
    apart += (other.position_m - one.position_m)[:, None]
    return np.asarray(np.linalg.norm(apart, axis=2).max(axis=1, initial=0.0), dtype=np.float64)


def _jam(
    assembly: Assembly,
    poses: Poses,
    label: Ints,
    held: NDArray[np.bool_],
    deeper_than_m: float,
    names: Sequence[str],
) -> str:
    """What lies inside something else, in words; empty where nothing does."""
    for overlap in overlaps(assembly, poses, deeper_than_m):
        a, b = overlap.a, overlap.b
        if held[a] and (b < 0 or held[b]):
            continue
        if b < 0 or label[a] != label[b]:
            other = PLANE_NAMES[b] if b < 0 else names[b]
            return f"{names[a]} lies inside {other}, {overlap.depth_m * MM:.3f} mm deep"
    return ""


def _judged(
    copy: Copy,
    assembly: Assembly,
    nominal: Poses,
    loads_of: Callable[[Poses], Loads],
    joints: Sequence[Joint],
    reach_m: float,
) -> _Answer:
    if copy.fate is Fate.FELL:
        return _Answer(0.0, 0.0, True, (copy.fallen,))
    if copy.fate is Fate.UNKNOWN:
        return _Answer(np.nan, np.nan, False, (), copy.reason)
    loads = loads_of(copy.poses)
    found = _on_narrowest(assembly, copy.poses, loads, carried(joints, nominal, copy.poses), reach_m)
    moving = tuple(motion.piece for motion in found.moving)
    if found.verdict is Verdict.UNKNOWN:
        return _Answer(np.nan, np.nan, False, (), f"a copy: {found.reason.value}" + (found.note and f" ({found.note})"))
    if found.verdict is Verdict.FALLS:
        return _Answer(0.0, 0.0, True, moving or found.pieces)
    if found.margins is None:
        return _Answer(np.nan, np.nan, False, ())
    return _Answer(found.margins.critical_tilt_deg, _stack_tilt(found, loads), False, moving)


def _on_narrowest(
    assembly: Assembly, poses: Poses, loads: Loads, joints: tuple[Joint, ...], reach_m: float
) -> Judgement:
    """The judgement on the narrowest reach by which the stack stands; by the widest, whatever it says."""
    narrower = [reach for reach in NARROW_M if reach < reach_m <= CONTACT_M]
    for reach in [*narrower, reach_m]:
        contacts = find_contacts(assembly, poses, reach)
        found = judge_system(assemble_system(poses.position_m, contacts, assembly.fixed, joints), loads, quick=True)
        if found.verdict is Verdict.STANDS:
            break
    return found


def _stack_tilt(found: Judgement, loads: Loads) -> float:
    margins = found.margins
    if margins is None or not np.isnan(margins.stack_tilt_deg) or np.isnan(margins.critical_tilt_deg):
        return np.nan if margins is None else margins.stack_tilt_deg
    stuck = critical_tilt(unsliding(limit_joints(found.system)), loads)
    return stuck.least_deg if stuck.status is Feasible.YES else np.nan


def _least(values: Floats) -> float:
    known = values[~np.isnan(values)]
    return float(known.min()) if len(known) else np.nan
