"""Hold, costs, feet, falls and remedies in the units of a report."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sim.base.ballast import ballast_of
from sim.base.costs import costs_of
from sim.base.falling import fall_of
from sim.base.feet import standing_of
from sim.base.remedies import GOOD, PaneState, remedies_of
from sim.states import BaseAnswer, Filling, ForceRange, GlueTotal, Stage, StateAnswer, Water
from sim.states.answer import plain, triple
from sim.states.report import (
    BallastReport,
    CostItemReport,
    CostsReport,
    FallReport,
    FootReport,
    RemedyReport,
    StandingReport,
)
from sim.statics import Judgement, limit_joints
from sim.units import MM_PER_M, PA_PER_MPA

N_PER_KN = 1000.0
RISES = 0.8  # vertical share of a direction from which a piece rises


def ballast_report(stage: Stage, judged: Sequence[tuple[Water, Judgement]]) -> BallastReport | None:
    """Of the full tank; None where no wood floats or the full tank was not asked for."""
    full = [pair for pair in judged if pair[0].filling is Filling.FLOODED]
    found = ballast_of(stage, *full[0]) if full else None
    if found is None:
        return None
    return BallastReport(
        wood=found.wood,
        lift_n=found.lift_n,
        needed_kg=found.needed_kg,
        stones=found.stones,
        there_kg=found.there_kg,
        there_n=found.there_n,
        factor=plain(found.factor),
        verdict=found.verdict,
        reason=found.reason,
    )


def costs_report(stage: Stage, glue: Sequence[GlueTotal]) -> CostsReport | None:
    """None where the scene gives neither prices nor a budget."""
    found = costs_of(stage.scene, stage.pieces, {total.glue: total.mass_g for total in glue})
    if found is None:
        return None
    items = tuple(CostItemReport(one.what, one.amount, one.unit, one.packs, one.price) for one in found.items)
    return CostsReport(found.currency, items, found.total, found.without_price, found.budget, found.left)


def standing_report(stage: Stage) -> StandingReport:
    """Centre in plan and feet."""
    found = standing_of(stage.scene, stage.pieces)
    x, y = (float(v) * MM_PER_M for v in found.centre_m)
    length_mm, depth_mm, _ = stage.scene.tank.inner_mm
    own = found.pieces_centre_m
    feet = tuple(
        FootReport(
            (float(foot.at_m[0]) * MM_PER_M, float(foot.at_m[1]) * MM_PER_M),
            ForceRange(foot.nominal_n / N_PER_KN, foot.least_n / N_PER_KN, foot.most_n / N_PER_KN),
        )
        for foot in found.feet
    )
    return StandingReport(
        mass_kg=found.mass_kg,
        centre_mm=(x, y),
        off_middle_mm=(x - length_mm / 2.0, y - depth_mm / 2.0),
        pieces_centre_mm=None if own is None else (float(own[0]) * MM_PER_M, float(own[1]) * MM_PER_M),
        within_feet=found.within_feet,
        feet=feet,
    )


def fall_report(stage: Stage, answer: StateAnswer | None) -> FallReport | None:
    """Of the piece that moves first, when the state fails or at its critical tilt; None where none is known to."""
    if answer is None or not answer.motions:
        return None
    first = answer.motions[0]
    piece = next(piece for piece in stage.pieces if piece.id == first.piece)
    if first.direction[2] > RISES:
        return None  # it floats
    cover = stage.scene.tank.under_stones
    floor_m = (cover.thickness_mm or 0.0) / MM_PER_M if cover.kind != "none" else 0.0
    found = fall_of(stage.scene, piece, np.array(first.direction), floor_m)
    return FallReport(
        first.piece, found.hits, found.mass_kg, found.height_m * MM_PER_M, found.energy_j, triple(found.at_m * MM_PER_M)
    )


def remedy_reports(stage: Stage, heard: Sequence[tuple[Water, Judgement, BaseAnswer]]) -> tuple[RemedyReport, ...]:
    """What would help the base pane in the state that uses it most; none where it passes or gets no verdict."""
    known = [one for one in heard if one[2].utilisation is not None]
    if not known or all(one[2].verdict in GOOD for one in known):
        return ()
    water, judgement, _ = max(known, key=lambda one: one[2].utilisation or 0.0)
    state = PaneState(
        scene=stage.scene,
        contacts=stage.contacts,
        system=limit_joints(judgement.system),
        loads=stage.loads_in(water),
        forces_n=judgement.strict.forces_n,
        level_m=water.level_m or 0.0,
        density_kg_m3=water.density_kg_m3,
        wet=water.wet,
    )
    return tuple(
        RemedyReport(
            what=one.what,
            passes=one.passes,
            verdict=one.judgement.verdict,
            max_tension_mpa=plain(one.judgement.tension_pa / PA_PER_MPA),
            limit_mpa=plain(one.judgement.limit_pa / PA_PER_MPA),
            utilisation=plain(one.judgement.utilisation),
        )
        for one in remedies_of(state, [piece.id for piece in stage.pieces])
    )
