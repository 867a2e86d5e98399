"""The best order of setting, over the graph of partial stacks.

A state is a set of units and the joints that have cured. From it a unit is set that has what it needs and a free
way in, or everything waits until all joints are cured. Order of merit: no step that falls; fewest holds; largest
margin at the worst step; fewest waits for glue; least time.

Where the finished stack bounds the margin, an order is first looked for that reaches it (see `straight`). Else, level
by level, the best so many states are kept, first few, then more and more until none had to be left out (then the order
is the best there is) or the time is up. What cannot become better than the best order so far is not followed: merits
only grow worse along an order. The margin is settled before waits and time: a second pass over the states that were
seen takes, of all orders with that margin or more, the one with fewest waits.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass, field

from sim.order.moves import Merit, Move, State, may_be_set
from sim.order.partial import PartialStacks
from sim.order.problem import bits
from sim.order.straight import straight

CHUNK = 64  # states looked at between two looks at the clock
WIDTHS = (4, 16, 64, 256, 1024, 4096, 1 << 30)
UNBOUNDED_DEG = -90.0  # minus a margin that no order can have
CLOSE_DEG = 1.0e-6  # margins nearer to each other than this are equal


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
        self.best: tuple[tuple[Move, ...], Merit] | None = None
        self._next: dict[State, list[Move]] = {}
        self._joints: dict[int, int] = {}

    def run(self) -> Found:
        bound = self._least_minus_margin()
        if bound > UNBOUNDED_DEG:
            moves = straight(self.stacks, self.start, self._moves, -bound - CLOSE_DEG, self._late, self.tell)
            if moves is not None:
                return Found(moves, Merit(0, bound, 0, 0.0), True, len(self.stacks.standing))
        seen = _Seen()
        for width in WIDTHS:
            seen = self._pass(width)
            found = self._best_of(seen)
            if found is not None and (self.best is None or found[1] < self.best[1]):
                self.best = found
            if not seen.truncated or self._late():
                break
        proved = not seen.truncated
        states = len(self.stacks.standing)
        if self.best is None:
            most = max(seen.stuck, key=lambda state: (state[0].bit_count(), state), default=self.start)
            return Found(None, None, proved, states, _path(seen, most), seen.unknown)
        return Found(self.best[0], self.best[1], proved, states, unknown=seen.unknown)

    def _late(self) -> bool:
        return time.monotonic() > self.until

    def _pass(self, width: int) -> _Seen:
        """One pass from nothing to everything, `width` states of each size at most."""
        seen = _Seen()
        seen.labels[self.start] = _Label(Merit(0, self._least_minus_margin(), 0, 0.0), None, None)
        level = [self.start]
        for size in range(len(self.problem.units)):
            level = self._waited(level, seen)
            if self.tell is not None:
                self.tell("Looking for an order", size, len(self.problem.units))
            level = self._set(level, seen)
            if not level:
                break
            if self.best is not None and self._late():
                seen.truncated = True
                break
            kept = 1 if self._late() else width
            if len(level) > kept:
                seen.truncated = True
                level = sorted(level, key=lambda state: (seen.labels[state].merit, state))[:kept]
        return seen

    def _least_minus_margin(self) -> float:
        """No order has a larger margin than the finished stack, where no glue that cures later changes that."""
        problem = self.problem
        if problem.joints_in(problem.everything) & ~problem.made_outside:
            return UNBOUNDED_DEG
        whole = self.stacks.state(problem.everything, problem.made_outside)
        known = whole.held and not whole.holds and not math.isnan(whole.margin_deg)
        return -whole.margin_deg if known else UNBOUNDED_DEG

    def _joints_in(self, units: int) -> int:
        if units not in self._joints:
            self._joints[units] = self.problem.joints_in(units)
        return self._joints[units]

    def _waited(self, level: list[State], seen: _Seen) -> list[State]:
        """States of one size, and those that waiting makes of them."""
        before = [(state, (state[0], self._joints_in(state[0]))) for state in level]
        self.stacks.prepare([after for state, after in before if after != state], margins=True)
        for state, after in before:
            if after == state:
                continue
            hours = self._wait_h(state)
            merit = seen.labels[state].merit
            self._reach(seen, level, state, Move(None, after), 0, merit.waits + 1, merit.wait_h + hours)
        return level

    def _wait_h(self, state: State) -> float:
        pending = self._joints_in(state[0]) & ~state[1]
        return max((self.problem.times[k].cure_h for k in bits(pending)), default=0.0)

    def _set(self, level: list[State], seen: _Seen) -> list[State]:
        """States one unit larger."""
        larger: list[State] = []
        level = sorted(level, key=lambda state: (seen.labels[state].merit, state))
        for first in range(0, len(level), CHUNK):
            chunk = level[first : first + CHUNK]
            moves = {state: self._moves(state) for state in chunk}
            self.stacks.prepare([move.state for some in moves.values() for move in some], margins=True)
            for state in chunk:
                self._expand(state, moves[state], larger, seen)
            if larger and first + CHUNK < len(level) and self._late():
                seen.truncated = True
                break
        return larger

    def _expand(self, state: State, moves: list[Move], larger: list[State], seen: _Seen) -> None:
        went = False
        held = self.stacks.state(*state).holds
        merit = seen.labels[state].merit
        for move in moves:
            answer = self.stacks.state(*move.state)
            seen.unknown = answer.unknown or seen.unknown
            if not answer.held:
                continue
            went = True
            self._reach(seen, larger, state, move, len(answer.holds - held), merit.waits, merit.wait_h)
        if not went:
            seen.stuck.append(state)

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
        """Note a way to a state where it is the first or the best one so far, and may still beat the best order."""
        answer = self.stacks.state(*move.state)
        if not answer.held:
            seen.unknown = answer.unknown or seen.unknown
            return
        if answer.margin_deg != answer.margin_deg:
            seen.unknown = "the margin of a partial stack is not known"
            return
        merit = seen.labels[before].merit
        merit = Merit(merit.holds + holds, max(merit.minus_margin_deg, -answer.margin_deg), waits, wait_h)
        if self.best is not None and merit >= self.best[1]:
            return
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
        again.labels[self.start] = _Label(Merit(0, merit.minus_margin_deg, 0, 0.0), None, None)
        by_size = sorted(seen.labels, key=lambda state: (state[0].bit_count(), state[1].bit_count(), state))
        for state in by_size:
            if state in again.labels:
                self._again(state, seen, again, enough)
        goal = min((state for state in ends if state in again.labels), key=lambda end: (again.labels[end].merit, end))
        return _path(again, goal), again.labels[goal].merit

    def _again(self, state: State, seen: _Seen, again: _Seen, enough: float) -> None:
        """Ways on from a state in the second pass, where the margin is enough anyway."""
        label = again.labels[state].merit
        after = (state[0], self._joints_in(state[0]))
        ways = [(Move(None, after), 0, 1, self._wait_h(state))] if after != state else []
        held = self.stacks.state(*state).holds
        for move in self._moves(state):
            if move.state in seen.labels:
                ways.append((move, len(self.stacks.state(*move.state).holds - held), 0, 0.0))
        for move, holds, waits, hours in ways:
            if move.state not in seen.labels or self.stacks.state(*move.state).margin_deg < enough:
                continue
            new = Merit(label.holds + holds, label.minus_margin_deg, label.waits + waits, label.wait_h + hours)
            known = again.labels.get(move.state)
            if known is None or new < known.merit:
                again.labels[move.state] = _Label(new, state, move)


def _path(seen: _Seen, goal: State) -> tuple[Move, ...]:
    moves: list[Move] = []
    label = seen.labels[goal]
    while label.move is not None and label.before is not None:
        moves.append(label.move)
        label = seen.labels[label.before]
    return tuple(reversed(moves))
