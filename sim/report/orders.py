"""Orders in words and as JSON."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

import numpy as np

from sim.order import Order, Problem, Proposal, Step, schedule
from sim.report.figures import force_ways

NAME, ON, MARGIN = 22, 34, 9


def order_text(problem: Problem, order: Order, proposals: Sequence[Proposal] = ()) -> str:
    """An order as the command prints it."""
    lines = [_headline(order)]
    if order.reason:
        lines += ["", order.reason[:1].upper() + order.reason[1:] + "."]
    if order.steps:
        plan = schedule(problem, order)
        when = {slot.step: f"day {slot.day} {slot.clock}" for slot in plan.slots}
        lines += [""] if any(slot.step == 0 for slot in plan.slots) else []
        for slot in plan.slots:
            if slot.step == 0:
                lines.append(f"Glue {slot.unit} on a table, day {slot.day} {slot.clock}, and let it cure.")
        lines += ["", f"{'':>3}  {'set':<{NAME}}{'on':<{ON}}{'margin':>{MARGIN}}  when"]
        for step in order.steps:
            lines += _step_lines(step, when[step.number])
        lines += ["", *_plan_lines(plan.work_h, plan.days, plan.ready_day, plan.glue_g)]
    for proposal in proposals:
        lines += ["", *_proposal_lines(proposal)]
    return "\n".join(lines)


def _headline(order: Order) -> str:
    if not order.steps or order.fails_at is not None:
        return "No order: it cannot be built like this." if order.verdict == "no order" else "Undetermined."
    best = "the best there is" if order.proved else "the best found in the time"
    margin = f", {order.worst_margin_deg:.1f} degrees at the worst step" if order.worst_margin_deg is not None else ""
    waits = f", {order.waits} wait{'s' if order.waits != 1 else ''} for glue" if order.waits else ""
    what = "Stands at every step" if not order.holds else f"Needs {order.holds} hold{'s' if order.holds != 1 else ''}"
    return f"{what}{margin}{waits} ({best}; {order.states} partial stacks judged)."


def _step_lines(step: Step, when: str) -> list[str]:
    margin = "held" if step.margin_deg is None else f"{step.margin_deg:.1f}"
    on = ", ".join(step.rests_on)
    on = on if len(on) < ON else f"{on[: ON - 5]}..."
    lines = []
    if step.wait_first:
        pairs = ", ".join(" - ".join(pair) for pair in step.wait_first)
        lines.append(f"     wait until the glue of {pairs} has cured ({step.wait_h:.0f} h)")
    lines.append(f"{step.number:>3}  {step.unit:<{NAME}}{on:<{ON}}{margin:>{MARGIN}}  {when}")
    if step.way_in != "straight down":
        lines.append(f"     {step.way_in}")
    lines += [f"     glue {' - '.join(pair)}" for pair in step.joints]
    for hold in step.holds:
        at = "" if hold.at_mm is None else f" at {hold.at_mm[0]:.0f}, {hold.at_mm[1]:.0f}, {hold.at_mm[2]:.0f} mm"
        lines.append(f"     hold {hold.piece}: {force_words(hold.force_n)}{at}, until {hold.until}")
    if step.settles_mm >= 0.1:
        lines.append(f"     gives {step.settles_mm:.1f} mm here, until the next pieces press it down")
    return lines


def force_words(force_n: Sequence[float]) -> str:
    """Size and direction of a force: "8.2 N up"."""
    return f"{float(np.linalg.norm(force_n)):.1f} N {force_ways(force_n)}"


def _plan_lines(work_h: float, days: int, ready_day: int, glue_g: Sequence[tuple[str, float]]) -> list[str]:
    lines = [f"{work_h:.1f} hours of work on {days} day{'s' if days != 1 else ''}."]
    if glue_g:
        amounts = ", ".join(f"{grams:.0f} g of {name}" for name, grams in glue_g)
        lines.append(f"{amounts}. All glue has cured on day {ready_day}: fill no earlier.")
    return lines


def _proposal_lines(proposal: Proposal) -> list[str]:
    answer, order = proposal.check.answer, proposal.order
    at = "; ".join(", ".join(f"{value:.0f}" for value in point) for point in answer.lift_at_mm)
    holds = "no hold" if not order.holds else f"{order.holds} hold{'s' if order.holds != 1 else ''}"
    return [
        f"Glue {', '.join(proposal.pieces)} outside the tank and lift it in as one: {holds} then. "
        f"{answer.mass_kg:.2f} kg, lifted at {at} mm. {answer.advice}".rstrip()
    ]


def compared_text(orders: Sequence[tuple[str, Order]]) -> str:
    """Orders beside each other."""
    lines = [f"{'order':<16}{'verdict':<22}{'holds':>6}{'margin':>9}{'waits':>7}{'cure':>8}"]
    for name, order in orders:
        margin = "-" if order.worst_margin_deg is None else f"{order.worst_margin_deg:.1f}"
        verdict = order.verdict if order.fails_at is None else f"fails at step {order.fails_at}"
        lines.append(f"{name:<16}{verdict:<22}{order.holds:>6}{margin:>9}{order.waits:>7}{order.wait_h:>6.0f} h")
    return "\n".join(lines)


def order_json(
    problem: Problem, order: Order, proposals: Sequence[Proposal] = (), others: Sequence[tuple[str, Order]] = ()
) -> str:
    """An order with its schedule as one JSON object."""
    plain: dict[str, Any] = asdict(order)
    plan = schedule(problem, order)
    plain["schedule"] = {
        "days": plan.days,
        "work_h": plan.work_h,
        "ready_day": plan.ready_day,
        "slots": [{**asdict(slot), "day": slot.day, "clock": slot.clock} for slot in plan.slots],
        "glue_g": dict(plan.glue_g),
    }
    plain["modules"] = [
        {"pieces": list(one.pieces), "holds": one.order.holds, **asdict(one.check.answer)} for one in proposals
    ]
    plain["compared"] = [{"name": name, **asdict(other)} for name, other in others]
    return json.dumps(plain, indent=2)
