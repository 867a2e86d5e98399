"""What a report says about every declared joint and the glue that it takes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from sim.joints import GlueAmount, bed_amount
from sim.materials import adhesive
from sim.states.answer import StateAnswer
from sim.states.report import GlueTotal, JointReport
from sim.states.stage import Stage
from sim.units import ML_PER_M3, MM2_PER_M2, MM_PER_M


def joint_reports(stage: Stage, answers: Sequence[StateAnswer]) -> tuple[JointReport, ...]:
    """Every declared joint, as the state that uses it most has it."""
    reports: list[JointReport] = []
    declared = stage.declared
    for number, entry in enumerate(stage.scene.joint):
        broken = [unusable.reason for unusable in declared.unusable if unusable.entry == number]
        if broken:
            reports.append(JointReport(entry.between, entry.kind, entry.glue, None, None, "undetermined", broken[0]))
            continue
        k = declared.entries.index(number)
        uses = [answer.joints[k] for answer in answers if answer.joints]
        known = [use.utilisation for use in uses if use.utilisation is not None]
        area_mm2 = declared.joints[k].patch.area_m2 * MM2_PER_M2 if entry.kind == "glue" else None
        verdict = "undetermined" if len(known) < len(uses) or not uses else "holds"
        over = any(use.broken or (use.utilisation or 0.0) > 1.0 for use in uses)
        verdict = "breaks" if over else verdict
        most = max(known) if known else None
        made = JointReport(entry.between, entry.kind, entry.glue, area_mm2, most, verdict, "")
        reports.append(_with_glue(stage, k, made))
    return tuple(reports)


def declared_amount(stage: Stage, k: int) -> GlueAmount | None:
    """Glue of a declared joint, None where it is tied or screwed; `k` counts the joints that can be judged."""
    entry, joint = stage.scene.joint[stage.declared.entries[k]], stage.declared.joints[k]
    if entry.glue is None:
        return None
    sides = tuple(stage.pieces[side].material for side in (joint.a, joint.b))
    return bed_amount(adhesive(entry.glue), joint.patch, stage.declared.gap_m[k], entry.fillet_mm / MM_PER_M, sides)


def _with_glue(stage: Stage, k: int, made: JointReport) -> JointReport:
    """The same with the glue that it takes."""
    amount = declared_amount(stage, k)
    if amount is None:
        return made
    return replace(
        made,
        volume_ml=amount.volume_m3 * ML_PER_M3,
        mass_g=amount.mass_kg * 1000.0,
        fixture_min=amount.fixture_min,
        cure_h=amount.cure_h,
    )


def glue_cautions(totals: tuple[GlueTotal, ...]) -> list[str]:
    """What each glue does to whoever uses it, with the amount in hand."""
    return [
        f"{total.glue.capitalize()}, {total.mass_g:.0f} g: {'; '.join(adhesive(total.glue).hazards)}."
        for total in totals
    ]


def glue_totals(joints: tuple[JointReport, ...]) -> tuple[GlueTotal, ...]:
    totals = []
    for glue in sorted({joint.glue for joint in joints if joint.glue and joint.volume_ml is not None}):
        own = [joint for joint in joints if joint.glue == glue and joint.volume_ml is not None]
        volume, mass = sum(joint.volume_ml or 0.0 for joint in own), sum(joint.mass_g or 0.0 for joint in own)
        totals.append(GlueTotal(glue, len(own), volume, mass))
    return tuple(totals)
