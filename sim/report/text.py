"""A report as text for the terminal: the verdict first, then why, then the margins."""

from __future__ import annotations

from sim.report.carried import (
    ballast,
    base,
    costs,
    fall,
    footprints,
    lifts,
    remedies,
    sides,
    standing,
    totals,
)
from sim.report.figures import FILLED, figure, sentence, wrapped
from sim.report.joints import module_lines
from sim.states import Report, StateAnswer
from sim.states.answer import PUSH_CAP_N, RESERVE_CAP
from sim.states.words import towards
from sim.units import significant


def report_text(report: Report) -> str:
    """The whole report."""
    parts = [_head(report), _weakest(report), _states(report), _misplaced(report), _joints(report)]
    parts += [footprints(report), base(report), remedies(report), sides(report), fall(report), totals(report)]
    parts += [*("\n".join(wrapped(line) for line in module_lines(module)) for module in report.modules)]
    parts += [standing(report), lifts(report), ballast(report), costs(report)]
    parts += [_notes("Assumed", report.inputs_assumed)]
    parts += [_notes("Cautions", report.cautions)]
    return "\n\n".join(part for part in parts if part)


def _head(report: Report) -> str:
    name = f"{report.title}: " if report.title else ""
    asked = "" if not report.states_left_out else f" ({', '.join(_asked(report))} only)"
    lines = [f"{name}{report.verdict}{asked}"]
    if report.base is not None:
        used = "" if report.base.utilisation is None else f" ({100.0 * report.base.utilisation:.0f} % used)"
        lines.append(f"Base pane: {report.base.verdict}{used}")
    if report.reason:
        lines.append(wrapped(sentence(report.reason)))
    if report.quick:
        lines.append("Quick: without the slightly shifted copies and without the dynamic trial.")
    if report.dry_laid is not None:
        why = f": {report.dry_laid.reason}" if report.dry_laid.reason else ""
        held = "glue" if all(joint.kind == "glue" for joint in report.joints) else "joints"
        lines.append(wrapped(f"Without its {held}: {report.dry_laid.verdict}{why}."))
    return "\n".join(lines)


def _asked(report: Report) -> list[str]:
    return [FILLED[key] for key in FILLED if key not in report.states_left_out]


def _weakest(report: Report) -> str:
    """Margins of the governing state as sentences."""
    if report.governing is None:
        return ""
    state = report.states[report.governing]
    margins = state.equilibrium
    lines = []
    if margins.critical_tilt_deg is not None and margins.critical_azimuth_deg is not None:
        lines.append(_tilt_line(state))
    if margins.sliding_tilt_deg is not None:
        lines.append(f"the whole stack slides on the base at {significant(margins.sliding_tilt_deg, 2)} degrees")
    if margins.least_push_n is not None and margins.least_push_piece is not None:
        if margins.least_push_n < PUSH_CAP_N:
            lines.append(
                f"a push of {significant(margins.least_push_n, 2)} N at its top moves {margins.least_push_piece}"
            )
        else:
            lines.append("no sideways push at a top moves anything")
    if margins.friction_reserve is not None:
        lines.append(_reserve_line(margins.friction_reserve))
    if state.robust is not None and state.robust.least_tilt_deg is not None:
        lines.append(
            f"shifted a little, {state.robust.copies} times, it bears a tilt of at least "
            f"{significant(state.robust.least_tilt_deg, 2)} degrees"
        )
    if not lines:
        return ""
    where = FILLED[state.water] + (f" at {state.level_mm:.0f} mm" if state.level_mm is not None else "")
    return "\n".join([f"Margins where they are least ({where}):", *(f"  - {line}" for line in lines)])


def _tilt_line(state: StateAnswer) -> str:
    tilt, azimuth = state.equilibrium.critical_tilt_deg or 0.0, state.equilibrium.critical_azimuth_deg or 0.0
    who = "the stack"
    does = "moves"
    if state.motions:
        who, does = state.motions[0].piece, "tips" if state.motions[0].turns else "slides"
        if len(state.motions) > 1:
            who = f"{who} (and {len(state.motions) - 1} more)"
            does = does.removesuffix("s")
    return f"{who} {does} when the tank is tilted {significant(tilt, 2)} degrees to the {towards(azimuth)}"


def _reserve_line(reserve: float) -> str:
    if reserve >= RESERVE_CAP:
        return "it needs next to no friction"
    return f"it needs {significant(100.0 / reserve, 2)} % of the friction that it has"


def _states(report: Report) -> str:
    if not report.states:
        return ""
    figures = "".join(f"{title:>8}" for title in ("tilt", "slides", "push N", "robust"))
    rows = [f"{'laid':<7}{'water':<14}{'level':>6}  {'verdict':<15}{figures}  trial"]
    for state in report.states:
        margins = state.equilibrium
        level = f"{state.level_mm:.0f}" if state.level_mm is not None else "-"
        robust = state.robust.least_tilt_deg if state.robust is not None else None
        trial = ", ".join(f"{one.engine} {one.survivals}/{one.runs}" for one in state.trial if one.runs) or "-"
        rows.append(
            f"{state.laid:<7}{FILLED[state.water]:<14}{level:>6}  {state.verdict:<15}"
            f"{figure(margins.stack_tilt_deg or margins.critical_tilt_deg):>8}{figure(margins.sliding_tilt_deg):>8}"
            f"{figure(margins.least_push_n, PUSH_CAP_N):>8}{figure(robust):>8}  {trial}"
        )
    return "\n".join(rows)


def _misplaced(report: Report) -> str:
    if not report.misplaced:
        return ""
    lines = [f"  {fault}" for fault in report.misplaced]
    return "\n".join(["Out of place:", *lines, "  `bedjoint settle SCENE -o OUT` sets pieces down until they rest."])


def _joints(report: Report) -> str:
    if not report.joints:
        return ""
    rows = [f"{'joint':<36}{'glue':<28}{'mm2':>7}{'used':>7}{'ml':>7}{'g':>7}{'hold min':>9}{'cure h':>7}  verdict"]
    for joint in report.joints:
        area = f"{joint.area_mm2:.0f}" if joint.area_mm2 is not None else "-"
        used = f"{100 * joint.utilisation:.0f} %" if joint.utilisation is not None else "-"
        why = f": {joint.reason}" if joint.reason else ""
        name = " - ".join(joint.between)
        amounts = f"{figure(joint.volume_ml):>7}{figure(joint.mass_g):>7}{figure(joint.fixture_min):>9}"
        rows.append(
            f"{name:<36}{joint.glue or joint.kind:<28}{area:>7}{used:>7}{amounts}{figure(joint.cure_h):>7}"
            f"  {joint.verdict}{why}"
        )
    for total in report.glue:
        amounts = f"{significant(total.volume_ml)} ml in {total.joints} joints, buy {significant(total.mass_g)} g"
        rows.append(f"{total.glue} in all: {amounts} (spills and squeeze-out included)")
    return "\n".join(rows)


def _notes(title: str, notes: tuple[str, ...]) -> str:
    if not notes:
        return ""
    return "\n".join([f"{title}:", *(wrapped(f"- {note}", "  ", "    ") for note in notes)])
