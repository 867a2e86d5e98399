"""Joints and modules in words and as JSON."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from sim.glue import SuggestedJoint, Suggestion
from sim.joints import GlueAmount
from sim.materials import adhesive
from sim.report.figures import sentence
from sim.states import JointReport, ModuleAnswer, Report
from sim.units import ML_PER_M3, significant

WIDTH = 32


def suggestion_text(answer: Suggestion) -> str:
    """A suggestion as the command prints it."""
    lines = [_headline(answer)]
    if answer.reason:
        lines += ["", sentence(answer.reason)]
    if answer.joints:
        lines += ["", f"{'joint':<{WIDTH}}{'by':<30}{'area':>9}{'used':>6}{'glue':>9}{'sets':>8}{'cured':>8}"]
        lines += [_suggested_row(joint) for joint in answer.joints]
        lines += ["", "What each is for:"]
        lines += [f"  without {_pair(joint.entry.between)}: {joint.without_it}" for joint in answer.joints]
    lines += ["", *_on_the_base(answer)]
    if answer.without:
        lines += ["", "Not to be joined:"]
        lines += [f"  {a} - {b}: {why}" for a, b, why in answer.without]
    if answer.joints:
        lines += ["", "Tried on the shapes as they stand. Let `bedjoint check` judge the new scene before you glue."]
    return "\n".join(lines)


def _on_the_base(answer: Suggestion) -> list[str]:
    """What the friction of the base lets go, whatever the joints between stones are."""
    lines = []
    if answer.goes_at_deg is not None and answer.goes_at_deg < answer.tilt_deg:
        lines.append(
            f"So much for the joints: the base is rough for them. With its own friction something goes at "
            f"{significant(answer.goes_at_deg, 2)} degrees, sliding: a rougher sheet or a wider foot helps there."
        )
    if answer.slides_at_deg is not None:
        lines.append(
            f"Whatever the joints, the whole slides on the base at {significant(answer.slides_at_deg, 2)} degrees."
        )
    return lines


def _headline(answer: Suggestion) -> str:
    wanted = f"{answer.tilt_wanted_deg:g} degrees of tilt"
    dry = "Dry-laid it stands level." if answer.stands_dry else "Dry-laid it does not stand."
    if answer.kept:
        dry = dry.replace("Dry-laid", f"With its {answer.kept} joints")
    count = f"{len(answer.joints)} joint{'s' if len(answer.joints) != 1 else ''}"
    held = {
        "no joints needed": f"No joints needed: nothing moves up to {wanted}, in every water.",
        "holds": f"{dry} {count} hold it up to {wanted}, in every water.",
        "holds less": f"{dry} {count} hold it up to {answer.tilt_deg:g} degrees; {wanted} cannot be reached.",
        "no joints hold it": f"{dry} No joints hold it.",
    }
    return held.get(answer.verdict, "Undetermined.")


def _suggested_row(joint: SuggestedJoint) -> str:
    by = joint.entry.glue or f"{joint.entry.kind} of {joint.entry.capacity_n:g} N"
    area = f"{joint.area_mm2:.0f} mm2" if joint.amount is not None else "-"
    return _row(_pair(joint.entry.between), by, area, joint.utilisation, joint.amount)


def _row(between: str, by: str, area: str, used: float | None, amount: GlueAmount | None) -> str:
    share = "?" if used is None else f"{100.0 * used:.0f} %"
    glue = sets = cured = "-"
    if amount is not None:
        glue, sets = f"{amount.mass_kg * 1000.0:.1f} g", _minutes(amount.fixture_min)
        cured = _minutes(amount.cure_h * 60.0)
    return f"{between:<{WIDTH}}{by:<30}{area:>9}{share:>6}{glue:>9}{sets:>8}{cured:>8}"


def _minutes(minutes: float) -> str:
    if minutes < 120.0:
        return f"{minutes:.0f} min"
    return f"{minutes / 60.0:.0f} h" if minutes < 48.0 * 60.0 else f"{minutes / 1440.0:.0f} d"


def _pair(between: Sequence[str]) -> str:
    return " - ".join(between)


def suggestion_json(answer: Suggestion) -> str:
    """A suggestion as one JSON object."""
    plain: dict[str, Any] = asdict(answer)
    plain["joints"] = [
        {
            **joint.entry.model_dump(exclude_unset=True, exclude_none=True),
            "gap_mm": joint.gap_mm,
            "area_mm2": joint.area_mm2,
            "utilisation": joint.utilisation,
            "without_it": joint.without_it,
            **_amount_json(joint.amount),
        }
        for joint in answer.joints
    ]
    plain["without"] = [{"between": [a, b], "reason": why} for a, b, why in answer.without]
    return json.dumps(plain, indent=2)


def _amount_json(amount: GlueAmount | None) -> dict[str, float]:
    if amount is None:
        return {}
    return {
        "volume_ml": amount.volume_m3 * ML_PER_M3,
        "mass_g": amount.mass_kg * 1000.0,
        "fixture_min": amount.fixture_min,
        "cure_h": amount.cure_h,
    }


def joints_text(report: Report) -> str:
    """Declared joints and modules as the command prints them."""
    if not report.joints and not report.modules:
        return "The scene has no joints. `bedjoint glue SCENE --suggest` proposes some."
    lines = [f"{'joint':<{WIDTH}}{'by':<30}{'area':>9}{'used':>6}{'glue':>9}{'sets':>8}{'cured':>8}"]
    lines += [_declared_row(joint) for joint in report.joints]
    lines += [f"  {_pair(joint.between)}: {joint.reason}" for joint in report.joints if joint.reason]
    for total in report.glue:
        lines += ["", f"{total.glue}: {total.mass_g:.1f} g ({total.volume_ml:.1f} ml in the joints)"]
        lines += [f"  {hazard}" for hazard in adhesive(total.glue).hazards]
    for module in report.modules:
        lines += ["", *module_lines(module)]
    return "\n".join(lines)


def _declared_row(joint: JointReport) -> str:
    amount = None
    if joint.volume_ml is not None and joint.mass_g is not None and joint.fixture_min is not None:
        amount = GlueAmount(joint.volume_ml / ML_PER_M3, joint.mass_g / 1000.0, joint.fixture_min, joint.cure_h or 0.0)
    area = "-" if joint.area_mm2 is None else f"{joint.area_mm2:.0f} mm2"
    row = _row(_pair(joint.between), joint.glue or joint.kind, area, joint.utilisation, amount)
    return row if joint.verdict == "holds" else f"{row}  {joint.verdict}"


def module_lines(module: ModuleAnswer) -> list[str]:
    """One module: weight, lifting points, and how it bears the hand."""
    size = " x ".join(f"{side:.0f}" for side in module.size_mm)
    at = "; ".join(", ".join(f"{value:.0f}" for value in point) for point in module.lift_at_mm)
    lines = [f"Module {module.id}: {module.mass_kg:.2f} kg, {size} mm; lifted at {at} mm. {module.advice}"]
    for handling in (module.lifted, module.turned):
        used = "" if handling.utilisation is None else f", joints used {100.0 * handling.utilisation:.0f} %"
        why = f" ({handling.reason})" if handling.reason else ""
        lines.append(f"  {handling.attitude}, at 1.5 times its weight: {handling.verdict}{used}{why}")
    return lines


def joints_json(report: Report) -> str:
    """Declared joints and modules as one JSON object."""
    return json.dumps(
        {
            "joints": [asdict(joint) for joint in report.joints],
            "glue": [asdict(total) for total in report.glue],
            "modules": [asdict(module) for module in report.modules],
        },
        indent=2,
    )
