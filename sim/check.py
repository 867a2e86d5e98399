"""Does it stand? One scene in, one report out.

    scene -> pieces in their places -> contacts and joints -> every state judged -> the worst of them

States: dry-laid or glued, in air, at partial fills, flooded, drained with wet faces. The verdict of the scene
is the worst of the states as it is to be built.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import replace

import numpy as np

from sim.base.answering import Carrier, bare_cautions, piece_reports, weight_cautions, weights_report, worst_sides
from sim.base.bills import ballast_report, costs_report, fall_report, remedy_reports, standing_report
from sim.glue import judge_module
from sim.pieces.placing import PlacedPiece, place_pieces
from sim.scene import Scene
from sim.states import (
    BaseAnswer,
    DryLaid,
    Filling,
    LevelAnswer,
    Misplaced,
    Report,
    Stage,
    StateAnswer,
    Total,
    Water,
    answer_of,
    hovering,
    judge_laid,
    misplaced,
    set_stage,
    waters_of,
    worst,
)
from sim.states.answer import Laid, triple
from sim.states.assumed import cautions_of, inputs_assumed
from sim.states.joint_reports import glue_cautions, glue_totals, joint_reports
from sim.states.judging import governing_order, with_faults
from sim.states.thorough import Thorough
from sim.units import ML_PER_M3, MM_PER_M

Progress = Callable[[str, int, int], None]  # what is being done, steps done, steps in all


def check(
    scene: Scene,
    pieces: list[PlacedPiece] | None = None,
    quick: bool = False,
    fillings: Collection[Filling] | None = None,
    laid: Laid | None = None,
    progress: Progress | None = None,
) -> Report:
    """Judge a scene in all its states.

    Parameters
    ----------
    scene : Scene
    pieces : of the scene, where they are made already
    quick : leave the slightly shifted copies and the dynamic trial out; then the best verdict is 'stands (quick)'
    fillings : states asked for; default all of air, partial, flooded and drained
    laid : 'dry' judges the scene as if it had no joints; default as it is to be built
    progress : called with what is being done, steps done and steps in all

    Returns
    -------
    Report
        Verdict first. 'stands' only when every judge of every state asked for said so.

    Raises
    ------
    PieceError
        When a piece cannot be made.
    """
    return checked(scene, pieces, quick, fillings, laid, progress)[0]


def checked(
    scene: Scene,
    pieces: list[PlacedPiece] | None = None,
    quick: bool = False,
    fillings: Collection[Filling] | None = None,
    laid: Laid | None = None,
    progress: Progress | None = None,
) -> tuple[Report, Carrier]:
    """The same, with what the picture of its loads is drawn from."""
    placed = place_pieces(scene) if pieces is None else pieces
    tell: Progress = progress or _silent
    tell("Looking for contacts", 0, 1)
    stage = set_stage(scene, placed)
    tell("Looking for contacts", 1, 1)
    built: Laid = laid or ("glued" if scene.joint else "dry")
    waters = [water for water in waters_of(scene, placed) if fillings is None or water.filling in fillings]
    faults = misplaced(stage)
    carrier = Carrier(stage, built)
    judged = _states(stage, carrier, built, waters, tell)
    if not quick and not faults:
        thorough = Thorough(stage, built, tell)
        first = min(range(len(judged)), key=lambda k: governing_order(judged[k][1]), default=0)
        judged = [(water, thorough.added(water, answer, k == first)) for k, (water, answer) in enumerate(judged)]
    answers = [with_faults(stage, built, replace(answer, as_built=True), faults) for _, answer in judged]
    dry = (
        []
        if built == "dry"
        else [replace(answer, as_built=False) for _, answer in _states(stage, carrier, "dry", waters, tell)]
    )
    return _report(stage, carrier, answers, dry, faults, quick, fillings), carrier


def _silent(what: str, done: int, of: int) -> None:
    pass


def _states(
    stage: Stage, carrier: Carrier, laid: Laid, waters: list[Water], tell: Progress
) -> list[tuple[Water, StateAnswer]]:
    """Quick answers of all waters; of the partial fills the worst, which lists the others."""
    what = "Judging it dry-laid" if laid == "dry" else "Judging it glued"
    partial: list[tuple[Water, StateAnswer]] = []
    judged: list[tuple[Water, StateAnswer]] = []
    for done, water in enumerate(waters):
        tell(what, done, len(waters))
        judgement = judge_laid(stage, laid, water, quick=water.filling is Filling.PARTIAL)
        answer = answer_of(stage, laid, water, judgement, ranges=water.filling is not Filling.PARTIAL)
        if water.filling is Filling.PARTIAL:
            partial.append((water, answer))
        else:
            judged.append((water, replace(answer, base=carrier.hear(laid, water, judgement))))
    tell(what, len(waters), len(waters))
    if partial:
        judged.insert(min(1, len(judged)), _worst_fill(stage, carrier, laid, partial))
    return judged


def _worst_fill(
    stage: Stage, carrier: Carrier, laid: Laid, partial: list[tuple[Water, StateAnswer]]
) -> tuple[Water, StateAnswer]:
    water, _ = min(partial, key=lambda pair: governing_order(pair[1]))
    judgement = judge_laid(stage, laid, water, quick=False)
    full = answer_of(stage, laid, water, judgement, ranges=True)
    full = replace(full, base=carrier.hear(laid, water, judgement))
    levels = tuple(
        LevelAnswer(answer.level_mm or 0.0, answer.verdict, answer.equilibrium.critical_tilt_deg)
        for _, answer in partial
    )
    return water, replace(full, levels=levels)


def _report(
    stage: Stage,
    carrier: Carrier,
    answers: list[StateAnswer],
    dry: list[StateAnswer],
    faults: tuple[Misplaced, ...],
    quick: bool,
    fillings: Collection[Filling] | None,
) -> Report:
    governing = min(range(len(answers)), key=lambda k: governing_order(answers[k])) if answers else None
    verdict = worst([answer.verdict for answer in answers])
    first = answers[governing] if governing is not None else None
    joints = joint_reports(stage, answers)
    glue, weights = glue_totals(joints), weights_report(stage)
    usable = not faults and not stage.declared.unusable
    asked = [filling.value for filling in Filling if fillings is None or filling in fillings]
    return Report(
        title=stage.scene.title,
        verdict=verdict,
        reason=first.reason if first is not None else "none of the states asked for occurs in this scene",
        quick=quick,
        governing=governing,
        states=tuple(answers + dry),
        states_left_out=tuple(filling.value for filling in Filling if filling.value not in asked),
        dry_laid=_dry_laid(dry),
        misplaced=(*faults, *hovering(stage)),
        pieces=piece_reports(stage),
        total=_total(stage),
        footprints=first.footprints if first is not None else (),
        base=_most_used(answers),
        footings=carrier.footings(),
        side_panes=worst_sides(carrier.side_panes),
        remedies=remedy_reports(stage, carrier.heard),
        fall=fall_report(stage, first),
        weights=weights,
        standing=standing_report(stage),
        ballast=ballast_report(stage, carrier.judged),
        costs=costs_report(stage, glue),
        joints=joints,
        glue=glue,
        modules=tuple(judge_module(stage, one) for one in stage.scene.module if usable),
        cautions=(
            *cautions_of(stage, answers),
            *glue_cautions(glue),
            *bare_cautions(stage, carrier.footings()),
            *weight_cautions(weights),
        ),
        inputs_assumed=inputs_assumed(stage),
    )


def _most_used(answers: list[StateAnswer]) -> BaseAnswer | None:
    """The base pane in the state that uses it most; one without an answer comes first."""
    known = [answer.base for answer in answers if answer.base is not None]
    return max(known, key=lambda base: np.inf if base.utilisation is None else base.utilisation, default=None)


def _dry_laid(dry: list[StateAnswer]) -> DryLaid | None:
    if not dry:
        return None
    first = min(dry, key=governing_order)
    return DryLaid(first.verdict, first.reason)


def _total(stage: Stage) -> Total:
    mass_kg = stage.dry.mass_kg
    displaced_ml = sum(piece.volume_m3 for piece in stage.pieces) * ML_PER_M3
    if not mass_kg.sum() > 0.0:
        return Total(0.0, None, displaced_ml)
    return Total(
        float(mass_kg.sum()), triple(mass_kg @ stage.poses.position_m / mass_kg.sum() * MM_PER_M), displaced_ml
    )
