"""Copies of a stack in which every piece lies a little off, and how each comes to rest.

Copy    the stack with each lump shifted and turned a little, come to rest again on the true meshes.
Lump    pieces glued together: they move as one.

Copies are a matter of geometry and are made once, dry; `robust` judges them in every state.
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

from sim.contact import OVERLAP_M, PLANE_NAMES, Assembly, Poses, overlaps, relax
from sim.statics.lumps import HELD

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

COPIES = 4
SHIFT_M = 2.0e-4
TURN_DEG = 0.06
FELL_M = 0.01  # a point of a piece that has moved farther has not come to rest but fallen
MOST_STEPS = 1200
STEPS_AT_ONCE = 200  # between looks at whether something has fallen
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
