"""One part of a stack: does it stand with the glue that has cured, by how much, and what moves where it falls?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sim.contact import chosen_contacts
from sim.contact.finding import renumbered_contacts
from sim.joints import Joint
from sim.order.problem import Problem, bits
from sim.statics import (
    Feasible,
    Loads,
    Strict,
    System,
    assemble_system,
    critical_tilt,
    limit_joints,
    unsliding,
)
from sim.statics.glued import Glued, fall_motion, glued

Floats = NDArray[np.float64]
Part = tuple[int, int]  # mask of pieces, mask of cured joints

MOVING = 0.02  # of the fastest piece


@dataclass(frozen=True, slots=True)
class Hold:
    """A hand or a prop on one piece."""

    piece: int
    force_n: tuple[float, float, float]  # that it gives
    at_m: tuple[float, float, float] | None  # where a prop stands under it; None: held as a whole


@dataclass(frozen=True, slots=True)
class Standing:
    """What one part does."""

    verdict: Strict
    moving: tuple[int, ...]  # pieces, the fastest first
    holds: tuple[Hold, ...]  # with which it stands; empty when it does anyway, or when nothing helps
    note: str = ""
    settled_m: float = 0.0  # how far it moved until it stood, where the pieces above do not press it down yet
    margin_deg: float | None = None  # where it settled; None: of the part as it is

    @property
    def stands(self) -> bool:
        return self.verdict is Strict.STANDS

    @property
    def held(self) -> bool:
        """Whether it stands, be it with holds."""
        return self.stands or bool(self.holds)


def fall_of(problem: Problem, part: Part) -> Standing:
    """Judge one part, without looking for holds."""
    system, loads, index = system_of(problem, part, ())
    answer = glued(system, loads)
    if answer.verdict is Strict.STANDS:
        return Standing(Strict.STANDS, (), ())
    if answer.verdict is Strict.UNKNOWN:
        return Standing(Strict.UNKNOWN, (), (), answer.note or "the solver gave no sound answer")
    return Standing(Strict.FALLS, moving_in(answer, loads, index, bits(part[0])), ())


def margin_of(problem: Problem, part: Part) -> float:
    """Critical tilt of a part that stands, degrees, on a base that it cannot slide on; nan without an answer."""
    system, loads, _ = system_of(problem, part, ())
    found = critical_tilt(limit_joints(unsliding(system)), loads)
    return found.least_deg if found.status is Feasible.YES else np.nan


def system_of(problem: Problem, part: Part, held: Sequence[int]) -> tuple[System, Loads, dict[int, int]]:
    """Statics of a part: its pieces, those that stand fixed beside it, and its cured joints."""
    pieces, cured = part
    own = np.array(bits(pieces), dtype=np.int64)
    there = np.concatenate([own, np.flatnonzero(problem.fixed)])
    index = {int(piece): k for k, piece in enumerate(there)}
    contacts = problem.contacts
    inside = np.zeros(len(problem.centre_m) + 8, np.bool_)  # a plane's negative index counts from the end
    inside[there] = True
    inside[-8:] = True
    touched = np.zeros(len(problem.centre_m) + 8, np.bool_)
    touched[own] = True
    used = inside[contacts.a] & inside[contacts.b] & (touched[contacts.a] | touched[contacts.b])
    chosen = chosen_contacts(contacts, used)
    numbers = np.arange(len(problem.centre_m))
    numbers[there] = np.arange(len(there))
    chosen = renumbered_contacts(chosen, numbers)
    joints = renumbered([problem.joints[k] for k in bits(cured)], index)
    fixed = problem.fixed[there].copy()
    fixed[[index[piece] for piece in held]] = True
    system = assemble_system(problem.centre_m[there], chosen, fixed, joints)
    return system, loads_of(problem.loads, there), index


def renumbered(joints: Sequence[Joint], index: dict[int, int]) -> tuple[Joint, ...]:
    """The same joints between pieces of other numbers; what has none is the tank."""
    return tuple(replace(joint, a=index.get(joint.a, -1), b=index.get(joint.b, -1)) for joint in joints)


def loads_of(loads: Loads, pieces: NDArray[np.int64]) -> Loads:
    """The loads of some pieces, in their order."""
    return Loads(loads.force_n[pieces], loads.moment_nm[pieces], loads.lift_n[pieces], loads.lift_arm_m[pieces])


def moving_in(answer: Glued, loads: Loads, index: dict[int, int], own: list[int]) -> tuple[int, ...]:
    size = np.abs(fall_motion(answer, loads)).max(axis=1)
    fast = [(-size[index[piece]], piece) for piece in own if size[index[piece]] > MOVING * size.max(initial=0.0)]
    return tuple(piece for _, piece in sorted(fast))
