"""Partial stacks as states: does what is set so far stand, with the joints that have cured by then?

Pieces that touch or are joined make a part; parts stand by themselves, so each is judged once, whatever else is set.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from sim.contact import BASE, chosen_contacts
from sim.joints import Joint
from sim.order.problem import Problem, bits
from sim.statics import (
    Feasible,
    Loads,
    Strict,
    System,
    assemble_system,
    collapse_motion,
    critical_tilt,
    limit_joints,
    unsliding,
)
from sim.statics.glued import Glued, glued

Floats = NDArray[np.float64]
Part = tuple[int, int]  # mask of pieces, mask of cured joints
Answer = TypeVar("Answer")

BATCH = 24  # parts judged in one task of an executor
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


def judge_part(problem: Problem, part: Part) -> Standing:
    """Judge one part, and where it falls find the fewest holds, greedily, with which it stands."""
    own = bits(part[0])
    system, loads, index = _system(problem, part, ())
    answer = glued(system, loads)
    if answer.verdict is Strict.STANDS:
        return Standing(Strict.STANDS, (), ())
    if answer.verdict is Strict.UNKNOWN:
        return Standing(Strict.UNKNOWN, (), (), answer.note or "the solver gave no sound answer")
    moving = _moving(answer, loads, index, own)
    return Standing(Strict.FALLS, moving, _holds(problem, part, moving))


def margin_of(problem: Problem, part: Part) -> float:
    """Critical tilt of a part that stands, degrees, on a base that it cannot slide on; nan without an answer."""
    system, loads, _ = _system(problem, part, ())
    found = critical_tilt(limit_joints(unsliding(system)), loads)
    return found.least_deg if found.status is Feasible.YES else np.nan


def _system(problem: Problem, part: Part, held: Sequence[int]) -> tuple[System, Loads, dict[int, int]]:
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
    new = np.arange(len(inside))
    new[there] = np.arange(len(there))
    chosen = replace(
        chosen,
        a=np.where(chosen.a >= 0, new[np.maximum(chosen.a, 0)], chosen.a),
        b=np.where(chosen.b >= 0, new[np.maximum(chosen.b, 0)], chosen.b),
    )
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


def _moving(answer: Glued, loads: Loads, index: dict[int, int], own: list[int]) -> tuple[int, ...]:
    if answer.feasibility.status is Feasible.YES:
        motion = answer.strict.motion
    else:
        found = collapse_motion(answer.left, loads)
        motion = answer.feasibility.mechanism if found is None else found
    size = np.abs(motion).max(axis=1)
    fast = [(-size[index[piece]], piece) for piece in own if size[index[piece]] > MOVING * size.max(initial=0.0)]
    return tuple(piece for _, piece in sorted(fast))


def _holds(problem: Problem, part: Part, moving: tuple[int, ...]) -> tuple[Hold, ...]:
    """Where to hold: a prop under the edge of one moving piece if that is enough, else hands on as few as possible."""
    for piece in moving:
        spots = zip(problem.edges_m[piece], problem.beneath[piece], strict=True)
        # what is set later is not in the way yet; the prop is gone by then
        free = [at_m for at_m, under in spots if not under & part[0]]
        props = [prop for at_m in free if (prop := _propped(problem, part, piece, at_m))]
        if props:
            return (min(props, key=lambda prop: prop.force_n[2]),)
    held: list[int] = []
    while moving:
        for piece in moving:
            holds, _ = _held(problem, part, [*held, piece])
            if holds:
                return holds
        held.append(moving[0])
        _, moving = _held(problem, part, held)
    return ()


def _propped(problem: Problem, part: Part, piece: int, at_m: Floats) -> Hold | None:
    """A prop without friction under one point of a piece, where the part then stands."""
    system, loads, index = _system(problem, part, ())
    contacts = system.contacts
    area_m2 = float(contacts.area_m2.mean()) if len(contacts.a) else 1.0e-4
    more = replace(
        contacts,
        a=np.append(contacts.a, index[piece]),
        b=np.append(contacts.b, BASE),
        point_m=np.vstack([contacts.point_m, at_m]),
        normal=np.vstack([contacts.normal, [0.0, 0.0, 1.0]]),
        gap_m=np.append(contacts.gap_m, 0.0),
        area_m2=np.append(contacts.area_m2, area_m2),
        patch=np.append(contacts.patch, contacts.patch.max(initial=-1) + 1),
        mu=np.append(contacts.mu, 0.0),
    )
    answer = glued(assemble_system(system.centre_m, more, ~system.free, system.joints), loads)
    if answer.verdict is not Strict.STANDS:
        return None
    x, y, z = (float(value) for value in at_m)
    return Hold(piece, (0.0, 0.0, float(answer.strict.forces_n[-1, 0])), (x, y, z))


def _held(problem: Problem, part: Part, held: list[int]) -> tuple[tuple[Hold, ...], tuple[int, ...]]:
    """What the hands give when these pieces are held; empty, and what then moves, when it still falls."""
    system, loads, index = _system(problem, part, held)
    answer = glued(system, loads)
    if answer.verdict is Strict.UNKNOWN:
        return (), ()
    if answer.verdict is Strict.FALLS:
        free = [piece for piece in bits(part[0]) if piece not in held]
        return (), _moving(answer, loads, index, free)
    return tuple(Hold(piece, _given(answer, loads, index[piece]), None) for piece in held), ()


def _given(answer: Glued, loads: Loads, k: int) -> tuple[float, float, float]:
    """Force that a hand gives to a piece: what its neighbours leave of its weight."""
    system, contacts = answer.left, answer.left.contacts
    force = np.einsum("ki,kij->kj", answer.strict.forces_n, system.frame)
    total = loads.force_n[k] + force[contacts.a == k].sum(axis=0) - force[contacts.b == k].sum(axis=0)
    for joint, wrench in zip(system.joints, answer.strict.joints_n, strict=True):
        pull = joint.patch.axes.T @ np.array([wrench[0], wrench[1], wrench[2]])
        total = total - pull * (joint.a == k) + pull * (joint.b == k)
    x, y, z = (float(-value) for value in total)
    return (x, y, z)


Reseat = Callable[[Part], Standing | None]


class PartialStacks:
    """Judges sets of units with sets of cured joints; every part once.

    Parameters
    ----------
    executor : of `concurrent.futures`, or alike; default none
    reseat : lets a part that falls as it is come to rest a little beside, see `sim.order.reseating`; its answer
        counts where it has one. Default: a part is judged as it is
    """

    def __init__(self, problem: Problem, executor: Executor | None = None, reseat: Reseat | None = None) -> None:
        self.problem, self.executor, self.reseat = problem, executor, reseat
        self.standing: dict[Part, Standing] = {}
        self.margins: dict[Part, float] = {}
        self._parts: dict[tuple[int, int], tuple[Part, ...]] = {}
        count = len(problem.names)
        self._touch = [0] * count
        contacts = problem.contacts
        both = (contacts.a >= 0) & (contacts.b >= 0)
        for a, b in zip(contacts.a[both], contacts.b[both], strict=True):
            if not problem.fixed[a] and not problem.fixed[b]:
                self._touch[a] |= 1 << int(b)
                self._touch[b] |= 1 << int(a)

    def parts(self, units: int, cured: int) -> tuple[Part, ...]:
        """The parts into which a partial stack falls."""
        key = (units, cured)
        if key not in self._parts:
            self._parts[key] = self._divided(units, cured)
        return self._parts[key]

    def _divided(self, units: int, cured: int) -> tuple[Part, ...]:
        problem = self.problem
        left, found = problem.pieces_in(units), []
        joined = [(k, problem.joint_pieces[k]) for k in bits(cured)]
        while left:
            part, edge = 0, left & -left
            while edge:
                part |= edge
                reach = 0
                for piece in bits(edge):
                    reach |= self._touch[piece]
                for _, pair in joined:
                    if pair & edge:
                        reach |= pair
                edge = reach & problem.pieces_in(units) & ~part
            found.append((part, sum(1 << k for k, pair in joined if pair & part)))
            left &= ~part
        return tuple(found)

    def prepare(self, states: Iterable[tuple[int, int]], margins: bool = False) -> None:
        """Judge the parts of many partial stacks, in the executor where there is one."""
        wanted = list(dict.fromkeys(part for state in states for part in self.parts(*state)))
        new = [part for part in wanted if part not in self.standing]
        for part, answer in zip(new, self._run(judge_part, new), strict=True):
            if answer.verdict is Strict.FALLS and self.reseat is not None:
                answer = self.reseat(part) or answer
            self.standing[part] = answer
        if margins:
            new = [part for part in wanted if part not in self.margins and self.standing[part].stands]
            self.margins |= {p: self.standing[p].margin_deg or 0.0 for p in new if self.standing[p].settled_m > 0.0}
            new = [part for part in new if part not in self.margins]
            for part, margin in zip(new, self._run(margin_of, new), strict=True):
                self.margins[part] = margin

    def _run(self, work: Callable[[Problem, Part], Answer], parts: list[Part]) -> list[Answer]:
        batches = [parts[k : k + BATCH] for k in range(0, len(parts), BATCH)]
        if self.executor is None or len(batches) < 2:
            return _batch(work, self.problem, parts)
        futures = [self.executor.submit(_batch, work, self.problem, batch) for batch in batches]
        return [answer for future in futures for answer in future.result()]

    def judged(self, units: int, cured: int) -> list[Standing]:
        """Answers for all parts of a partial stack."""
        self.prepare([(units, cured)])
        return [self.standing[part] for part in self.parts(units, cured)]

    def margin_deg(self, units: int, cured: int) -> float:
        """Least critical tilt over the parts that stand by themselves; 90 where none does, nan where one is not known.

        What is held bears what the hands do: a hold counts as a hold and not as a margin too.
        """
        self.prepare([(units, cured)], margins=True)
        margins = [self.margins[part] for part in self.parts(units, cured) if self.standing[part].stands]
        return float(np.min(margins)) if margins else 90.0


def _batch(work: Callable[[Problem, Part], Answer], problem: Problem, parts: list[Part]) -> list[Answer]:
    return [work(problem, part) for part in parts]
