"""Answers that take time, each in a thread of its own: quick verdict, shot, full check, orders."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable

from sim.check import checked
from sim.order import Order, Problem, Reseating, Step, best_order, problem_of, try_order
from sim.report import report_json, report_text
from sim.states import Misplaced, misplaced, set_stage
from sim.yard.bench import Laid
from sim.yard.jobs import GivenUp, Latest, Outdated
from sim.yard.legends import margin_swatch
from sim.yard.protocol import (
    Checked,
    Ordered,
    OrderStep,
    Progress,
    ShotTold,
    Stopped,
    Telling,
    VerdictTold,
)
from sim.yard.quick import QuickVerdict
from sim.yard.shooting import Shots, ShotSettings
from sim.yard.touching import Touching
from sim.yard.words import hold_words, tilt_share

Tell = Callable[[Telling], None]

VERDICT_FIRST_S = 2.0  # a shot waits so long, for both want all the cores


class Background:
    """Keeps the last answer of each kind, and tells new ones as they come."""

    def __init__(self, tell: Tell) -> None:
        self._tell = tell
        self.shots = Shots()
        self.touching = Touching()
        self.shooting: ShotSettings | None = None
        self.verdict: VerdictTold | None = None
        self.shot: ShotTold | None = None
        self.checked: Checked | None = None
        self.ordered: Ordered | None = None
        self._version = 0
        self._judged = threading.Event()  # the newest version has its verdict
        self._jobs = {
            name: Latest(f"yard {name}", self._failed(name)) for name in ("verdict", "shot", "check", "order")
        }

    def begin(self, look: Callable[[], None]) -> None:
        """Look at a scene that was just opened, before its first verdict."""
        self._jobs["verdict"].ask(lambda _: look())

    def changed(self, version: int, laid: Laid, faults: tuple[Misplaced, ...]) -> None:
        """Judge a new version, and take its shot where a window shows one."""
        self._version = version
        self._judged.clear()
        self._jobs["verdict"].ask(lambda outdated: self._judge(version, laid, faults, outdated))
        if self.shooting is not None:
            self.shoot(version, laid, self.shooting)

    def shoot(self, version: int, laid: Laid, settings: ShotSettings) -> None:
        """Take the shot, and again after every change."""
        self.shooting = settings
        self._jobs["shot"].ask(lambda outdated: self._shoot(version, laid, settings, outdated))

    def check(self, version: int, laid: Laid) -> None:
        """Hear all judges."""
        self._jobs["check"].ask(lambda outdated: self._check(version, laid, outdated))

    def order(self, version: int, laid: Laid, given: tuple[str, ...] | None, seconds: float) -> None:
        """Look for the best order, or judge one that is given."""
        self._jobs["order"].ask(lambda outdated: self._order(version, laid, given, seconds, outdated))

    def stop(self, job: str) -> None:
        """Give up a check or a search for orders."""
        if self._jobs[job].stop():
            self._tell(Stopped(job, self._version, ""))  # type: ignore[arg-type]  # a job's name

    def wait(self, seconds: float, *jobs: str) -> bool:
        """Wait until some jobs, or all, have nothing left to do; whether that came about in time."""
        return all(self._jobs[name].wait(seconds) for name in jobs or self._jobs)

    def close(self) -> None:
        """End all threads."""
        for job in self._jobs.values():
            job.stop()
        for job in self._jobs.values():
            job.close()

    def last(self) -> list[Telling]:
        """The last answers, for a window that comes in."""
        found = (self.verdict, self.shot, self.ordered, self.checked)
        return [one for one in found if one is not None]

    def _failed(self, job: str) -> Callable[[str], None]:
        return lambda reason: self._tell(Stopped(job, self._version, reason))  # type: ignore[arg-type]

    def _judge(self, version: int, laid: Laid, faults: tuple[Misplaced, ...], outdated: Outdated) -> None:
        def tell(told: VerdictTold) -> None:
            if not outdated():
                self.verdict = told
                self._judged.set()
                self._tell(told)

        QuickVerdict(version, laid, faults, self.touching, outdated).run(tell)

    def _shoot(self, version: int, laid: Laid, settings: ShotSettings, outdated: Outdated) -> None:
        self._judged.wait(VERDICT_FIRST_S)
        if outdated():
            return
        told = self.shots.take(version, laid, settings, outdated)
        if not outdated():
            self.shot = told
            self._tell(told)

    def _progress(self, job: str, version: int, outdated: Outdated) -> Callable[[str, int, int], None]:
        def tell(what: str, done: int, of: int) -> None:
            if outdated():
                raise GivenUp
            self._tell(Progress(job, version, what, done, max(of, 1)))  # type: ignore[arg-type]

        return tell

    def _check(self, version: int, laid: Laid, outdated: Outdated) -> None:
        report, _ = checked(laid.scene, laid.pieces, progress=self._progress("check", version, outdated))
        if outdated():
            return
        told = Checked(
            version=version,
            verdict=report.verdict,
            reason=report.reason,
            passes=report.passes,
            text=report_text(report),
            report=json.loads(report_json(report)),
        )
        self.checked = told
        self._tell(told)

    def _order(
        self, version: int, laid: Laid, given: tuple[str, ...] | None, seconds: float, outdated: Outdated
    ) -> None:
        tell = self._progress("order", version, outdated)
        tell("Looking for contacts", 0, 1)
        stage = set_stage(laid.scene, laid.pieces)
        faults = misplaced(stage)
        if faults or stage.declared.unusable:
            why = f"{faults[0]}. Set it down, or move it." if faults else stage.declared.unusable[0].reason
            told = _no_order(version, laid, given, why)
        else:
            tell("Looking for ways in", 0, 1)
            problem = problem_of(stage)
            reseat = Reseating(stage, problem)
            tell("Judging the order" if given else "Looking for the best order", 0, 1)
            if given is None:
                found = best_order(problem, seconds, None, tell, reseat)
            else:
                found = try_order(problem, given, None, reseat)
            told = _ordered(version, problem, found, given)
        if not outdated():
            self.ordered = told
            self._tell(told)


def _no_order(version: int, laid: Laid, given: tuple[str, ...] | None, why: str) -> Ordered:
    units = given or tuple(piece.id for piece in laid.pieces)
    return Ordered(version, given is not None, "undetermined", why, (), None, None, None, 0, 0.0, False, units)


def _ordered(version: int, problem: Problem, order: Order, given: tuple[str, ...] | None) -> Ordered:
    units = given or tuple(step.unit for step in order.steps) or tuple(unit.id for unit in problem.units)
    return Ordered(
        version=version,
        given=given is not None,
        verdict=order.verdict,
        reason=order.reason,
        steps=tuple(_step(step) for step in order.steps),
        fails_at=order.fails_at,
        worst_margin_deg=order.worst_margin_deg,
        worst_step=order.worst_step,
        holds=order.holds,
        wait_h=order.wait_h,
        proved=order.proved,
        units=units,
    )


def _step(step: Step) -> OrderStep:
    margin = step.margin_deg
    return OrderStep(
        number=step.number,
        unit=step.unit,
        pieces=step.pieces,
        rests_on=step.rests_on,
        way_in=step.way_in,
        wait_h=step.wait_h,
        wait_for=step.wait_first,
        joints=step.joints,
        margin_deg=margin,
        swatch=None if margin is None else margin_swatch(tilt_share(margin)),
        holds=tuple(hold_words(hold) for hold in step.holds),
        holding=step.holding,
    )
