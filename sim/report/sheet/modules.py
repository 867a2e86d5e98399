"""Module pages: what is glued outside the tank, and how it is lifted in."""

from __future__ import annotations

from sim.order import ModuleCheck
from sim.report.figures import sentence
from sim.report.sheet.blocks import Block, Heading, Photo, Photos, Together, Words
from sim.report.sheet.cover import facts
from sim.report.sheet.gathering import Bench
from sim.units import significant


def module_pages(bench: Bench, photos: dict[tuple[str, ...], Photo]) -> list[Block]:
    """Declared modules, then groups that would save a hold."""
    if not bench.modules and not bench.proposals:
        return []
    blocks: list[Block] = [Heading("Modules: glued outside the tank")]
    for check in bench.modules:
        blocks.append(_page(bench, check, photos, f"Module {check.answer.id}", ""))
    for one in bench.proposals:
        saves = bench.order.holds - one.order.holds
        holds = f"{one.order.holds} hold{'s' if one.order.holds != 1 else ''}" if one.order.holds else "no hold"
        words = f"Worth doing: it saves {saves} hold{'s' if saves != 1 else ''}; the order needs {holds} then."
        words += " To build it so, declare the module in the scene and make the sheet anew."
        names = ", ".join(bench.numbered(name) for name in one.pieces)
        blocks.append(_page(bench, one.check, photos, f"Could be a module: {names}", words))
    return blocks


def _page(bench: Bench, check: ModuleCheck, photos: dict[tuple[str, ...], Photo], title: str, words: str) -> Block:
    answer = check.answer
    rows = [
        ("Pieces", ", ".join(bench.numbered(name) for name in answer.pieces)),
        ("Weight", f"{answer.mass_kg:.2f} kg; recommended limit over this rim {answer.rwl_kg:.1f} kg"),
        ("Lifting", sentence(answer.advice or "one person, with both hands")),
        ("Size", bench.measures.length(*answer.size_mm)),
        (
            "Lift at",
            "; ".join(f"x, y, z {bench.measures.point(*point)} {bench.measures.unit}" for point in answer.lift_at_mm),
        ),
        ("On a table", "stands by itself" if check.stands_on_table else "prop it while its glue cures"),
        ("Opening", "passes, with a hand beside it" if check.fits else "does not pass with a hand beside it"),
    ]
    for handling in (answer.lifted, answer.turned):
        used = "" if handling.utilisation is None else f", joints used {100.0 * handling.utilisation:.0f} %"
        why = f" ({handling.reason})" if handling.reason else ""
        rows.append((handling.attitude.capitalize(), f"at 1.5 times its weight: {handling.verdict}{used}{why}"))
    joints = [one for one in bench.report.joints if set(one.between) <= set(answer.pieces)]
    for joint in joints:
        amount = "" if joint.mass_g is None else f", {significant(joint.mass_g, 2)} g"
        cured = "" if joint.cure_h is None else f", cured after {joint.cure_h:.0f} h"
        pair = " to ".join(bench.numbered(name) for name in joint.between)
        rows.append(("Glue", f"{pair}: {joint.glue or joint.kind}{amount}{cured}"))
    blocks: list[Block] = [Heading(title, 2)]
    if words:
        blocks.append(Words(words))
    if check.against:
        blocks.append(Words(sentence(f"Not as it is: {'; '.join(check.against)}"), "strong"))
    return Together((*blocks, Photos((photos[answer.pieces],), 0.55), facts(rows, 0.17)))
