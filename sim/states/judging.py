"""One state judged, and the answers of its judges combined into a verdict."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from sim.contact import Contacts
from sim.states.answer import (
    ORDER,
    PUSH_CAP_N,
    RESERVE_CAP,
    EquilibriumAnswer,
    FootprintAnswer,
    ForceRange,
    JointUse,
    Laid,
    MotionAnswer,
    PushAnswer,
    RobustAnswer,
    StateAnswer,
    StrictAnswer,
    TrialAnswer,
    Verdict,
    plain,
    triple,
)
from sim.states.misplaced import REMEDY, Misplaced
from sim.states.stage import Stage
from sim.states.water import Water
from sim.states.words import reason_words
from sim.statics import Feasible, Footprint, Judgement, Strict, footprints, judge, limit_joints
from sim.statics import Verdict as Quick
from sim.units import MM2_PER_M2, MM_PER_M, PA_PER_KPA

Floats = NDArray[np.float64]

EDGE_TILT_DEG = 1.0  # a robust tilt under this: it rests on an edge, whatever it bears as placed


def judge_laid(stage: Stage, laid: Laid, water: Water, quick: bool) -> Judgement:
    """The quick judges on one state."""
    joints = stage.declared.joints if laid == "glued" else ()
    loads = stage.loads_in(water)
    return judge(stage.dry, stage.poses, stage.contacts_in(water), loads, joints, quick, stage.tops_m)


def answer_of(stage: Stage, laid: Laid, water: Water, judgement: Judgement, ranges: bool) -> StateAnswer:
    """The answer of the quick judges, as yet without copies and trial."""
    names = [piece.id for piece in stage.pieces]
    joint_names = [" - ".join(stage.scene.joint[k].between) for k in stage.declared.entries]
    verdict: Verdict = "stands (quick)"
    if judgement.verdict is not Quick.STANDS:
        verdict = "falls" if judgement.verdict is Quick.FALLS else "undetermined"
    return StateAnswer(
        laid=laid,
        water=water.filling.value,
        level_mm=None if water.level_m is None else water.level_m * MM_PER_M,
        as_built=laid == "glued" or not stage.scene.joint,
        verdict=verdict,
        reason=reason_words(judgement, names, joint_names),
        equilibrium=_equilibrium(judgement, names),
        strict=_strict(judgement),
        robust=None,
        trial=(),
        pane_thrust_n=plain(judgement.strict.pane_thrust_n) if judgement.verdict is Quick.STANDS else None,
        moving=tuple(names[motion.piece] for motion in judgement.moving),
        motions=_motions(judgement, names),
        pushes=_pushes(judgement, names),
        footprints=_footprints(stage, water, judgement, names, ranges),
        joints=_joints(stage, judgement),
    )


def governing_order(answer: StateAnswer) -> tuple[int, float]:
    """Sorts the worst verdict first, then the least tilt."""
    tilt = answer.equilibrium.critical_tilt_deg
    return -ORDER.index(answer.verdict), np.inf if tilt is None else tilt


def with_faults(
    stage: Stage, laid: Laid, answer: StateAnswer, faults: Sequence[Misplaced], remedy: str = REMEDY
) -> StateAnswer:
    """No verdict on pieces that are in each other, nor on joints that cannot be found."""
    if faults:
        more = f", and {len(faults) - 1} more" if len(faults) > 1 else ""
        return undetermined(answer, f"{faults[0]}{more}. {remedy}")
    if not stage.pieces:
        return undetermined(answer, "there are no pieces in the scene")
    unusable = stage.declared.unusable
    if laid == "glued" and unusable:
        between = " and ".join(stage.scene.joint[unusable[0].entry].between)
        return undetermined(answer, f"the joint of {between} cannot be judged: {unusable[0].reason}")
    return answer


def with_copies(answer: StateAnswer, robust: RobustAnswer) -> StateAnswer:
    """The answer with the robust margin added; a stack that rests on an edge is doubtful."""
    answer = replace(answer, robust=robust)
    if answer.verdict not in ("stands", "stands (quick)", "doubtful"):
        return answer
    if robust.least_tilt_deg is None:
        return replace(
            answer, verdict="undetermined", reason=f"slightly shifted copies gave no answer: {robust.reason}"
        )
    if robust.least_tilt_deg < EDGE_TILT_DEG:
        nominal = answer.equilibrium.critical_tilt_deg
        placed = "" if nominal is None else f", as placed {nominal:.2g}"
        why = robust.reason or f"shifted a little it bears {robust.least_tilt_deg:.2g} degrees{placed}"
        return replace(answer, verdict="doubtful", reason=f"it rests on an edge: {why}")
    return answer


def with_trial(answer: StateAnswer, trials: tuple[TrialAnswer, ...], disagreement: str | None) -> StateAnswer:
    """The answer with the dynamic trial added; a fall there contradicts a verdict of standing."""
    answer = replace(answer, trial=trials)
    if answer.verdict not in ("stands", "stands (quick)"):
        return answer
    fallen = [one for one in trials if one.survived is False]
    if fallen:
        words = f"{fallen[0].reason} in {fallen[0].runs - fallen[0].survivals} of {fallen[0].runs} runs"
        note = f" ({disagreement})" if disagreement else ""
        return replace(answer, verdict="doubtful", reason=f"the trial ({fallen[0].engine}) contradicts: {words}{note}")
    tried = [one for one in trials if one.runs]
    silent = [one for one in tried if one.survived is None]
    if silent or not tried:
        why = silent[0].reason if silent else "none was made"
        return replace(answer, verdict="undetermined", reason=f"the dynamic trial gave no answer: {why}")
    return answer


def confirmed(answer: StateAnswer) -> StateAnswer:
    """'stands (quick)' becomes 'stands' once copies and trial have both agreed."""
    agreed = answer.robust is not None and answer.robust.least_tilt_deg is not None
    agreed = agreed and any(one.survived for one in answer.trial)
    if answer.verdict == "stands (quick)" and agreed:
        return replace(answer, verdict="stands")
    return answer


def undetermined(answer: StateAnswer, reason: str) -> StateAnswer:
    """The same answer, with a verdict of standing withdrawn."""
    return replace(answer, verdict="undetermined", reason=reason)


def _equilibrium(judgement: Judgement, names: list[str]) -> EquilibriumAnswer:
    status = judgement.feasibility.status
    feasible = None if status is Feasible.UNKNOWN else status is Feasible.YES
    margins = judgement.margins
    if margins is None:
        return EquilibriumAnswer(feasible)
    pushed = margins.least_push_piece
    return EquilibriumAnswer(
        feasible=feasible,
        critical_tilt_deg=plain(margins.critical_tilt_deg),
        critical_azimuth_deg=plain(margins.critical_azimuth_deg),
        stack_tilt_deg=plain(margins.stack_tilt_deg),
        sliding_tilt_deg=plain(margins.sliding_tilt_deg),
        least_push_n=plain(margins.least_push_n, PUSH_CAP_N),
        least_push_piece=names[pushed] if pushed >= 0 and np.isfinite(margins.least_push_n) else None,
        friction_reserve=plain(margins.friction_reserve, RESERVE_CAP),
    )


def _strict(judgement: Judgement) -> StrictAnswer:
    if judgement.feasibility.status is not Feasible.YES:
        return StrictAnswer("not asked")
    words = {Strict.STANDS: "stands", Strict.FALLS: "falls", Strict.UNKNOWN: "undetermined"}
    return StrictAnswer(words[judgement.strict.verdict])  # type: ignore[arg-type]


def _motions(judgement: Judgement, names: list[str]) -> tuple[MotionAnswer, ...]:
    return tuple(
        MotionAnswer(
            names[motion.piece],
            float(motion.speed),
            triple(np.nan_to_num(motion.direction)),
            motion.turns,
            triple(motion.hinge_m * MM_PER_M) if motion.turns else None,
        )
        for motion in judgement.moving
    )


def _pushes(judgement: Judgement, names: list[str]) -> tuple[PushAnswer, ...]:
    pushes = judgement.margins.pushes if judgement.margins is not None else ()
    return tuple(
        PushAnswer(names[push.piece], plain(push.force_n, PUSH_CAP_N), plain(push.azimuth_deg)) for push in pushes
    )


def _footprints(
    stage: Stage, water: Water, judgement: Judgement, names: list[str], ranges: bool
) -> tuple[FootprintAnswer, ...]:
    if judgement.verdict is not Quick.STANDS:
        return ()
    system = judgement.system
    found = footprints(limit_joints(system), stage.loads_in(water), judgement.strict.forces_n, ranges)
    return tuple(_footprint(one, system.contacts, names) for one in found)


def _footprint(one: Footprint, contacts: Contacts, names: list[str]) -> FootprintAnswer:
    area_m2 = float(contacts.patches.area_m2[one.patch])
    return FootprintAnswer(
        piece=names[one.piece],
        area_mm2=area_m2 * MM2_PER_M2,
        force_n=ForceRange(one.nominal_n, plain(one.least_n), plain(one.most_n)),
        pressure_kpa=one.nominal_n / area_m2 / PA_PER_KPA if area_m2 > 0.0 else None,
        centre_mm=triple(contacts.patches.centre_m[one.patch] * MM_PER_M),
    )


def _joints(stage: Stage, judgement: Judgement) -> tuple[JointUse, ...]:
    glue = judgement.glue
    if glue is None:
        return ()
    uses = []
    for k, entry in enumerate(stage.declared.entries):
        uses.append(JointUse(stage.scene.joint[entry].between, plain(glue.utilisation[k]), k in glue.broken))
    return tuple(uses)
