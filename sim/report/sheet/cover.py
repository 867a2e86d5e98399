"""The first pages: the shot, the verdict, the totals, what was judged."""

from __future__ import annotations

from sim.report.figures import FILLED, figure, sentence
from sim.report.sheet.blocks import Align, Block, Heading, Photo, Photos, Table, Together, Words
from sim.report.sheet.gathering import Bench
from sim.states import StateAnswer
from sim.states.answer import PUSH_CAP_N
from sim.units import significant

GOOD = ("within limits", "marginal")


def facts(rows: list[tuple[str, str]], share: float = 0.3) -> Table:
    """A list of facts, two columns."""
    return Table((), tuple(rows), (share, 1.0 - share), ("left", "left"), size_pt=10.0)


def cover(bench: Bench, picture: Photo) -> list[Block]:
    """What it is, whether it stands, and what it all comes to."""
    report = bench.report
    blocks: list[Block] = [
        Heading(bench.title, 0),
        Words("Build sheet. Places count from the inner front-left corner of the base glass: x right, y back, z up."),
        Photos((picture,)),
        Words(_verdict(bench), "framed"),
    ]
    if report.quick:
        blocks.append(
            Words("Judged in haste: without slightly shifted copies and without the dynamic trial. Judge it in full "
                  "before you build.", "note")
        )  # fmt: skip
    return [*blocks, facts(_totals(bench), 0.28), *(Words(caution, "note") for caution in report.cautions[:1])]


def _verdict(bench: Bench) -> str:
    """The verdict, and what is wrong with it or with the glass."""
    report = bench.report
    words = [sentence(report.verdict + (f": {report.reason}" if report.reason else ""))]
    for pane in (report.base, *report.side_panes):
        if pane is not None and pane.verdict not in GOOD:
            name = getattr(pane, "pane", "base pane")
            words.append(sentence(f"{name}: {pane.verdict}" + (f" ({pane.reason})" if pane.reason else "")))
    return " ".join(words if report.passes else ["DO NOT BUILD IT LIKE THIS.", *words])


def _totals(bench: Bench) -> list[tuple[str, str]]:
    report, weights = bench.report, bench.report.weights
    rows = []
    if report.dry_laid is not None:
        why = f": {report.dry_laid.reason}" if report.dry_laid.reason else ""
        rows.append(("Without its glue", f"{report.dry_laid.verdict}{why}"))
    if report.base is not None:
        used = "" if report.base.utilisation is None else f", {100.0 * report.base.utilisation:.0f} % of its limit used"
        rows.append(("Base pane", f"{report.base.verdict}{used}"))
    displaced = f"{report.total.displaced_ml / 1000.0:.1f} l"
    rows += [
        ("Pieces", f"{len(report.pieces)}, together {report.total.mass_kg:.1f} kg, {displaced} of room"),
        ("Tank inside", f"{bench.measures.length(*bench.scene.tank.inner_mm)}, {weights.water_l:.0f} l of water"),
        ("Full weight", f"{weights.total_kg:.0f} kg: glass {weights.glass_kg:.0f}, pieces {weights.pieces_kg:.0f}, "
         f"ground {weights.ground_kg:.0f}, water {weights.water_kg:.0f}, stand {weights.stand_kg:.0f}"),
        ("On the floor", f"{weights.floor_kpa:.1f} kPa under the tank"),
        ("Order", _order_words(bench)),
    ]  # fmt: skip
    if report.glue:
        rows.append(("Glue", ", ".join(f"{significant(one.mass_g)} g of {one.glue}" for one in report.glue)))
    if report.costs is not None:
        rows.append(("Costs", f"{report.costs.total:.2f} {report.costs.currency}".strip()))
    return rows


def _order_words(bench: Bench) -> str:
    order, plan = bench.order, bench.plan
    if not order.steps or plan is None:
        return f"{order.verdict}: {order.reason}"
    holds = "no hold" if not order.holds else f"{order.holds} hold{'s' if order.holds != 1 else ''}"
    margin = (
        "" if order.worst_margin_deg is None else f", at least {order.worst_margin_deg:.1f} degrees of tilt on the way"
    )
    days = f"{plan.days} day{'s' if plan.days != 1 else ''}"
    return f"{len(order.steps)} steps, {holds}{margin}; {plan.work_h:.1f} hours of work on {days}"


def judged(bench: Bench) -> list[Block]:
    """Every state with its margins."""
    report = bench.report
    if not report.states:
        return []
    head = ("laid", "water", f"level {bench.measures.unit}", "verdict", "tilt °", "push N", "weakest piece")
    aligns: tuple[Align, ...] = ("left", "left", "right", "left", "right", "right", "left")
    rows = tuple(_state_row(bench, state) for state in report.states)
    words = "Tilt: of the tank, at which something moves. Push: sideways at the top of the weakest piece."
    table = Table(head, rows, (0.09, 0.17, 0.15, 0.2, 0.09, 0.1, 0.2), aligns)
    return [Together((Heading("What was judged", 2), Words(words, "note"), table))]


def _state_row(bench: Bench, state: StateAnswer) -> tuple[str, ...]:
    margins = state.equilibrium
    tilt = margins.critical_tilt_deg if margins.stack_tilt_deg is None else margins.stack_tilt_deg
    weakest = margins.least_push_piece or ", ".join(state.moving[:1])
    return (
        state.laid,
        FILLED[state.water],
        "" if state.level_mm is None else bench.measures.bare(state.level_mm),
        state.verdict,
        figure(tilt),
        figure(margins.least_push_n, PUSH_CAP_N),
        bench.numbered(weakest) if weakest else "-",
    )
