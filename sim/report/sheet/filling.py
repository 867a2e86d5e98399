"""The fill in stops, with what to look at; then cautions, inputs assumed and costs."""

from __future__ import annotations

from sim.base.weights import weights_of
from sim.materials import MARGINAL_UTILISATION
from sim.report.figures import figure, sentence
from sim.report.sheet.blocks import Block, Heading, Points, Table, Together, Words
from sim.report.sheet.gathering import Bench
from sim.states import LevelAnswer

QUARTERS = (0.25, 0.5, 0.75, 1.0)

BEFORE = (
    "All glue has cured; no clamp, prop or tape is left in the tank.",
    "The tank is level along both edges, measured at the rim, and its board is full, flat and rigid.",
    "Every stone lies still when it is pressed with a finger at its top, and no stone touches a side pane.",
    "The base is looked at from below or along its edge: no chip, no crack, no grit under a stone.",
)
AT_EACH_STOP = (
    "Tick at every stop: stones as in the pictures; the rim as level as before; seams and floor dry; the base no lower "
    "in its middle than before. Where one is not so, stop and drain."
)
TICK, LOOK_AT = "□", ("stones", "level", "seams", "base")
AFTER = (
    "After a day: level and seams again, and every stone looked at through all panes.",
    "Before any large change of water: the drained tank is a state of its own, with wet faces.",
)


def filling_pages(bench: Bench) -> list[Block]:
    """Stops of the fill, each with litres, weight, verdict and checks."""
    level = bench.scene.water_level_mm
    if level <= 0.0:
        return [Heading("Filling"), Words("The scene stays dry: there is nothing to fill.")]
    rows = []
    for share in QUARTERS:
        stop = share * level
        water = bench.scene.water.model_copy(update={"level_mm": stop})
        full = weights_of(bench.scene.model_copy(update={"water": water}), bench.pieces, flooded=True)
        rows.append(
            (
                f"{100.0 * share:.0f} %", bench.measures.bare(stop), f"{full.water_l:.0f}", f"{full.total_kg:.0f}",
                _verdict_to(bench, stop), TICK, TICK, TICK, TICK,
            )
        )  # fmt: skip
    panes = [bench.report.base, *bench.report.side_panes]
    used = [pane.utilisation for pane in panes if pane is not None and pane.utilisation is not None]
    tight = max(used, default=0.0) > MARGINAL_UTILISATION
    pause = "a day" if tight else "at least an hour"
    blocks: list[Block] = [Heading("Filling")]
    if not bench.report.passes:
        blocks.append(
            Words(f"Do not fill: the stack is judged '{bench.report.verdict}'" + _pane_words(bench), "framed")
        )
    return [
        *blocks,
        Heading("Before", 2),
        Points(_before(bench), tick=True),
        Together((
            Heading("In four stops", 2),
            Words(f"Slowly, onto a plate, never onto a stone; {pause} between stops. Litres and weights are in all."),
            Words(AT_EACH_STOP),
            Table(
                ("stop", f"level {bench.measures.unit}", "litres", "weighs kg", "up to here", *LOOK_AT),
                tuple(rows), (0.09, 0.15, 0.1, 0.1, 0.2, 0.09, 0.09, 0.09, 0.09),
                ("left", "right", "right", "right", "left", "middle", "middle", "middle", "middle"),
            ),
        )),
        *_levels(bench),
        Heading("After", 2),
        Points(AFTER, tick=True),
    ]  # fmt: skip


def _pane_words(bench: Bench) -> str:
    base = bench.report.base
    return "." if base is None else f", the base pane '{base.verdict}'."


def _before(bench: Bench) -> tuple[str, ...]:
    plan = bench.plan
    if plan is None or not bench.report.glue:
        return BEFORE
    return (f"It is day {plan.ready_day} of the schedule or later.", *BEFORE)


def _fills(bench: Bench) -> list[LevelAnswer]:
    return sorted((one for state in bench.report.states if state.as_built for one in state.levels),
                  key=lambda one: one.level_mm)  # fmt: skip


def _verdict_to(bench: Bench, stop_mm: float) -> str:
    """The worst verdict of the fills judged up to a level; of the full tank at the top."""
    judged = [one.verdict for one in _fills(bench) if one.level_mm <= stop_mm]
    if stop_mm >= bench.scene.water_level_mm:
        judged += [state.verdict for state in bench.report.states if state.as_built and state.water == "flooded"]
    if not judged:
        judged = [state.verdict for state in bench.report.states if state.as_built and state.water == "air"]
    return max(judged, key=_badness) if judged else "not judged"


def _badness(verdict: str) -> int:
    order = ("stands", "stands (quick)", "doubtful", "undetermined", "falls")
    return order.index(verdict)


def _levels(bench: Bench) -> list[Block]:
    fills = _fills(bench)
    if not fills:
        return []
    rows = tuple((bench.measures.bare(one.level_mm), one.verdict, figure(one.critical_tilt_deg)) for one in fills)
    return [
        Heading("Levels at which a piece goes under", 2),
        Table(
            (f"level {bench.measures.unit}", "judged in haste", "bears a tilt of °"), rows, (0.3, 0.4, 0.3),
            ("right", "left", "right"),
        ),
    ]  # fmt: skip


def notes(bench: Bench) -> list[Block]:
    """Cautions, inputs assumed, costs."""
    report = bench.report
    blocks: list[Block] = [Heading("Cautions"), Points(tuple(sentence(one) for one in report.cautions))]
    blocks += [Heading("Inputs assumed", 2), Points(tuple(sentence(one) for one in report.inputs_assumed))]
    return [*blocks, *_costs(bench)]


def _costs(bench: Bench) -> list[Block]:
    bill = bench.report.costs
    if bill is None:
        return []
    rows = []
    for item in bill.items:
        price = "-" if item.price is None else f"{item.price:.2f}"
        rows.append(
            (item.what, f"{figure(item.amount)} {item.unit}", "" if item.packs is None else str(item.packs), price)
        )
    rows.append(("in all", "", "", f"{bill.total:.2f}"))
    blocks: list[Block] = [
        Heading("Costs", 2),
        Table(
            ("what", "amount", "packs", f"price {bill.currency}".strip()), tuple(rows), (0.46, 0.2, 0.14, 0.2),
            ("left", "right", "right", "right"),
        ),
    ]  # fmt: skip
    if bill.left is not None and bill.budget is not None:
        over = f"{bill.left:.2f} left of" if bill.left >= 0.0 else f"{-bill.left:.2f} over"
        blocks.append(Words(f"{over} the budget of {bill.budget:.2f}."))
    if bill.without_price:
        blocks.append(Words(f"Without a price: {', '.join(bill.without_price)}.", "note"))
    return blocks
