"""The whole sheet, part by part, in the order in which it is used."""

from __future__ import annotations

from collections.abc import Sequence

from sim.report.building import StepPicture
from sim.report.sheet.blocks import Block, Diagram, Heading, Sheet, Tile, Words
from sim.report.sheet.cover import cover, judged
from sim.report.sheet.filling import filling_pages, notes
from sim.report.sheet.gathering import Bench, Tell
from sim.report.sheet.gluing import glue_pages
from sim.report.sheet.loads import load_pages
from sim.report.sheet.modules import module_pages
from sim.report.sheet.pictures import Pictures, draw_pictures
from sim.report.sheet.steps import step_pages
from sim.report.sheet.stones import labels, stone_list, views
from sim.report.sheet.templates import tile_map, tile_page, tiling


def make_sheet(bench: Bench, tell: Tell, drawn: Sequence[StepPicture] | None = None) -> Sheet:
    """Draw everything and put it in order.

    Parameters
    ----------
    tell : called with what is being done, steps done and steps in all
    drawn : pictures of the steps where they are drawn already
    """
    return with_pictures(bench, draw_pictures(bench, tell, drawn))


def with_pictures(bench: Bench, pictures: Pictures) -> Sheet:
    """Put everything in order."""
    blocks = [*cover(bench, pictures.shot), *judged(bench)]
    if bench.pieces:
        blocks += [*stone_list(bench, pictures.thumbnails), *views(bench), *step_pages(bench, pictures.steps)]
    blocks += [*module_pages(bench, pictures.modules), *glue_pages(bench), *load_pages(bench)]
    blocks += [*filling_pages(bench), *notes(bench), *labels(bench), *template_pages(bench)]
    return Sheet(bench.title, tuple(blocks))


def template_pages(bench: Bench) -> list[Block]:
    """The map of the tiles, then the tiles."""
    cut = tiling(bench)
    if not cut.tiles:
        return []
    width, _ = bench.paper.inside_mm
    size = bench.measures.length(*cut.size_mm)
    words = (
        f"{len(cut.tiles)} pages of {size} each. Print them at 100 % and lay a ruler on both check lines: they must be "
        "100 mm long to within half a millimetre. Join the pages so that the crosses at their corners meet, "
        "lay them on the base, the thick line along the panes, and set the pieces on them, or copy the outlines onto "
        "the sheet under the stones. Grey: where a piece presses on the base. Dashed: its outline from above. Take the "
        "paper out again."
    )
    return [
        Heading("Full-size templates", fresh=True),
        Words(words),
        Diagram(tile_map(bench, cut, width)),
        *(Tile(tile_page(bench, tile)) for tile in cut.tiles),
    ]
