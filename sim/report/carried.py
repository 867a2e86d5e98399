"""What panes, stand, floor and hands carry, as text; and ballast and costs."""

from __future__ import annotations

from sim.report.figures import FILLED, figure, wrapped
from sim.states import Report
from sim.units import significant

LEAST_SHOWN = 1.0e-4  # share of its limit that a side pane uses: less is none


def footprints(report: Report) -> str:
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
            f"{figure(max(most) if len(most) == len(spots) else None):>20}  {x:.0f}, {y:.0f}"
        )
    return "\n".join(rows)


def base(report: Report) -> str:
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
            f"{FILLED[state.water]:<22}{figure(base.max_tension_mpa):>12}{figure(base.nominal_tension_mpa):>9}"
            f"{figure(base.limit_mpa):>7}{used:>7}{significant(base.deflection_mm, 2):>9}  {base.verdict}{why}, "
            f"{base.at_mm[0]:.0f}, {base.at_mm[1]:.0f}"
        )
    if len(rows) == 1:
        return ""
    carried = report.base.support if report.base is not None else "rim"
    rows.append(f"Carried by {'its rim' if carried == 'rim' else 'a mat, and its rim'}. The largest tension that any "
                "admissible forces give.")  # fmt: skip
    return "\n".join(rows)


def sides(report: Report) -> str:
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
        most = figure(one.thrust_n.most) if one.thrust_n.most is not None else "no bound"
        place = ", ".join(f"{v:.0f}" for v in one.at_mm)
        rows.append(
            f"{one.pane.removesuffix(' pane'):<13}{FILLED[one.water]:<14}{figure(one.thrust_n.nominal):>9}{most:>9}"
            f"{figure(one.max_tension_mpa):>12}{figure(one.limit_mpa):>7}{used:>7}"
            f"{significant(one.deflection_mm, 2):>9}  {one.verdict}{why}, {place}"
        )
    top = "held by its braces" if pressed[0].top_held else "free"
    rows.append(f"Held at the bottom and at both uprights, the top {top}; water and ground press from inside.")
    return "\n".join(rows)


def totals(report: Report) -> str:
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


def lifts(report: Report) -> str:
    """The lifts that are no lift for one."""
    heavy = [piece for piece in report.pieces if piece.lift.advice]
    if not heavy:
        return ""
    lines = [
        f"  {piece.id}: {piece.mass_kg:.1f} kg, limit {piece.lift.rwl_kg:.1f} kg: {piece.lift.advice}"
        for piece in heavy
    ]
    return "\n".join(["Lifting over the rim (revised NIOSH equation):", *lines])


def remedies(report: Report) -> str:
    """What would help a base pane that does not pass."""
    if not report.remedies:
        return ""
    rows = ["What would help the base pane:"]
    for one in report.remedies:
        used = ""
        if one.utilisation is not None:
            used = f" ({figure(one.max_tension_mpa)} MPa, {100.0 * one.utilisation:.0f} % used)"
        rows.append(f"  {'+' if one.passes else '-'} {one.what}: {one.verdict}{used}")
    return "\n".join(rows)


def fall(report: Report) -> str:
    """Where the piece that moves first would hit."""
    one = report.fall
    if one is None:
        return ""
    x, y, z = one.at_mm
    where = f"the {one.hits}" + (f" {z:.0f} mm up" if one.hits != "base" else "")
    return wrapped(
        f"If {one.piece} fell, its {significant(one.mass_kg, 2)} kg would come down by {one.height_mm:.0f} mm and hit "
        f"{where}, about x {x:.0f}, y {y:.0f} mm, at most {significant(one.energy_j, 2)} J (in air, a rough picture)."
    )


def standing(report: Report) -> str:
    """The whole weight in plan, and the feet."""
    one = report.standing
    x, y = one.off_middle_mm
    side, depth = "right" if x >= 0.0 else "left", "back" if y >= 0.0 else "front"
    text = f"Full, its centre lies {abs(x):.0f} mm to the {side} and {abs(y):.0f} mm to the {depth} of the middle"
    if one.within_feet is None:
        return wrapped(f"{text}; no feet are given.")
    if not one.within_feet:
        return wrapped(f"{text}, outside the feet of its stand: it tips.")
    rows = [wrapped(f"{text}."), f"{'foot at x, y mm':<18}{'kN':>7}{'at least':>10}{'at most':>9}"]
    for foot in one.feet:
        force = foot.force_kn
        place = f"{foot.at_mm[0]:.0f}, {foot.at_mm[1]:.0f}"
        rows.append(f"{place:<18}{figure(force.nominal):>7}{figure(force.least):>10}{figure(force.most):>9}")
    rows.append("Feet of equal compliance; least and most of every split that balances, as one leg may be short.")
    return "\n".join(rows)


def ballast(report: Report) -> str:
    """Floating wood and what holds it."""
    one = report.ballast
    if one is None:
        return ""
    there = "nothing"
    if one.stones:
        mass, force = significant(one.there_kg, 2), significant(one.there_n, 2)
        there = f"{', '.join(one.stones)} ({mass} kg, {force} N in the water)"
    why = f": {one.reason}" if one.reason else ""
    grows = ""
    if one.factor is not None and one.factor > 0.0:
        grows = f"; the lift may grow {significant(one.factor, 2)} times before anything moves"
    return wrapped(
        f"Ballast: {', '.join(one.wood)} lifts with {significant(one.lift_n, 2)} N when dry; it takes "
        f"{significant(one.needed_kg, 2)} kg of stone in the water. Joined to it or on it: {there}. "
        f"{one.verdict.capitalize()}{why}{grows}."
    )


def costs(report: Report) -> str:
    """The bill."""
    bill = report.costs
    if bill is None:
        return ""
    money = f" {bill.currency}" if bill.currency else ""
    rows = [f"{'costs':<28}{'amount':>12}{'packs':>7}{'price' + money:>14}"]
    for item in bill.items:
        price = "-" if item.price is None else f"{item.price:.2f}"
        packs = "-" if item.packs is None else str(item.packs)
        rows.append(f"{item.what:<28}{f'{figure(item.amount)} {item.unit}':>12}{packs:>7}{price:>14}")
    rows.append(f"{'in all':<47}{bill.total:>14.2f}")
    if bill.left is not None and bill.budget is not None:
        word = "left of" if bill.left >= 0.0 else "over"
        rows.append(f"{word + f' the budget of {bill.budget:.2f}':<47}{abs(bill.left):>14.2f}")
    if bill.without_price:
        rows.append(f"Without a price: {', '.join(bill.without_price)}.")
    return "\n".join(rows)
