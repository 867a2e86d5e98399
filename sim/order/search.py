"""The best order of setting, over the graph of partial stacks.

A state is a set of units and the joints that have cured. From it a unit is set that has what it needs and a free
way in, or everything waits until all joints are cured. Order of merit: no step that falls; fewest holds; largest
margin at the worst step; fewest waits for glue; least time.

Level by level the best so many states are kept, first few, then more and more until none had to be left out (then
the order is the best there is) or the time is up. The margin is settled before waits and time: a second pass over
the states that were seen takes, of all orders with that margin or more, the one with fewest waits.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field

from sim.order.partial import PartialStacks, Standing
from sim.order.problem import Problem, bits

State = tuple[int, int]  # mask of units, mask of cured joints
WIDTHS = (4, 16, 64, 256, 1024, 4096, 1 << 30)
CLOSE_DEG = 1.0e-6  # margins nearer to each other than this are equal


@dataclass(frozen=True, slots=True, order=True)
class Merit:
    """How good an order is; less is better. The worst margin is negative, so that it sorts alike."""

    holds: int
    minus_margin_deg: float
    waits: int
    wait_h: float


@dataclass(frozen=True, slots=True)
class Move:
    """One step: a unit is set, or everything waits (unit is None)."""

    unit: int | None
    state: State  # after it


@dataclass(slots=True)
class _Label:
    merit: Merit
    before: State | None
    move: Move | None


@dataclass(frozen=True, slots=True)
class Found:
    """Outcome of a search."""

    moves: tuple[Move, ...] | None  # None: no order was found
    merit: Merit | None
    proved: bool  # nothing was left out: it is the best, or there is none
    states: int  # partial stacks looked at
    farthest: tuple[Move, ...] = ()  # where there is none: as far as it went
    unknown: str = ""  # an answer that some state did not get


@dataclass(slots=True)
class _Seen:
    """What one pass over the graph has met."""

    labels: dict[State, _Label] = field(default_factory=dict)
    truncated: bool = False
    stuck: list[State] = field(default_factory=list)
    unknown: str = ""


def search(
    stacks: PartialStacks,
    budget_s: float = 20.0,
    allowed: Callable[[int, int], bool] | None = None,
    progress: Callable[[str, int, int], None] | None = None,
) -> Found:
    """Find the best order within a time budget; what is found first is kept and bettered.

    Parameters
    ----------
    allowed : may a unit be set on a set of units? Default: whatever needs and ways in allow
    """
    return _Search(stacks, budget_s, allowed, progress).run()


def may_be_set(problem: Problem, unit: int, units: int) -> bool:
    """Whether a unit has what it needs, a free way in and room for the hand."""
    if problem.needs[unit] & ~units:
        return False
    if not any(way.blocked_by & units == 0 for way in problem.ways[unit]):
        return False
    return any(grip & units == 0 for grip in problem.grips[unit])


class _Search:
    def __init__(
        self,
        stacks: PartialStacks,
        budget_s: float,
        allowed: Callable[[int, int], bool] | None,
        progress: Callable[[str, int, int], None] | None,
    ) -> None:
        self.stacks, self.problem, self.allowed = stacks, stacks.problem, allowed
        self.tell = progress
        self.until = time.monotonic() + budget_s
        self.start: State = (0, self.problem.made_outside)
        self._next: dict[State, list[Move]] = {}

    def run(self) -> Found:
        best: tuple[tuple[Move, ...], Merit] | None = None
        seen = _Seen()
        for width in WIDTHS:
            seen = self._pass(width)
            found = self._best_of(seen)
            if found is not None and (best is None or found[1] < best[1]):
                best = found
            if not seen.truncated or time.monotonic() > self.until:
                break
        proved = not seen.truncated
        states = len(self.stacks.standing)
        if best is None:
            most = max(seen.stuck, key=lambda state: (state[0].bit_count(), state), default=self.start)
            return Found(None, None, proved, states, _path(seen, most), seen.unknown)
        return Found(best[0], best[1], proved, states, unknown=seen.unknown)

    def _pass(self, width: int) -> _Seen:
        """One pass from nothing to everything, `width` states of each size at most."""
        seen = _Seen()
        seen.labels[self.start] = _Label(Merit(0, -90.0, 0, 0.0), None, None)
        level = [self.start]
        for size in range(len(self.problem.units)):
            level = self._waited(level, seen)
            if self.tell is not None:
                self.tell("Looking for an order", size, len(self.problem.units))
            level = self._set(level, seen)
            if len(level) > width or (level and time.monotonic() > self.until):
                kept = width if time.monotonic() <= self.until else 1
                seen.truncated |= len(level) > kept
                level = sorted(level, key=lambda state: (seen.labels[state].merit, state))[:kept]
        return seen

    def _waited(self, level: list[State], seen: _Seen) -> list[State]:
        """States of one size, and those that waiting makes of them."""
        for state in list(level):
            after = (state[0], self.problem.joints_in(state[0]))
            if after == state:
                continue
            hours = self._wait_h(state)
            label = seen.labels[state]
            self._reach(seen, level, state, Move(None, after), 0, label.merit.waits + 1, label.merit.wait_h + hours)
        return level

    def _wait_h(self, state: State) -> float:
        pending = self.problem.joints_in(state[0]) & ~state[1]
        return max((self.problem.times[k].cure_h for k in bits(pending)), default=0.0)

    def _set(self, level: list[State], seen: _Seen) -> list[State]:
        """States one unit larger."""
        moves = {state: self._moves(state) for state in level}
        self.stacks.prepare([move.state for some in moves.values() for move in some], margins=True)
        larger: list[State] = []
        for state in level:
            went = False
            for move in moves[state]:
                answers = self.stacks.judged(*move.state)
                unknown = next((one.note for one in answers if one.verdict.value == "undetermined"), None)
                if unknown is not None:
                    seen.unknown = unknown
                if not all(one.held for one in answers):
                    continue
                went = True
                merit = seen.labels[state].merit
                new = len(_held(answers) - _held(self.stacks.judged(*state)))
                self._reach(seen, larger, state, move, new, merit.waits, merit.wait_h)
            if not went:
                seen.stuck.append(state)
        return larger

    def _moves(self, state: State) -> list[Move]:
        if state not in self._next:
            units, cured = state
            self._next[state] = [
                Move(k, (units | 1 << k, cured))
                for k in range(len(self.problem.units))
                if not units >> k & 1
                and may_be_set(self.problem, k, units)
                and (self.allowed is None or self.allowed(k, units))
            ]
        return self._next[state]

    def _reach(
        self, seen: _Seen, level: list[State], before: State, move: Move, holds: int, waits: int, wait_h: float
    ) -> None:
        """Note a way to a state where it is the first or the best one so far."""
        margin = self.stacks.margin_deg(*move.state)
        if margin != margin:
            seen.unknown = "the margin of a partial stack is not known"
            return
        merit = seen.labels[before].merit
        merit = Merit(merit.holds + holds, max(merit.minus_margin_deg, -margin), waits, wait_h)
        known = seen.labels.get(move.state)
        if known is None:
            level.append(move.state)
        if known is None or merit < known.merit:
            seen.labels[move.state] = _Label(merit, before, move)

    def _best_of(self, seen: _Seen) -> tuple[tuple[Move, ...], Merit] | None:
        """The best way to the whole stack; waits and time settled among the states whose margin is enough."""
        ends = [state for state in seen.labels if state[0] == self.problem.everything]
        if not ends:
            return None
        goal = min(ends, key=lambda state: (seen.labels[state].merit, state))
        merit = seen.labels[goal].merit
        enough = -merit.minus_margin_deg - CLOSE_DEG
        again = _Seen()
        again.labels[self.start] = _Label(Merit(0, -90.0, 0, 0.0), None, None)
        by_size = sorted(seen.labels, key=lambda state: (state[0].bit_count(), state[1].bit_count(), state))
        for state in by_size:
            if state not in again.labels:
                continue
            label = again.labels[state].merit
            after = (state[0], self.problem.joints_in(state[0]))
            ways = [(Move(None, after), 0, 1, self._wait_h(state))] if after != state else []
            held = _held(self.stacks.judged(*state))
            ways += [(move, len(_held(self.stacks.judged(*move.state)) - held), 0, 0.0) for move in self._moves(state)]
            for move, holds, waits, hours in ways:
                if move.state not in seen.labels or self.stacks.margin_deg(*move.state) < enough:
                    continue
                new = Merit(label.holds + holds, merit.minus_margin_deg, label.waits + waits, label.wait_h + hours)
                known = again.labels.get(move.state)
                if known is None or new < known.merit:
                    again.labels[move.state] = _Label(new, state, move)
        ends = [state for state in ends if state in again.labels]
        goal = min(ends, key=lambda state: (again.labels[state].merit, state))
        return _path(again, goal), again.labels[goal].merit


def _held(answers: list[Standing]) -> set[int]:
    return {hold.piece for one in answers for hold in one.holds}


def _path(seen: _Seen, goal: State) -> tuple[Move, ...]:
    moves: list[Move] = []
    label = seen.labels[goal]
    while label.move is not None and label.before is not None:
        moves.append(label.move)
        label = seen.labels[label.before]
    return tuple(reversed(moves))
