"""What base pane, floor and hands have to carry, in the units of a report."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from sim.base.judging import BaseJudge
from sim.base.lifting import lift_over_rim
from sim.base.local import tip_on_glass
from sim.base.mapping import LoadMap, footings_of, load_map
from sim.base.sides import SideJudge
from sim.base.weights import weights_of
from sim.materials.glasses import TIP_RADIUS_M
from sim.states import BaseAnswer, ForceRange, LiftReport, PieceReport, Stage, Water, WeightsReport
from sim.states.answer import Laid, plain, triple
from sim.states.report import FootingReport, SidePaneReport
from sim.statics import Judgement, Loads, System, Verdict, limit_joints
from sim.units import ML_PER_M3, MM2_PER_M2, MM_PER_M, PA_PER_KPA, PA_PER_MPA, STANDARD_GRAVITY_M_S2, significant

Floats = NDArray[np.float64]


class Carrier:
    """Base and side panes of one stage; each state as built is heard once."""

    def __init__(self, stage: Stage, built: Laid) -> None:
        self.stage, self.built = stage, built
        self.base = BaseJudge(stage.scene, stage.contacts)
        self.sides = SideJudge(stage.scene, stage.contacts, [not piece.is_wood for piece in stage.pieces])
        self.judged: list[tuple[Water, Judgement]] = []  # as built
        self.heard: list[tuple[Water, Judgement, BaseAnswer]] = []  # of these what stands
        self.side_panes: list[SidePaneReport] = []

    def hear(self, laid: Laid, water: Water, judgement: Judgement) -> BaseAnswer | None:
        """The base pane's answer to a state; of one as built the side panes' too, in `side_panes`."""
        found = base_answer(self.stage, self.base, water, judgement)
        if laid == self.built:
            self.judged.append((water, judgement))
        if found is not None and laid == self.built:
            self.heard.append((water, judgement, found))
            self.side_panes += side_reports(self.stage, self.sides, water, judgement)
        return found

    def load_map(self) -> LoadMap | None:
        """The base pane in the state that uses it most, to draw; None where none stands."""
        worst = self._worst()
        return None if worst is None else load_map(self.stage, self.base, *worst)

    def footings(self) -> tuple[FootingReport, ...]:
        """Where pieces press on the glass in that state; none where none stands."""
        worst = self._worst()
        if worst is None:
            return ()
        water, judgement = worst
        return tuple(
            FootingReport(
                piece=one.piece,
                water=water.filling.value,
                outline_mm=tuple((float(x) * MM_PER_M, float(y) * MM_PER_M) for x, y in one.outline_m),
                area_mm2=one.area_m2 * MM2_PER_M2,
                force_n=one.force_n,
                pressure_kpa=None if one.pressure_pa is None else one.pressure_pa / PA_PER_KPA,
            )
            for one in footings_of(self.stage, self.base, judgement)
        )

    def _worst(self) -> tuple[Water, Judgement] | None:
        if not self.heard:
            return None
        water, judgement, _ = max(self.heard, key=lambda one: one[2].utilisation or one[2].nominal_tension_mpa)
        return water, judgement


def base_answer(stage: Stage, pane: BaseJudge, water: Water, judgement: Judgement) -> BaseAnswer | None:
    """Judge the pane under one state; None where the stack does not stand, since its forces are unknown then."""
    if judgement.verdict is not Verdict.STANDS:
        return None
    found = pane.answer(*_asked(stage, water, judgement))
    return BaseAnswer(
        verdict=found.verdict,
        reason=found.reason,
        support=found.support,
        max_tension_mpa=plain(found.tension_pa / PA_PER_MPA),
        nominal_tension_mpa=found.nominal_pa / PA_PER_MPA,
        limit_mpa=plain(found.limit_pa / PA_PER_MPA),
        utilisation=plain(found.utilisation),
        deflection_mm=found.deflection_m * MM_PER_M,
        at_mm=(float(found.at_m[0]) * MM_PER_M, float(found.at_m[1]) * MM_PER_M),
    )


def _asked(stage: Stage, water: Water, judgement: Judgement) -> tuple[System, Loads, Floats, float, float, bool]:
    """What the judges of panes want to know of a state that stands."""
    return (
        limit_joints(judgement.system),
        stage.loads_in(water),
        judgement.strict.forces_n,
        water.level_m or 0.0,
        water.density_kg_m3,
        water.wet,
    )


def side_reports(stage: Stage, sides: SideJudge, water: Water, judgement: Judgement) -> list[SidePaneReport]:
    """Judge the four side panes under one state; none where the stack does not stand."""
    if judgement.verdict is not Verdict.STANDS:
        return []
    found = sides.answers(*_asked(stage, water, judgement))
    return [
        SidePaneReport(
            pane=one.pane,
            verdict=one.verdict,
            reason=one.reason,
            water=water.filling.value,
            top_held=one.top_held,
            thrust_n=ForceRange(one.thrust_n, None, plain(one.most_thrust_n)),
            max_tension_mpa=plain(one.tension_pa / PA_PER_MPA),
            nominal_tension_mpa=one.nominal_pa / PA_PER_MPA,
            limit_mpa=one.limit_pa / PA_PER_MPA,
            utilisation=plain(one.utilisation),
            deflection_mm=one.deflection_m * MM_PER_M,
            at_mm=triple(one.at_m * MM_PER_M),
        )
        for one in found
    ]


def worst_sides(found: Sequence[SidePaneReport]) -> tuple[SidePaneReport, ...]:
    """Of all states' answers about each pane the one that uses it most; one without a figure comes first."""
    panes = dict.fromkeys(one.pane for one in found)
    return tuple(
        max(
            (one for one in found if one.pane == pane),
            key=lambda one: np.inf if one.utilisation is None else one.utilisation,
        )
        for pane in panes
    )


def bare_cautions(stage: Stage, footings: Sequence[FootingReport]) -> list[str]:
    """Why no stone may touch bare glass, with the force of the most loaded footprint that does."""
    bare = [one.force_n for one in footings] if stage.scene.tank.under_stones.kind == "none" else []
    if not bare or max(bare) <= 0.0:
        return []
    tension_mpa = tip_on_glass(max(bare)).edge_tension_pa / PA_PER_MPA
    tip_mm = TIP_RADIUS_M * MM_PER_M
    return [
        f"{significant(max(bare), 2)} N under one footprint on bare glass: through a tip of {tip_mm:g} mm radius they "
        f"would stress the glass around it with {significant(tension_mpa, 2)} MPa and crack its surface."
    ]


def weight_cautions(full: WeightsReport) -> list[str]:
    """Cautions about the floor, each with the load that triggered it."""
    load_kn = full.total_kg * STANDARD_GRAVITY_M_S2 / 1000.0
    found = []
    if full.band == "medium":
        found.append(
            f"{load_kn:.1f} kN on the floor: stand it at a wall, across the joists, and ask what the floor is."
        )
    elif full.band == "large":
        found.append(f"{load_kn:.1f} kN on the floor: on timber floors ask a structural engineer, and your insurance.")
    if full.pieces_kg > 0.0:
        water = f"{full.water_l:.0f} l of water or with " if full.water_l > 0.0 else ""
        found.append(f"Never move the tank with {water}{full.pieces_kg:.1f} kg of stones in it.")
    return found


def weights_report(stage: Stage) -> WeightsReport:
    """What stands on stand and floor when the tank is full."""
    full = weights_of(stage.scene, stage.pieces, flooded=True)
    return WeightsReport(
        pieces_kg=full.pieces_kg,
        glass_kg=full.glass_kg,
        ground_kg=full.ground_kg,
        water_kg=full.water_kg,
        water_l=full.water_l,
        stand_kg=full.stand_kg,
        total_kg=full.total_kg,
        floor_kpa=full.floor_kpa,
        spread_kpa=full.spread_kpa,
        foot_kn=full.foot_kn,
        band=full.band,
    )


def piece_reports(stage: Stage) -> tuple[PieceReport, ...]:
    """Every piece with its weight and what lifting it into its place asks for."""
    reports = []
    for piece in stage.pieces:
        centre_mm = triple(piece.position_m * MM_PER_M)
        lift = lift_over_rim(stage.scene, piece.mass_kg, centre_mm[1], centre_mm[2])
        index = lift.index if np.isfinite(lift.index) else None
        volume_ml = piece.volume_m3 * ML_PER_M3
        reports.append(
            PieceReport(piece.id, piece.mass_kg, volume_ml, centre_mm, LiftReport(lift.limit_kg, index, lift.advice))
        )
    return tuple(reports)
