"""Step pages: the stack before and after, and all that the hands must know."""

from __future__ import annotations

import numpy as np

from sim.order import Step
from sim.report.figures import force_ways
from sim.report.sheet.blocks import Beside, Block, Heading, Photo, Photos, Together, Words
from sim.report.sheet.cover import facts
from sim.report.sheet.gathering import MANY, Bench
from sim.report.sheet.stones import direction, turn
from sim.units import significant

FULL_WAYS = (("to the right", "to the left"), ("to the back", "to the front"), ("up", "down"))


def step_pages(bench: Bench, photos: list[tuple[Photo, Photo]]) -> list[Block]:
    """One part per step, two on a page, five where there are many."""
    order = bench.order
    if not order.steps:
        return _without_order(bench)
    blocks: list[Block] = [Heading("Steps", fresh=True), *_about(bench)]
    small = len(order.steps) > MANY
    for step, pair in zip(order.steps, photos, strict=True):
        rows = _facts(bench, step)
        title = f"Step {step.number} of {len(order.steps)}: set {_unit(bench, step)}"
        if small:
            words = ". ".join(f"{name}: {text}" for name, text in rows)
            columns: tuple[tuple[Block, ...], ...] = ((Photos(pair),), (Words(f"{words}.", "note"),))
            blocks.append(Together((Heading(title, 3), Beside(columns, (0.56, 0.44)))))
        else:
            blocks.append(Together((Heading(title, 2), Photos(pair, 0.8), facts(rows, 0.17))))
    return blocks


def _without_order(bench: Bench) -> list[Block]:
    names = ", ".join(bench.numbered(piece.id) for piece in bench.by_number())
    return [
        Heading("Steps"),
        Words(f"No order of setting: {bench.order.verdict}. {bench.order.reason}".rstrip(".") + ".", "strong"),
        Words(f"The numbers go from what carries to what is carried, and were not judged step by step: {names}."),
    ]


def _about(bench: Bench) -> list[Block]:
    order = bench.order
    best = "the best there is" if order.proved else "the best that was found in the time"
    words = f"This order is {best}. In the pictures new pieces are outlined and tinted; an arrow marks what is held."
    blocks: list[Block] = [Words(words)]
    if order.holds:
        blocks.append(Words(f"It needs {order.holds} hold{'s' if order.holds != 1 else ''}: {order.reason}.", "strong"))
    return blocks


def _unit(bench: Bench, step: Step) -> str:
    if len(step.pieces) == 1 and step.pieces[0] == step.unit:
        return bench.numbered(step.unit)
    return f"module {step.unit} ({', '.join(bench.numbered(name) for name in step.pieces)})"


def _facts(bench: Bench, step: Step) -> list[tuple[str, str]]:
    rows = [row for name in step.pieces for row in _place_rows(bench, name, len(step.pieces) > 1)]
    rows.append(("Rests on", ", ".join(bench.numbered(name) for name in step.rests_on) or "nothing: hold it"))
    if step.way_in != "straight down":
        rows.append(("Way in", step.way_in))
    if step.wait_first:
        pairs = ", ".join(_pair(bench, pair) for pair in step.wait_first)
        rows.append(("Wait first", f"{step.wait_h:.0f} h, until the glue of {pairs} has cured"))
    rows += [("Glue", _glue(bench, pair)) for pair in step.joints]
    for hold in step.holds:
        at = (
            ""
            if hold.at_mm is None
            else f" with a prop at x, y, z {bench.measures.point(*hold.at_mm)} {bench.measures.unit}"
        )
        rows.append(
            ("Hold", f"{bench.numbered(hold.piece)}{at}, {force_words(hold.force_n)}, until {_told(bench, hold.until)}")
        )
    still = [name for name in step.holding if name not in {hold.piece for hold in step.holds}]
    if still:
        rows.append(("Still held", ", ".join(bench.numbered(name) for name in still)))
    if step.settles_mm >= 0.1:
        rows.append(("Gives", f"{step.settles_mm:.1f} mm here, until the next pieces press it down"))
    margin = "held: not known" if step.margin_deg is None else f"bears a tilt of {step.margin_deg:.1f} degrees now"
    rows.append(("Margin", margin))
    slot = None if bench.plan is None else next((one for one in bench.plan.slots if one.step == step.number), None)
    if slot is not None:
        rows.append(("When", f"day {slot.day}, {slot.clock}"))
    return rows


def _place_rows(bench: Bench, name: str, several: bool) -> list[tuple[str, str]]:
    place, length = bench.places[name], bench.measures.length
    piece = next(one for one in bench.pieces if one.id == name)
    x, y, z = (length(value) for value in place.low_mm)
    words = f"left side {x} from the left pane, front side {y} from the front pane, lowest point {z} above the glass"
    if several:
        return [(f"Place of {bench.numbers[name]}", words)]
    way = direction(bench, name)
    points = "" if way == "none" else f"long side {way}; "
    turned = f"{points}mesh turned {turn(piece, bench.scene.piece_named(name))} degrees about x, y, z"
    return [("Weight", f"{piece.mass_kg:.2f} kg"), ("Place", words), ("Turn", turned)]


def _pair(bench: Bench, pair: tuple[str, str]) -> str:
    return " to ".join(bench.numbered(name) for name in pair)


def _glue(bench: Bench, pair: tuple[str, str]) -> str:
    joint = bench.joint(pair)
    if joint is None:
        return _pair(bench, pair)
    if joint.glue is None:
        return f"{joint.kind} {_pair(bench, pair)}"
    amount = "" if joint.mass_g is None else f", {significant(joint.mass_g, 2)} g"
    area = "" if joint.area_mm2 is None else f" on {joint.area_mm2:.0f} mm2"
    sets = "" if joint.fixture_min is None else f"; holds by itself after {joint.fixture_min:.0f} min"
    return f"{_pair(bench, pair)}: {joint.glue}{amount}{area}{sets}"


def _told(bench: Bench, until: str) -> str:
    """The same words with numbers beside the names."""
    return " ".join(bench.numbered(word) if word in bench.numbers else word for word in until.split(" "))


def force_words(force_n: tuple[float, float, float]) -> str:
    """What a hand or prop gives, and which way."""
    return f"{significant(float(np.linalg.norm(force_n)), 2)} N {force_ways(force_n, FULL_WAYS)}".rstrip()
