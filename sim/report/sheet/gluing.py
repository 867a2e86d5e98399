"""Glue to buy, joints, and when each step is done."""

from __future__ import annotations

from sim.materials import adhesive
from sim.order import Slot
from sim.order.schedule import DAY_MIN
from sim.report.figures import figure
from sim.report.sheet.blocks import Block, Heading, Points, Table, Words
from sim.report.sheet.gathering import Bench
from sim.states import JointReport
from sim.units import significant


def glue_pages(bench: Bench) -> list[Block]:
    """Shopping list and joints."""
    report = bench.report
    blocks: list[Block] = [Heading("Glue and schedule")]
    if not report.joints:
        blocks.append(Words("No joints: everything is laid dry. No glue to buy."))
    if report.glue:
        packs = {} if report.costs is None else {item.what: item.packs for item in report.costs.items}
        rows = []
        for one in report.glue:
            count = packs.get(one.glue)
            bought = "-" if count is None else str(count)
            rows.append((one.glue, str(one.joints), significant(one.volume_ml), significant(one.mass_g), bought))
        blocks += [
            Heading("Glue to buy", 2),
            Table(
                ("glue", "joints", "ml in the joints", "g to buy", "packs"),
                tuple(rows), (0.4, 0.12, 0.2, 0.16, 0.12), ("left", "right", "right", "right", "right"),
            ),
            Words("Spills and squeeze-out are in the mass to buy; read the leaflet of your own product.", "note"),
        ]  # fmt: skip
        hazards = [
            f"{one.glue.capitalize()}: {hazard}." for one in report.glue for hazard in adhesive(one.glue).hazards
        ]
        blocks.append(Points(tuple(hazards)))
    if report.joints:
        blocks += [Heading("Joints", 2), _joints(bench)]
    return [*blocks, *_schedule(bench)]


def _joints(bench: Bench) -> Table:
    return Table(
        ("joint", "by", "area mm2", "g", "holds after", "cured after", "used", ""),
        tuple(_joint_row(bench, joint) for joint in bench.report.joints),
        (0.27, 0.17, 0.1, 0.07, 0.11, 0.11, 0.08, 0.09),
        ("left", "left", "right", "right", "right", "right", "right", "left"),
    )


def _joint_row(bench: Bench, joint: JointReport) -> tuple[str, ...]:
    return (
        " – ".join(bench.numbered(name) for name in joint.between),
        joint.glue or joint.kind,
        "-" if joint.area_mm2 is None else f"{joint.area_mm2:.0f}",
        figure(joint.mass_g),
        "-" if joint.fixture_min is None else f"{joint.fixture_min:.0f} min",
        "-" if joint.cure_h is None else f"{joint.cure_h:.0f} h",
        "?" if joint.utilisation is None else f"{100.0 * joint.utilisation:.0f} %",
        joint.verdict,
    )


def _schedule(bench: Bench) -> list[Block]:
    plan = bench.plan
    if plan is None:
        return []
    steps = {step.number: step for step in bench.order.steps}
    rows = []
    for slot in plan.slots:
        step = steps[slot.step]
        names = ", ".join(bench.numbered(name) for name in step.pieces)
        wait = f"waited {slot.waited_min / 60.0:.0f} h for glue" if slot.waited_min >= 60.0 else ""
        rows.append((str(slot.day), slot.clock, str(slot.step), names, str(len(step.joints) or ""), _cured(slot), wait))
    days = f"{plan.days} day{'s' if plan.days != 1 else ''}"
    ready = f" All glue has cured on day {plan.ready_day}: fill no earlier." if bench.report.glue else ""
    return [
        Heading("Schedule", 2),
        Words(f"{plan.work_h:.1f} hours of work on {days}, from nine o'clock.{ready}"),
        Table(
            ("day", "at", "step", "set", "joints", "its glue has cured", ""),
            tuple(rows), (0.07, 0.09, 0.08, 0.3, 0.09, 0.19, 0.18),
            ("right", "right", "right", "left", "right", "left", "left"),
        ),
    ]  # fmt: skip


def _cured(slot: Slot) -> str:
    if slot.cured_min is None:
        return ""
    minute = round(slot.cured_min % DAY_MIN)
    return f"day {int(slot.cured_min // DAY_MIN) + 1}, {minute // 60:02d}:{minute % 60:02d}"
