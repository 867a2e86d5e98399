"""The quick verdict while hands are at work: the states that matter most first, then loads, then margins.

verdict   dry-laid and glued, in air and flooded: does it stand, how far must it tilt, what moves first
loads     the base pane, footings, joints
margins   of each piece: the least push at its top that moves anything
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from sim.base.answering import base_answer
from sim.base.judging import BaseJudge
from sim.base.mapping import footings_of
from sim.states import (
    BaseAnswer,
    Filling,
    Misplaced,
    Stage,
    StateAnswer,
    Water,
    answer_of,
    judge_laid,
    waters_of,
    worst,
)
from sim.states.answer import PUSH_CAP_N, Laid, plain
from sim.states.judging import governing_order, with_faults
from sim.states.stage import stage_with
from sim.statics import Judgement, Verdict, least_pushes, limit_joints
from sim.yard import bench
from sim.yard.answering import base_state, first_mover, joint_answers, piece_answers, state_verdict, totals
from sim.yard.jobs import GivenUp, Outdated
from sim.yard.protocol import VerdictTold
from sim.yard.touching import Touching

REMEDY = "Set it down, or move it."
TELL_EVERY_S = 0.7  # while margins come in
QUICK_FILLINGS = (Filling.AIR, Filling.FLOODED)

Tell = Callable[[VerdictTold], None]
Pushes = dict[int, tuple[float | None, float | None]]  # force, N, and azimuth, degrees, by piece


@dataclass(frozen=True, slots=True, eq=False)
class State:
    """One state judged."""

    water: Water
    laid: Laid
    judgement: Judgement
    answer: StateAnswer


def stage_of(laid: bench.Laid, touching: Touching) -> Stage:
    """A scene that lies on the bench, set up for the judges."""
    scene, pieces = laid.scene, laid.pieces
    return stage_with(scene, pieces, laid.dry, laid.poses, touching.contacts(laid), touching.declared(laid))


class QuickVerdict:
    """The quick answer to one version of a scene."""

    def __init__(
        self,
        version: int,
        laid: bench.Laid,
        faults: tuple[Misplaced, ...],
        touching: Touching,
        outdated: Outdated,
    ) -> None:
        self.version, self.outdated = version, outdated
        self.faults = tuple(fault for fault in faults if fault.fault != "hovers")
        self.began = time.monotonic()
        self.stage = stage_of(laid, touching)
        self.built: Laid = "glued" if laid.scene.joint else "dry"
        self._go_on()
        self.states = self._judged()

    def run(self, tell: Tell) -> VerdictTold:
        """Tell the answer as it grows; the last one is also returned.

        Raises
        ------
        GivenUp
            When the version is out of date.
        """
        told = self.verdict()
        tell(told)
        told = self._loaded(told)
        tell(told)
        pushes: Pushes = {}
        told_at = time.monotonic()
        state = None if told.governing is None else self.states[told.governing]
        for k in self._pushed(state):
            self._go_on()
            assert state is not None, "nothing is pushed without a state"
            pushes[k] = self._push(state, k)
            if time.monotonic() - told_at > TELL_EVERY_S:
                tell(self._with_margins(told, pushes, complete=False))
                told_at = time.monotonic()
        told = self._with_margins(told, pushes, complete=True)
        tell(told)
        return told

    def _go_on(self) -> None:
        if self.outdated():
            raise GivenUp

    def _judged(self) -> list[State]:
        """As built first."""
        laids: tuple[Laid, ...] = ("glued", "dry") if self.built == "glued" else ("dry",)
        waters = [water for water in waters_of(self.stage.scene, self.stage.pieces) if water.filling in QUICK_FILLINGS]
        found = []
        for laid in laids:
            for water in waters:
                self._go_on()
                judgement = judge_laid(self.stage, laid, water, quick=True)
                answer = answer_of(self.stage, laid, water, judgement, ranges=False)
                answer = replace(answer, as_built=laid == self.built)
                found.append(State(water, laid, judgement, with_faults(self.stage, laid, answer, self.faults, REMEDY)))
        return found

    def _governing(self) -> int | None:
        built = (k for k, one in enumerate(self.states) if one.answer.as_built)
        return min(built, key=lambda k: governing_order(self.states[k].answer), default=None)

    def verdict(self) -> VerdictTold:
        """The first part of the answer: the states."""
        governing = self._governing()
        answer = None if governing is None else self.states[governing].answer
        return VerdictTold(
            version=self.version,
            step="verdict",
            complete=False,
            took_s=time.monotonic() - self.began,
            verdict=worst([one.answer.verdict for one in self.states if one.answer.as_built]),
            reason="" if answer is None else answer.reason,
            states=tuple(state_verdict(one.answer) for one in self.states),
            governing=governing,
            first=None if answer is None or self.faults else first_mover(answer),
            pieces=piece_answers(self.stage, None if self.faults else answer, {}),
            base=None,
            joints=(),
            totals=totals(self.stage, self._built_answers()),
        )

    def _built_answers(self) -> list[StateAnswer]:
        return [one.answer for one in self.states if one.answer.as_built]

    def _loaded(self, told: VerdictTold) -> VerdictTold:
        """With the base pane under the states as built."""
        base = None
        if not self.faults:
            pane = BaseJudge(self.stage.scene, self.stage.contacts)
            heard: list[tuple[State, BaseAnswer]] = []
            for k, one in enumerate(self.states):
                self._go_on()
                answer = base_answer(self.stage, pane, one.water, one.judgement) if one.laid == self.built else None
                self.states[k] = replace(one, answer=replace(one.answer, base=answer))
                heard += [] if answer is None else [(one, answer)]
            if heard:
                worst_one, answer = max(heard, key=lambda pair: pair[1].utilisation or pair[1].nominal_tension_mpa)
                base = base_state(worst_one.water, answer, footings_of(self.stage, pane, worst_one.judgement))
        return replace(
            told,
            step="loads",
            took_s=time.monotonic() - self.began,
            states=tuple(state_verdict(one.answer) for one in self.states),
            base=base,
            joints=joint_answers(self.stage, self._built_answers()),
        )

    def _pushed(self, state: State | None) -> list[int]:
        """Free pieces, the highest first, of a stack that stands."""
        if state is None or self.faults or state.judgement.verdict is not Verdict.STANDS:
            return []
        free = np.flatnonzero(state.judgement.system.free)
        return sorted((int(k) for k in free), key=lambda k: -self.stage.tops_m[k, 2])

    def _push(self, state: State, k: int) -> tuple[float | None, float | None]:
        system = limit_joints(state.judgement.system)
        found = least_pushes(system, self.stage.loads_in(state.water), self.stage.tops_m, [k])
        return (plain(found[0].force_n, PUSH_CAP_N), plain(found[0].azimuth_deg)) if found else (None, None)

    def _with_margins(self, told: VerdictTold, pushes: Pushes, complete: bool) -> VerdictTold:
        answer = None if told.governing is None or self.faults else self.states[told.governing].answer
        pieces = piece_answers(self.stage, answer, pushes)
        took_s = time.monotonic() - self.began
        return replace(told, step="margins", complete=complete, took_s=took_s, pieces=pieces)
