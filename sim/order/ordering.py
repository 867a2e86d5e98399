"""An order of setting, step by step, in a builder's terms."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from typing import Literal

from sim.errors import BedjointError
from sim.order.carrying import circle_in
from sim.order.judging import Hold
from sim.order.moves import Move
from sim.order.partial import PartialStacks, Reseat
from sim.order.problem import Problem, bits
from sim.order.reasons import circle_words, why_none, why_not
from sim.order.search import Found, search
from sim.units import MM_PER_M

OrderVerdict = Literal["stands at every step", "needs holds", "no order", "undetermined"]
Tell = Callable[[str, int, int], None]


@dataclass(frozen=True, slots=True)
class HoldStep:
    """A hand or prop on one piece, from a step on."""

    piece: str
    force_n: tuple[float, float, float]  # that it gives: right, back, up
    at_mm: tuple[float, float, float] | None  # where a prop stands under it; None: held as a whole
    until: str  # 'the glue of ... has set', '... is set', or 'the end'


@dataclass(frozen=True, slots=True)
class Step:
    """One step of an order."""

    number: int
    unit: str  # piece or module that is set
    pieces: tuple[str, ...]
    rests_on: tuple[str, ...]  # pieces or 'base'
    way_in: str
    wait_first: tuple[tuple[str, str], ...]  # joints that must have cured before this step
    wait_h: float
    joints: tuple[tuple[str, str], ...]  # made in this step
    margin_deg: float | None  # of what stands after it; None while it is held
    holds: tuple[HoldStep, ...]  # that begin here
    holding: tuple[str, ...]  # pieces that are held while this step ends
    settles_mm: float = 0.0  # how far pieces still move here, until the next ones press them down


@dataclass(frozen=True, slots=True)
class Order:
    """The answer: an order, or why there is none."""

    verdict: OrderVerdict
    reason: str
    steps: tuple[Step, ...]
    holds: int
    worst_margin_deg: float | None
    worst_step: int | None
    waits: int
    wait_h: float
    proved: bool  # nothing was left out of the search
    states: int  # parts of the stack that were judged
    fails_at: int | None = None  # step of a given order that fails


def best_order(
    problem: Problem,
    budget_s: float = 20.0,
    executor: Executor | None = None,
    progress: Tell | None = None,
    reseat: Reseat | None = None,
) -> Order:
    """Find the best order; see `sim.order.search` for what is best.

    Parameters
    ----------
    budget_s : after so long the best order found so far is the answer
    executor : any of `concurrent.futures`; default none, all in this process
    reseat : see `PartialStacks`

    Returns
    -------
    Order
        'no order' only when it is proved that there is none; a search that ran out of time is 'undetermined'.
    """
    circle = circle_in(problem.needs)
    if circle:
        return _none(circle_words(problem, circle), True)
    stacks = PartialStacks(problem, executor, reseat)
    everything, joints = problem.everything, problem.joints_in(problem.everything)
    finished = stacks.judged(everything, joints)
    if any(not one.stands for one in finished):
        one = next(one for one in finished if not one.stands)
        what = "is not known to stand" if one.note else "does not stand"
        moving = ", ".join(problem.names[piece] for piece in one.moving[:3])
        return _none(
            f"the finished stack {what}{f' ({moving})' if moving else ''}: {one.note or 'see the check'}", True
        )
    found = search(stacks, budget_s, progress=progress)
    if found.moves is None:
        return _none(why_none(stacks, found, budget_s), found.proved, len(stacks.standing))
    return described(stacks, found.moves, found.proved)


def try_order(
    problem: Problem, names: Sequence[str], executor: Executor | None = None, reseat: Reseat | None = None
) -> Order:
    """Judge a given order step by step, with waits where they help.

    Raises
    ------
    BedjointError
        When a name is unknown, missing or given twice.
    """
    given = _indices(problem, names)
    stacks = PartialStacks(problem, executor, reseat)
    place = {unit: k for k, unit in enumerate(given)}
    found = search(stacks, 1.0e9, allowed=lambda unit, units: place[unit] == units.bit_count())
    if found.moves is not None:
        return described(stacks, found.moves, found.proved)
    return _failing(stacks, given, found)


def _indices(problem: Problem, names: Sequence[str]) -> list[int]:
    known = {unit.id for unit in problem.units}
    unknown = [name for name in names if name not in known]
    if unknown:
        raise BedjointError(f'order: nothing to set is called "{unknown[0]}". To set: {", ".join(sorted(known))}.')
    twice = [name for k, name in enumerate(names) if name in names[:k]]
    missing = [unit.id for unit in problem.units if unit.id not in names]
    if twice or missing:
        what = f'"{twice[0]}" is named twice' if twice else f'"{missing[0]}" is missing'
        raise BedjointError(f"order: {what}. Name each piece or module once.")
    return [problem.index(name) for name in names]


def _failing(stacks: PartialStacks, given: list[int], found: Found) -> Order:
    """The steps up to the one that fails, and why it does."""
    problem = stacks.problem
    so_far = described(stacks, found.farthest, True)
    units = found.farthest[-1].state[0] if found.farthest else 0
    unit = given[units.bit_count()]
    number = len(so_far.steps) + 1
    reason = f"step {number}, {problem.units[unit].id}: {why_not(stacks, unit, units)}"
    verdict: OrderVerdict = "undetermined" if found.unknown else "no order"
    return replace(so_far, verdict=verdict, reason=reason, fails_at=number)


def described(stacks: PartialStacks, moves: Sequence[Move], proved: bool) -> Order:
    """Steps in words from moves of the search."""
    steps: list[Step] = []
    waits, hours_in_all, holds = 0, 0.0, 0
    units, cured = 0, stacks.problem.made_outside
    pending: list[int] = []
    for k, move in enumerate(moves):
        if move.unit is None:
            pending = bits(move.state[1] & ~cured)
            units, cured = move.state
            waits += 1
            hours_in_all += max((stacks.problem.times[j].cure_h for j in pending), default=0.0)
            continue
        step = _step(stacks, len(steps) + 1, move, units, pending, moves[k + 1 :])
        holds += len(step.holds)
        steps.append(step)
        units, cured = move.state
        pending = []
    states = [move.state for move in moves if move.unit is not None]
    margins = [(stacks.margin_deg(*state), k + 1) for k, state in enumerate(states)]
    # where everything is held, no margin is known
    worst = min((one for one, state in zip(margins, states, strict=True) if _any_stands(stacks, state)), default=None)
    verdict: OrderVerdict = "needs holds" if holds else "stands at every step"
    reason = ""
    if holds:
        first = next(step for step in steps if step.holds)
        reason = f"step {first.number}: {first.holds[0].piece} must be held until {first.holds[0].until}"
    return Order(
        verdict=verdict,
        reason=reason,
        steps=tuple(steps),
        holds=holds,
        worst_margin_deg=None if worst is None else worst[0],
        worst_step=None if worst is None else worst[1],
        waits=waits,
        wait_h=hours_in_all,
        proved=proved,
        states=len(stacks.standing),
    )


def _any_stands(stacks: PartialStacks, state: tuple[int, int]) -> bool:
    return any(one.stands for one in stacks.judged(*state))


def _step(stacks: PartialStacks, number: int, move: Move, units: int, waited: list[int], later: Sequence[Move]) -> Step:
    problem = stacks.problem
    assert move.unit is not None, "a wait is no step"
    unit = problem.units[move.unit]
    answers = stacks.judged(*move.state)
    before = {hold.piece for one in stacks.judged(units, move.state[1]) for hold in one.holds}
    held = [hold for one in answers for hold in one.holds]
    margin = None if held else stacks.margin_deg(*move.state)
    new = problem.joints_in(move.state[0]) & ~problem.joints_in(units) & ~problem.made_outside
    way = next(way for way in problem.ways[move.unit] if way.blocked_by & units == 0)
    return Step(
        number=number,
        unit=unit.id,
        pieces=tuple(problem.names[piece] for piece in unit.pieces),
        rests_on=_rests_on(problem, unit.pieces, units),
        way_in=way.words,
        wait_first=tuple(_between(problem, k) for k in waited),
        wait_h=max((problem.times[k].cure_h for k in waited), default=0.0),
        joints=tuple(_between(problem, k) for k in bits(new)),
        margin_deg=margin,
        holds=tuple(
            HoldStep(problem.names[hold.piece], hold.force_n, _at_mm(hold), _until(stacks, hold.piece, move, later))
            for hold in held
            if hold.piece not in before
        ),
        holding=tuple(problem.names[hold.piece] for hold in held),
        settles_mm=max((one.settled_m for one in answers), default=0.0) * MM_PER_M,
    )


def _at_mm(hold: Hold) -> tuple[float, float, float] | None:
    if hold.at_m is None:
        return None
    x, y, z = (round(value * MM_PER_M, 1) for value in hold.at_m)
    return (x, y, z)


def _until(stacks: PartialStacks, piece: int, move: Move, later: Sequence[Move]) -> str:
    """Which step lets the hand go."""
    cured = move.state[1]
    for step in later:
        held = {hold.piece for one in stacks.judged(*step.state) for hold in one.holds}
        if piece not in held:
            if step.unit is not None:
                return f"{stacks.problem.units[step.unit].id} is set"
            set_now = [_between(stacks.problem, k) for k in bits(step.state[1] & ~cured)]
            return f"the glue of {'; '.join(' - '.join(pair) for pair in set_now)} has cured"
        cured = step.state[1]
    own = [k for k in bits(stacks.problem.joints_in(stacks.problem.everything)) if not cured >> k & 1]
    if own:
        return f"the glue of {'; '.join(' - '.join(_between(stacks.problem, k)) for k in own)} has cured"
    return "the end"


def _rests_on(problem: Problem, pieces: Sequence[int], units: int) -> tuple[str, ...]:
    contacts, there = problem.contacts, problem.pieces_in(units)
    found: list[str] = []
    for piece in pieces:
        for a, b in {(int(a), int(b)) for a, b in zip(contacts.a, contacts.b, strict=True) if piece in (a, b)}:
            other = b if a == piece else a
            if other == -1:
                found.append("base")
            elif other >= 0 and (there >> other & 1 or problem.fixed[other]):
                found.append(problem.names[other])
    return tuple(dict.fromkeys(sorted(found)))


def _between(problem: Problem, k: int) -> tuple[str, str]:
    joint = problem.joints[k]
    return (problem.names[joint.a], problem.names[joint.b])


def _none(reason: str, proved: bool, states: int = 0) -> Order:
    verdict: OrderVerdict = "no order" if proved else "undetermined"
    return Order(verdict, reason, (), 0, None, None, 0, 0.0, proved, states)
