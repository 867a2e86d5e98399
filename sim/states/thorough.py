"""The two slow judges: slightly shifted copies, and the dynamic trial."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from sim.joints import Joint
from sim.states.answer import Laid, RobustAnswer, StateAnswer, TrialAnswer
from sim.states.judging import confirmed, with_copies, with_trial
from sim.states.stage import Stage
from sim.states.water import Water
from sim.statics import Copy, Robust, lumps_of, robust, shaken
from sim.trial import Trial, difference, engines_installed, lifts, rules_of, spread_of, trial
from sim.trial import stage as stage_trial
from sim.units import MM_PER_M

Tell = Callable[[str, int, int], None]

AUDIT_PIECES = 12  # the second engine takes ten times as long as the first: beyond so many pieces it is left out


class Thorough:
    """Copies and trials of one scene; what its states share is made once."""

    def __init__(self, stage: Stage, laid: Laid, tell: Tell) -> None:
        self.stage, self.tell = stage, tell
        self.joints: tuple[Joint, ...] = stage.declared.joints if laid == "glued" else ()
        self.copies: tuple[Copy, ...] | None = None

    def added(self, water: Water, answer: StateAnswer, audited: bool = False) -> StateAnswer:
        """The answer with both slow judges heard, where the quick ones let it stand.

        `audited`: the stack as given is tried in the second engine too, where one is installed.
        """
        if answer.verdict != "stands (quick)":
            return answer
        if self.stage.dry.fixed.all():
            return replace(answer, verdict="stands", reason="nothing is free to move")
        answer = with_copies(answer, _copies_answer(self._robust(water), self.stage))
        engines = engines_installed()
        few = len(self.stage.pieces) <= AUDIT_PIECES
        trials = self._trial(water, engines if audited and few else engines[:1])
        answers = [_trial_answer(one) for one in trials]
        if audited and not few:
            reason = f"left out: {len(self.stage.pieces)} pieces would take it too long"
            answers += [TrialAnswer(engine, None, 0, 0, 0.0, reason) for engine in engines[1:]]
        return confirmed(with_trial(answer, tuple(answers), difference(trials)))

    def _robust(self, water: Water) -> Robust:
        stage, check = self.stage, self.stage.scene.check
        if self.copies is None:
            what = "Shifted copies come to rest"
            self.tell(what, 0, check.copies)
            self.copies = shaken(
                stage.dry,
                stage.poses,
                lumps_of(self.joints, len(stage.pieces)),
                check.copies,
                check.shift_mm / MM_PER_M,
                check.turn_deg,
                check.seed,
                names=[piece.id for piece in stage.pieces],
                progress=lambda done, of: self.tell(what, done, of),
            )
        return robust(
            self.copies,
            stage.assembly(water),
            stage.poses,
            lambda poses: stage.loads_in(water, poses),
            self.joints,
            check.contact_mm / MM_PER_M,
        )

    def _trial(self, water: Water, engines: Sequence[str]) -> tuple[Trial, ...]:
        stage, scene = self.stage, self.stage.scene
        loads = stage.loads_in(water)
        what = f"Trial, {water.filling.value}"
        staged = stage_trial(
            scene,
            stage.pieces,
            stage.assembly(water).friction,
            [(joint.a, joint.b) for joint in self.joints],
            lifts(stage.pieces, loads.lift_n, loads.lift_arm_m),
            lambda done, of: self.tell("Convex parts for the trial", done, of),
            stage.contacts_in(water),
        )
        self.tell(what, 0, scene.check.trials)
        return trial(
            staged.setup,
            scene.check.trials,
            scene.check.seed,
            spread_of(scene),
            rules_of(scene),
            engines,
            progress=lambda done, of: self.tell(what, done, of),
        )


def _copies_answer(found: Robust, stage: Stage) -> RobustAnswer:
    if not np.isfinite(found.least_tilt_deg) or (found.unknown and found.least_tilt_deg > 0.0):
        return RobustAnswer(None, found.copies, found.unknown)
    moving = ", ".join(stage.pieces[piece].id for piece in found.moving[:3])
    reason = f"{found.falls} of {found.copies} slightly shifted copies fall ({moving})" if found.falls else ""
    return RobustAnswer(float(found.least_tilt_deg), found.copies, reason)


def _trial_answer(one: Trial) -> TrialAnswer:
    survived = True if one.survived else False if one.fallen else None
    return TrialAnswer(one.engine, survived, len(one.runs), one.survivals, one.worst_drift_mm, one.reason)
