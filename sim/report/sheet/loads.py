"""Base load plan, the pads to cut, and what the base pane bears."""

from __future__ import annotations

import math

from shapely.geometry import MultiPoint

from sim.materials.glasses import TRIED_SHEET_MM
from sim.report.figures import FILLED, figure
from sim.report.sheet.blocks import Block, Diagram, Heading, Points, Table, Together, Words
from sim.report.sheet.cover import facts
from sim.report.sheet.gathering import Bench
from sim.report.sheet.outlines import as_areas, long_side
from sim.report.sheet.views import load_plan

CUT_MM, SLACK_MM = 5.0, 0.5  # pads are cut to whole steps; so little more does not count


def load_pages(bench: Bench) -> list[Block]:
    """Where the stones press, with how much, and what lies between them and the glass."""
    width, height = bench.paper.inside_mm
    footings = bench.report.footings
    where = f", {FILLED[footings[0].water]}, where the base is used most" if footings else ""
    caption = f"Forces on the base from above{where}. Grey: footprints, spread by what lies beneath, darker where the "
    caption += "pressure is larger. Dashed: the pieces that stand there."
    blocks: list[Block] = [
        Together((Heading("Base load plan and pads"), Diagram(load_plan(bench, width, height - 45.0), caption))),
    ]
    if not footings:
        blocks.append(Words("Nothing stands: the forces are not known.", "strong"))
    blocks.append(Together((Words(_between(bench), "strong"), _pads(bench))))
    blocks.append(_pane(bench))
    if bench.report.remedies:
        items = [
            f"{one.what}: {one.verdict}" + ("" if one.passes else " (not enough)") for one in bench.report.remedies
        ]
        blocks += [Heading("What would help the base pane", 2), Points(tuple(items))]
    return blocks


def _between(bench: Bench) -> str:
    under = bench.scene.tank.under_stones
    if under.kind == "none":
        sheet = bench.measures.length(TRIED_SHEET_MM)
        return f"Bare glass is declared under the stones. Do not set stones on it: cut pads from a sheet of {sheet}."
    thickness = bench.measures.length(under.thickness_mm or 0.0)
    return f"Pads to cut from the {under.kind} of {thickness} under the stones, at least as large as given:"


def pad_mm(bench: Bench, name: str) -> tuple[float, float]:
    """Length and width of the rectangle that carries all footprints of a piece, rounded up."""
    outlines = [one.outline_mm for one in bench.report.footings if one.piece == name]
    points = [point for outline in outlines for point in outline]
    if not points:
        spread = bench.scene.tank.under_stones.thickness_mm or TRIED_SHEET_MM
        points = [(x, y) for x, y in bench.prints[name].convex_hull.buffer(spread).exterior.coords]
    longer, shorter, _ = long_side(as_areas(MultiPoint(points).convex_hull))
    return _cut(longer), _cut(shorter)


def _cut(side_mm: float) -> float:
    return max(math.ceil((side_mm - SLACK_MM) / CUT_MM), 1) * CUT_MM


def _pads(bench: Bench) -> Table:
    rows = []
    for name in sorted(bench.prints, key=lambda one: bench.numbers[one]):
        own = [one for one in bench.report.footings if one.piece == name]
        pressures = [one.pressure_kpa for one in own if one.pressure_kpa is not None]
        rows.append(
            (
                bench.numbered(name),
                str(len(own) or len(bench.prints[name].geoms)),
                figure(sum(one.force_n for one in own)) if own else "-",
                f"{sum(one.area_mm2 for one in own):.0f}" if own else "-",
                figure(max(pressures)) if pressures else "-",
                bench.measures.bare(*pad_mm(bench, name)),
                bench.measures.point(*bench.places[name].centre_mm),
            )
        )
    unit = bench.measures.unit
    return Table(
        ("piece", "spots", "N", "area mm2", "most kPa", f"pad to cut {unit}", f"middle x, y {unit}"),
        tuple(rows),
        (0.24, 0.09, 0.09, 0.13, 0.12, 0.17, 0.16),
        ("left", "right", "right", "right", "right", "right", "right"),
    )


def _pane(bench: Bench) -> Block:
    base, tank, measures = bench.report.base, bench.scene.tank, bench.measures
    if base is None:
        return Words("What the base pane bears is not known: no state stands.")
    limit = "" if base.limit_mpa is None else f", limit {figure(base.limit_mpa)} MPa"
    used = "" if base.utilisation is None else f", {100.0 * base.utilisation:.0f} % used"
    carried = "its rim alone" if base.support == "rim" else "a mat"
    if tank.mat is not None:
        carried += f" of {tank.mat.material}, {measures.length(tank.mat.thickness_mm)}"
    rows = [
        ("Base pane", f"{measures.length(tank.base_mm)} of {tank.glass} glass, carried by {carried}"),
        ("Verdict", base.verdict + (f": {base.reason}" if base.reason else "")),
        ("Tension", f"at most {figure(base.max_tension_mpa)} MPa{limit}{used}, at x, y {measures.point(*base.at_mm)}"),
        ("Sags", f"{base.deflection_mm:.2f} mm"),
    ]
    rows += [
        (one.pane.capitalize(), f"{one.verdict}, {100.0 * one.utilisation:.0f} % used")
        for one in bench.report.side_panes
        if one.utilisation is not None
    ]
    return Together((Heading("What the glass bears", 2), facts(rows, 0.17)))
