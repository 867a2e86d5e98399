"""Partial stacks as states: does what is set so far stand, with the joints that have cured by then?

Pieces that touch or are joined make a part; parts stand by themselves, so each is judged once, whatever else is set.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from concurrent.futures import Executor
from dataclasses import dataclass
from typing import TypeVar

from sim.order.holding import with_holds
from sim.order.judging import Part, Standing, fall_of, margin_of
from sim.order.problem import Problem, bits
from sim.statics import Strict

Asked = TypeVar("Asked")
Answer = TypeVar("Answer")

BATCH = 8  # parts judged in one task of an executor


Reseat = Callable[[Part], Standing | None]


@dataclass(frozen=True, slots=True)
class StateAnswer:
    """What a whole partial stack does: its parts taken together."""

    held: bool  # whether all parts stand, be it with holds
    holds: frozenset[int]  # pieces
    margin_deg: float  # least over the parts that stand by themselves; 90 where none does, nan where one is not known
    unknown: str  # why a part got no answer


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
        self._states: dict[tuple[int, int], StateAnswer] = {}
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
        whole = left = problem.pieces_in(units)
        found = []
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
                edge = reach & whole & ~part
            found.append((part, sum(1 << k for k, pair in joined if pair & part)))
            left &= ~part
        return tuple(found)

    def prepare(self, states: Iterable[tuple[int, int]], margins: bool = False) -> None:
        """Judge the parts of many partial stacks, in the executor where there is one."""
        fresh = [state for state in states if state not in self._states]
        wanted = list(dict.fromkeys(part for state in fresh for part in self.parts(*state)))
        new = [part for part in wanted if part not in self.standing]
        self.standing |= dict(zip(new, self._run(fall_of, new), strict=True))
        fallen = [part for part in new if self.standing[part].verdict is Strict.FALLS]
        if self.reseat is not None:
            self.standing |= {part: again for part in fallen if (again := self.reseat(part)) is not None}
        # only now: looking for holds takes longer than letting it come to rest
        fallen = [part for part in fallen if self.standing[part].verdict is Strict.FALLS]
        self.standing |= dict(zip(fallen, self._run(with_holds, [(p, self.standing[p]) for p in fallen]), strict=True))
        if margins:
            new = [part for part in wanted if part not in self.margins and self.standing[part].stands]
            self.margins |= {p: self.standing[p].margin_deg or 0.0 for p in new if self.standing[p].settled_m > 0.0}
            new = [part for part in new if part not in self.margins]
            for part, margin in zip(new, self._run(margin_of, new), strict=True):
                self.margins[part] = margin

    def _run(self, work: Callable[[Problem, Asked], Answer], asked: list[Asked]) -> list[Answer]:
        batches = [asked[k : k + BATCH] for k in range(0, len(asked), BATCH)]
        if self.executor is None or len(batches) < 2:
            return _batch(work, self.problem, asked)
        futures = [self.executor.submit(_batch, work, self.problem, batch) for batch in batches]
        return [answer for future in futures for answer in future.result()]

    def state(self, units: int, cured: int) -> StateAnswer:
        """The answer for a partial stack, margins and all."""
        key = (units, cured)
        if key not in self._states:
            self.prepare([key], margins=True)
            parts = self.parts(units, cured)
            answers = [self.standing[part] for part in parts]
            margins = [self.margins[part] for part, one in zip(parts, answers, strict=True) if one.stands]
            self._states[key] = StateAnswer(
                held=all(one.held for one in answers),
                holds=frozenset(hold.piece for one in answers for hold in one.holds),
                margin_deg=math.nan if any(map(math.isnan, margins)) else min(margins, default=90.0),
                unknown=next((one.note for one in answers if one.verdict is Strict.UNKNOWN), ""),
            )
        return self._states[key]

    def judged(self, units: int, cured: int) -> list[Standing]:
        """Answers for all parts of a partial stack."""
        self.prepare([(units, cured)])
        return [self.standing[part] for part in self.parts(units, cured)]

    def margin_deg(self, units: int, cured: int) -> float:
        """Least critical tilt over the parts that stand by themselves; 90 where none does, nan where one is not known.

        What is held bears what the hands do: a hold counts as a hold and not as a margin too.
        """
        return self.state(units, cured).margin_deg


def _batch(work: Callable[[Problem, Asked], Answer], problem: Problem, asked: list[Asked]) -> list[Answer]:
    return [work(problem, one) for one in asked]
