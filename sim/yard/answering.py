"""Answers of the judges as the page shows them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from sim.base.bills import costs_report
from sim.base.mapping import Footing
from sim.base.weights import weights_of
from sim.states import BaseAnswer, Stage, StateAnswer, Water
from sim.states.joint_reports import glue_totals, joint_reports
from sim.states.words import towards
from sim.units import ML_PER_M3, MM_PER_M, PA_PER_KPA, STANDARD_GRAVITY_M_S2, significant
from sim.yard.legends import joint_swatch, margin_swatch, pressure_swatch
from sim.yard.protocol import (
    BaseState,
    FirstMover,
    FootingState,
    JointAnswer,
    PieceAnswer,
    Point,
    StateVerdict,
    Totals,
)


def state_verdict(answer: StateAnswer) -> StateVerdict:
    """One state's verdict."""
    margins = answer.equilibrium
    azimuth = margins.critical_azimuth_deg
    return StateVerdict(
        laid=answer.laid,
        water=answer.water,
        level_mm=answer.level_mm,
        as_built=answer.as_built,
        verdict=answer.verdict,
        reason=answer.reason,
        tilt_deg=margins.critical_tilt_deg,
        towards=None if azimuth is None else towards(azimuth),
        base=None if answer.base is None else answer.base.verdict,
    )


def first_mover(answer: StateAnswer) -> FirstMover | None:
    """The piece that comes down, or would move first; None where that is not known."""
    if not answer.motions:
        return None
    first = answer.motions[0]
    margins = answer.equilibrium
    falls = answer.verdict == "falls"
    words = answer.reason
    if not falls and margins.critical_tilt_deg is not None and margins.critical_azimuth_deg is not None:
        does = "tips" if first.turns else "slides"
        words = (
            f"{first.piece} {does} when the tank is tilted {significant(margins.critical_tilt_deg, 2)} degrees "
            f"to the {towards(margins.critical_azimuth_deg)}"
        )
    others = tuple(motion.piece for motion in answer.motions[1:])
    return FirstMover(first.piece, others, first.direction, first.turns, first.hinge_mm, words, falls)


def piece_answers(
    stage: Stage, answer: StateAnswer | None, pushes: Mapping[int, tuple[float | None, float | None]]
) -> tuple[PieceAnswer, ...]:
    """How firm each piece is; of a state that is not known, nothing."""
    moving = () if answer is None else answer.moving
    if answer is not None and answer.verdict != "falls":
        moving = moving[:1]  # of what stands, the first one
    found = []
    for k, piece in enumerate(stage.pieces):
        push_n, azimuth = pushes.get(k, (None, None))
        weight_n = piece.mass_kg * STANDARD_GRAVITY_M_S2
        margin = None if push_n is None or weight_n <= 0.0 else push_n / weight_n
        moves = piece.id in moving
        swatch = margin_swatch(margin, moves) if moves or margin is not None else None
        direction = None if azimuth is None else towards(azimuth)
        found.append(PieceAnswer(piece.id, margin, push_n, direction, swatch, moves))
    return tuple(found)


def base_state(water: Water, answer: BaseAnswer, footings: Sequence[Footing]) -> BaseState:
    """The base pane in one state."""
    pressures = [None if one.pressure_pa is None else one.pressure_pa / PA_PER_KPA for one in footings]
    greatest = max((kpa for kpa in pressures if kpa is not None), default=0.0)
    shown = []
    for one, kpa in zip(footings, pressures, strict=True):
        share = 1.0 if kpa is None else kpa / greatest if greatest > 0.0 else 0.0
        outline = tuple((float(x) * MM_PER_M, float(y) * MM_PER_M) for x, y in one.outline_m)
        shown.append(FootingState(one.piece, outline, one.force_n, kpa, pressure_swatch(share)))
    return BaseState(
        verdict=answer.verdict,
        reason=answer.reason,
        utilisation=answer.utilisation,
        max_tension_mpa=answer.max_tension_mpa,
        limit_mpa=answer.limit_mpa,
        deflection_mm=answer.deflection_mm,
        at_mm=answer.at_mm,
        water=water.filling.value,
        footings=tuple(shown),
    )


def joint_answers(stage: Stage, answers: Sequence[StateAnswer]) -> tuple[JointAnswer, ...]:
    """Every declared joint in the state that uses it most."""
    places = {
        entry: joint.patch.centroid_m
        for entry, joint in zip(stage.declared.entries, stage.declared.joints, strict=True)
    }
    found = []
    for number, one in enumerate(joint_reports(stage, answers)):
        at_mm: Point | None = None
        if number in places:
            x, y, z = (float(value) * MM_PER_M for value in places[number])
            at_mm = (x, y, z)
        broken = one.verdict == "breaks"
        swatch = 2 if broken else joint_swatch(one.utilisation)
        found.append(JointAnswer(one.between, one.utilisation, swatch, broken, one.reason, at_mm))
    return tuple(found)


def totals(stage: Stage, answers: Sequence[StateAnswer]) -> Totals:
    """Weights, volume, glue and costs."""
    glue = glue_totals(joint_reports(stage, answers))
    costs = costs_report(stage, glue)
    full = weights_of(stage.scene, stage.pieces, flooded=True)
    mass_kg = float(stage.dry.mass_kg.sum())
    centre: Point | None = None
    if mass_kg > 0.0:
        x, y, z = (stage.dry.mass_kg @ stage.poses.position_m / mass_kg * MM_PER_M).tolist()
        centre = (x, y, z)
    return Totals(
        pieces=len(stage.pieces),
        mass_kg=mass_kg,
        centre_mm=centre,
        displaced_ml=sum(piece.volume_m3 for piece in stage.pieces) * ML_PER_M3,
        tank_full_kg=full.total_kg,
        floor_kpa=full.floor_kpa,
        glue_g=tuple((one.glue, one.mass_g) for one in glue),
        cost=None if costs is None else costs.total,
        currency=stage.scene.prices.currency,
    )
