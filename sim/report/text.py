"""A report as text for the terminal: the verdict first, then why, then the margins."""

from __future__ import annotations

from sim.states import Report, StateAnswer
from sim.states.answer import PUSH_CAP_N, RESERVE_CAP
from sim.states.words import towards
from sim.units import significant

WIDTH = 100
LEAST_SHOWN = 1.0e-4  # share of its limit that a side pane uses: less is none
NOTHING = 1.0e-3  # newtons or degrees: less is printed as none
FILLED = {"air": "in air", "partial": "partial fill", "flooded": "flooded", "drained": "drained, wet"}


def report_text(report: Report) -> str:
    """The whole report."""
    parts = [_head(report), _weakest(report), _states(report), _misplaced(report), _joints(report)]
    parts += [_footprints(report), _base(report), _sides(report), _totals(report), _lifts(report)]
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
        lines.append(_wrapped(_sentence(report.reason)))
    if report.quick:
        lines.append("Quick: without the slightly shifted copies and without the dynamic trial.")
    if report.dry_laid is not None:
        why = f": {report.dry_laid.reason}" if report.dry_laid.reason else ""
        held = "glue" if all(joint.kind == "glue" for joint in report.joints) else "joints"
        lines.append(_wrapped(f"Without its {held}: {report.dry_laid.verdict}{why}."))
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
            f"{_figure(margins.stack_tilt_deg or margins.critical_tilt_deg):>8}{_figure(margins.sliding_tilt_deg):>8}"
            f"{_figure(margins.least_push_n, PUSH_CAP_N):>8}{_figure(robust):>8}  {trial}"
        )
    return "\n".join(rows)


def _figure(value: float | None, cap: float | None = None) -> str:
    if value is None:
        return "-"
    if abs(value) < NOTHING:
        return "0"
    return "none" if cap is not None and value >= cap else significant(value, 2)


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
        amounts = f"{_figure(joint.volume_ml):>7}{_figure(joint.mass_g):>7}{_figure(joint.fixture_min):>9}"
        rows.append(
            f"{name:<36}{joint.glue or joint.kind:<28}{area:>7}{used:>7}{amounts}{_figure(joint.cure_h):>7}"
            f"  {joint.verdict}{why}"
        )
    for total in report.glue:
        amounts = f"{significant(total.volume_ml)} ml in {total.joints} joints, buy {significant(total.mass_g)} g"
        rows.append(f"{total.glue} in all: {amounts} (spills and squeeze-out included)")
    return "\n".join(rows)


def _footprints(report: Report) -> str:
    """What each piece presses on the base with, spots taken together; the JSON report has every spot."""
    if not report.footprints:
        return ""
    rows = [f"{'presses on the base':<20}{'spots':>6}{'mm2':>8}{'N':>8}{'one spot N at most':>20}  middle at x, y mm"]
    for name in dict.fromkeys(one.piece for one in report.footprints):
        spots = [one for one in report.footprints if one.piece == name]
        force = sum(one.force_n.nominal for one in spots)
        most = [one.force_n.most for one in spots if one.force_n.most is not None]
        shares = [one.force_n.nominal / force if force > 0.0 else 1.0 / len(spots) for one in spots]
        x, y = (sum(share * one.centre_mm[axis] for share, one in zip(shares, spots, strict=True)) for axis in (0, 1))
        area = sum(one.area_mm2 for one in spots)
        rows.append(
            f"{name:<20}{len(spots):>6}{area:>8.0f}{significant(force):>8}"
            f"{_figure(max(most) if len(most) == len(spots) else None):>20}  {x:.0f}, {y:.0f}"
        )
    return "\n".join(rows)


def _base(report: Report) -> str:
    """The base pane in every state as built."""
    rows = [
        f"{'base pane':<22}{'tension MPa':>12}{'nominal':>9}{'limit':>7}{'used':>7}{'sags mm':>9}  verdict, at x, y mm"
    ]
    for state in report.states:
        base = state.base
        if base is None or not state.as_built:
            continue
        used = "-" if base.utilisation is None else f"{100.0 * base.utilisation:.0f} %"
        why = f": {base.reason}" if base.reason else ""
        rows.append(
            f"{FILLED[state.water]:<22}{_figure(base.max_tension_mpa):>12}{_figure(base.nominal_tension_mpa):>9}"
            f"{_figure(base.limit_mpa):>7}{used:>7}{significant(base.deflection_mm, 2):>9}  {base.verdict}{why}, "
            f"{base.at_mm[0]:.0f}, {base.at_mm[1]:.0f}"
        )
    if len(rows) == 1:
        return ""
    carried = report.base.support if report.base is not None else "rim"
    rows.append(f"Carried by {'its rim' if carried == 'rim' else 'a mat, and its rim'}. The largest tension that any "
                "admissible forces give.")  # fmt: skip
    return "\n".join(rows)


def _sides(report: Report) -> str:
    """The side panes that anything presses on, each in the state that uses it most."""
    pressed = [one for one in report.side_panes if (one.utilisation is None or one.utilisation >= LEAST_SHOWN)]
    if not pressed:
        return ""
    rows = [
        f"{'side pane':<13}{'worst':<14}{'thrust N':>9}{'at most':>9}{'tension MPa':>12}{'limit':>7}{'used':>7}"
        f"{'bends mm':>9}  verdict, at x, y, z mm"
    ]
    for one in pressed:
        used = "-" if one.utilisation is None else f"{100.0 * one.utilisation:.0f} %"
        why = f": {one.reason}" if one.reason else ""
        most = _figure(one.thrust_n.most) if one.thrust_n.most is not None else "no bound"
        place = ", ".join(f"{v:.0f}" for v in one.at_mm)
        rows.append(
            f"{one.pane.removesuffix(' pane'):<13}{FILLED[one.water]:<14}{_figure(one.thrust_n.nominal):>9}{most:>9}"
            f"{_figure(one.max_tension_mpa):>12}{_figure(one.limit_mpa):>7}{used:>7}"
            f"{significant(one.deflection_mm, 2):>9}  {one.verdict}{why}, {place}"
        )
    top = "held by its braces" if pressed[0].top_held else "free"
    rows.append(f"Held at the bottom and at both uprights, the top {top}; water and ground press from inside.")
    return "\n".join(rows)


def _lifts(report: Report) -> str:
    """The lifts that are no lift for one."""
    heavy = [piece for piece in report.pieces if piece.lift.advice]
    if not heavy:
        return ""
    lines = [
        f"  {piece.id}: {piece.mass_kg:.1f} kg, limit {piece.lift.rwl_kg:.1f} kg: {piece.lift.advice}"
        for piece in heavy
    ]
    return "\n".join(["Lifting over the rim (revised NIOSH equation):", *lines])


def _totals(report: Report) -> str:
    total = report.total
    text = f"{len(report.pieces)} pieces, {total.mass_kg:.2f} kg, displacing {total.displaced_ml:.0f} ml when covered"
    if total.centre_mm is not None:
        x, y, z = total.centre_mm
        text += f"; centre of mass at x {x:.0f}, y {y:.0f}, z {z:.0f} mm"
    weights = report.weights
    parts = f"glass {weights.glass_kg:.0f}, pieces {weights.pieces_kg:.1f}, ground {weights.ground_kg:.0f}"
    parts += f", water {weights.water_kg:.0f} ({weights.water_l:.0f} l), stand {weights.stand_kg:.0f}"
    floor = f"{weights.floor_kpa:.1f} kPa under the tank, {weights.spread_kpa:.1f} kPa with half a metre around it"
    return f"{text}.\nFull: {weights.total_kg:.0f} kg ({parts}): {floor}."


def _notes(title: str, notes: tuple[str, ...]) -> str:
    if not notes:
        return ""
    return "\n".join([f"{title}:", *(_wrapped(f"- {note}", "  ", "    ") for note in notes)])


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + ("" if text.endswith(".") else ".")


def _wrapped(text: str, first: str = "", later: str = "") -> str:
    import textwrap

    return textwrap.fill(text, WIDTH, initial_indent=first, subsequent_indent=later, break_long_words=False)
