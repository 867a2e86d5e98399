"""A sheet as a PDF file: text flows over pages, drawings stay vectors, templates are at full size."""

from __future__ import annotations

import io
from collections.abc import Callable
from itertools import zip_longest
from typing import Any

from reportlab.lib.pagesizes import portrait
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, CondPageBreak, Flowable, Frame, NextPageTemplate, PageTemplate
from reportlab.platypus.doctemplate import PageBreakIfNotEmpty

from sim.report.sheet.blocks import Block, Heading, Sheet, Table, Tile, Together, Words
from sim.report.sheet.drawing import Drawing, Label, Outline
from sim.report.sheet.flowing import flowables
from sim.report.sheet.lettering import BOLD, PLAIN, printable, register, width_pt
from sim.report.sheet.paper import FOOT_MM, MARGIN_MM, POINTS_PER_MM, Paper

PT = POINTS_PER_MM
FOOTER_MM, FOOTER_PT = 7.0, 8.0
TITLE_LETTERS = 70
LEAST_LEFT = 0.5  # of a page, for a chapter to begin on it
LEAST_TABLE_MM = 60.0  # room for a heading, a line and the first rows of a table
PLATE_MM = 0.6  # white around a number


def pdf_bytes(sheet: Sheet, paper: Paper, progress: Callable[[int], None] | None = None) -> tuple[bytes, int]:
    """The file's content and its number of pages.

    Parameters
    ----------
    progress : called with the number of each page when it is begun
    """
    register()
    stream = io.BytesIO()
    size = portrait((paper.width_mm * PT, paper.height_mm * PT))
    inside = [side * PT for side in paper.inside_mm]
    flow = Frame(MARGIN_MM * PT, FOOT_MM * PT, inside[0], inside[1], 0, 0, 0, 0, id="flow")
    whole = Frame(0, 0, size[0], size[1], 0, 0, 0, 0, id="tile")

    def begun(canvas: Any, _: Any) -> None:
        if progress is not None:
            progress(canvas.getPageNumber())

    document = BaseDocTemplate(
        stream, pagesize=size, title=printable(sheet.title), author="", creator="bedjoint", invariant=1,
        pageTemplates=[PageTemplate("flow", [flow], begun), PageTemplate("tile", [whole], begun)],
    )  # fmt: skip
    made: list[_Numbered] = []

    def canvas(*given: Any, **keys: Any) -> _Numbered:
        made.append(_Numbered(printable(sheet.title), *given, **keys))
        return made[-1]

    document.build(_story(sheet, paper), canvasmaker=canvas)
    return stream.getvalue(), made[-1].pages


def _story(sheet: Sheet, paper: Paper) -> list[Any]:
    story: list[Any] = []
    for block, *then in zip_longest(sheet.blocks, sheet.blocks[1:], sheet.blocks[2:]):
        if isinstance(block, Tile):
            story += [NextPageTemplate("tile"), PageBreakIfNotEmpty(), Drawn(block.drawing)]
            continue
        heading = _heading(block)
        if story and heading is not None and heading.fresh:
            story.append(PageBreakIfNotEmpty())
        elif heading is not None and heading.level == 1:
            story.append(CondPageBreak(LEAST_LEFT * paper.inside_mm[1] * PT))
        elif heading is not None and isinstance(then[0], Words) and isinstance(then[1], Table):
            story.append(CondPageBreak(LEAST_TABLE_MM * PT))
        story += flowables(block, paper.inside_mm[0] * PT, Drawn)
    return story


def _heading(block: Block) -> Heading | None:
    first = block.blocks[0] if isinstance(block, Together) else block
    return first if isinstance(first, Heading) else None


class _Numbered(Canvas):  # type: ignore[misc]
    """Keeps its pages until their number is known, then writes the footers."""

    def __init__(self, title: str, *given: Any, **keys: Any) -> None:
        super().__init__(*given, **keys)
        self._title = title if len(title) <= TITLE_LETTERS else f"{title[: TITLE_LETTERS - 3]}..."
        self._kept: list[dict[str, Any]] = []
        self.pages = 0

    def showPage(self) -> None:  # noqa: N802 -- the name is the library's
        self._kept.append(dict(self.__dict__))
        self._startPage()

    def save(self) -> None:
        kept = self._kept
        for number, page in enumerate(kept, 1):
            self.__dict__.update(page)
            self._footer(number, len(kept))
            super().showPage()
        self.pages = len(kept)
        super().save()

    def _footer(self, number: int, of: int) -> None:
        self.setFont(PLAIN, FOOTER_PT)
        self.setFillGray(0.0)
        right = self._pagesize[0] - MARGIN_MM * PT
        self.drawString(MARGIN_MM * PT, FOOTER_MM * PT, f"{self._title}, build sheet")
        self.drawRightString(right, FOOTER_MM * PT, f"page {number} of {of}")


class Drawn(Flowable):  # type: ignore[misc]
    """A drawing in the flow, at its own size."""

    def __init__(self, drawing: Drawing) -> None:
        super().__init__()
        self.drawing = drawing
        self.width, self.height = drawing.width_mm * PT, drawing.height_mm * PT

    def wrap(self, *_: float) -> tuple[float, float]:
        """Its size; a tile is as large as its frame, less the last rounding."""
        return self.width - 1.0e-3, self.height - 1.0e-3

    def draw(self) -> None:
        """Draw every shape."""
        for shape in self.drawing.shapes:
            if isinstance(shape, Outline):
                _outline(self.canv, shape)
            else:
                _label(self.canv, shape)


def _outline(canvas: Canvas, shape: Outline) -> None:
    canvas.saveState()
    canvas.setLineWidth(shape.line_mm * PT)
    canvas.setLineJoin(1)
    canvas.setStrokeGray(shape.grey)
    if shape.dash_mm:
        canvas.setDash([one * PT for one in shape.dash_mm])
    if shape.fill is not None:
        canvas.setFillGray(shape.fill)
    path = canvas.beginPath()
    for ring in shape.rings:
        path.moveTo(ring[0][0] * PT, ring[0][1] * PT)
        for x, y in ring[1:]:
            path.lineTo(x * PT, y * PT)
        if shape.closed:
            path.close()
    canvas.drawPath(path, stroke=int(shape.line_mm > 0.0), fill=int(shape.fill is not None), fillMode=0)
    canvas.restoreState()


def _label(canvas: Canvas, label: Label) -> None:
    text, size = printable(label.text), label.size_pt
    length = width_pt(text, size, label.bold)
    canvas.saveState()
    canvas.translate(label.at[0] * PT, label.at[1] * PT)
    canvas.rotate(label.turn_deg)
    start = {"start": 0.0, "middle": -length / 2.0, "end": -length}[label.anchor]
    if label.plate:
        edge = PLATE_MM * PT
        canvas.setFillGray(1.0)
        canvas.setLineWidth(0.15 * PT)
        wide = max(length, 0.8 * size) + 2 * edge
        canvas.roundRect(-wide / 2, -0.55 * size - edge, wide, 1.1 * size + 2 * edge, 0.4 * size, 1, 1)
    canvas.setFillGray(0.0)
    canvas.setFont(BOLD if label.bold else PLAIN, size)
    canvas.drawString(start, -0.36 * size, text)
    canvas.restoreState()
