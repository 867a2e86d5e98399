"""Blocks of a sheet as paragraphs, tables and pictures that flow over pages."""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import Any
from xml.sax.saxutils import escape

from reportlab.lib.enums import TA_CENTER, TA_LEFT, TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Image, KeepTogether, Paragraph, Spacer
from reportlab.platypus import Table as Grid

from sim.report.sheet.blocks import (
    Beside,
    Block,
    Diagram,
    Heading,
    Labels,
    Photo,
    Photos,
    Points,
    Table,
    Together,
    Words,
)
from sim.report.sheet.drawing import Drawing
from sim.report.sheet.lettering import BOLD, PLAIN, printable
from sim.report.sheet.paper import POINTS_PER_MM

PT = POINTS_PER_MM
ALIGN = {"left": TA_LEFT, "right": TA_RIGHT, "middle": TA_CENTER}
HEAD_GREY, LINE_GREY = 0.9, 0.55
PHOTO_HIGH_MM = 118.0  # a picture is no higher
FRAME_PT = 7.0  # from a frame to its words
GAP_MM = 3.0
LABELS_ACROSS, LABEL_HIGH_MM = 5, 22.0
NAME_LETTERS = 20


def _style(size: float, bold: bool = False, before: float = 0.0, after: float = 4.0, **more: Any) -> ParagraphStyle:
    return ParagraphStyle(
        "sheet", fontName=BOLD if bold else PLAIN, fontSize=size, leading=1.28 * size, spaceBefore=before,
        spaceAfter=after, **more,
    )  # fmt: skip


STYLES = {
    "plain": _style(10.5),
    "strong": _style(11, bold=True, before=2),
    "note": _style(9),
    "framed": _style(
        14, True, 6, 10, borderWidth=1.6, borderColor="black", borderPadding=FRAME_PT, leftIndent=8, rightIndent=8
    ),
}
HEADINGS = {
    0: _style(22, True, 0, 4),
    1: _style(17, True, 14, 6),
    2: _style(12.5, True, 9, 4),
    3: _style(10.5, True, 4, 2),
}


def flowables(block: Block, width: float, drawn: Callable[[Drawing], Any]) -> list[Any]:
    """One block, `width` points wide; `drawn` makes a flowable of a drawing."""
    if isinstance(block, Heading):
        return [Paragraph(_escaped(block.text), _kept(HEADINGS[block.level]))]
    if isinstance(block, Words):
        words = Paragraph(_escaped(block.text), STYLES[block.kind])
        return [Spacer(1, FRAME_PT), words] if block.kind == "framed" else [words]
    if isinstance(block, Points):
        return _points(block)
    if isinstance(block, Photos):
        return _photos(block, width)
    if isinstance(block, Table):
        return [_table(block, width), Spacer(1, 6)]
    if isinstance(block, Diagram):
        words = [Paragraph(_escaped(block.caption), STYLES["note"])] if block.caption else []
        return [drawn(block.drawing), Spacer(1, 3), *words]
    if isinstance(block, Together):
        return [KeepTogether([flowable for one in block.blocks for flowable in flowables(one, width, drawn)])]
    if isinstance(block, Beside):
        widths = [share * width for share in block.shares]
        cells = [
            [flowable for one in column for flowable in flowables(one, wide - GAP_MM * PT, drawn)]
            for column, wide in zip(block.columns, widths, strict=True)
        ]
        return [Grid([cells], widths, style=[("VALIGN", (0, 0), (-1, -1), "TOP"), *_bare(0.0)])]
    if isinstance(block, Labels):
        return [_labels(block, width)]
    raise TypeError(f"{type(block).__name__} is a page of its own")


def _kept(style: ParagraphStyle) -> ParagraphStyle:
    return ParagraphStyle("heading", parent=style, keepWithNext=1)


def _escaped(text: str) -> str:
    return escape(printable(text))


def _bare(edge: float) -> list[tuple[Any, ...]]:
    """Padding of a grid that is no table to the eye."""
    sides = ("LEFTPADDING", "RIGHTPADDING", "TOPPADDING", "BOTTOMPADDING")
    return [(side, (0, 0), (-1, -1), edge) for side in sides]


def _points(block: Points) -> list[Any]:
    mark = "□" if block.tick else "•"
    indent = 7.0 * PT if block.tick else 4.0 * PT
    style = _style(10.5, leftIndent=indent, bulletFontName=PLAIN, bulletFontSize=14 if block.tick else 10.5)
    return [Paragraph(_escaped(item), style, bulletText=mark) for item in block.items]


def _photos(block: Photos, width: float) -> list[Any]:
    gap = GAP_MM * PT
    each = (width * block.share - gap * (len(block.photos) - 1)) / len(block.photos)
    images = [_image(photo, each, PHOTO_HIGH_MM * PT) for photo in block.photos]
    rows = [images]
    captions = [Paragraph(_escaped(photo.caption), STYLES["note"]) for photo in block.photos]
    if any(photo.caption for photo in block.photos):
        rows.append(captions)
    style = [("ALIGN", (0, 0), (-1, -1), "LEFT"), ("VALIGN", (0, 0), (-1, -1), "TOP"), *_bare(0.0)]
    return [Grid(rows, [each + gap] * len(images), style=style, hAlign="LEFT")]


def _image(photo: Photo, width: float, height: float) -> Image:
    scale = min(width / photo.size_px[0], height / photo.size_px[1])
    return Image(io.BytesIO(photo.jpeg), photo.size_px[0] * scale, photo.size_px[1] * scale)


def _table(block: Table, width: float) -> Grid:
    widths = [share * width for share in block.shares]
    aligns = [ALIGN[one] for one in block.aligns]
    facts = not block.head
    rows: list[list[Any]] = []
    if block.head:
        rows.append([_cell(text, align, True, block.size_pt) for text, align in zip(block.head, aligns, strict=True)])
    for row in block.rows:
        rows.append(
            [
                _image(cell, widths[k] - 8, block.photo_mm * PT)
                if isinstance(cell, Photo)
                else _cell(cell, aligns[k], facts and k == 0, block.size_pt)
                for k, cell in enumerate(row)
            ]
        )
    style: list[tuple[Any, ...]] = [
        ("VALIGN", (0, 0), (-1, -1), "TOP" if facts else "MIDDLE"),
        ("LINEBELOW", (0, 0), (-1, -1), 0.4, _grey(LINE_GREY)),
        ("LEFTPADDING", (0, 0), (-1, -1), 4),
        ("RIGHTPADDING", (0, 0), (-1, -1), 4),
        ("TOPPADDING", (0, 0), (-1, -1), 1.5),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
    ]
    if block.head:
        style += [("BACKGROUND", (0, 0), (-1, 0), _grey(HEAD_GREY)), ("LINEABOVE", (0, 0), (-1, 0), 0.8, _grey(0.0))]
    return Grid(rows, widths, repeatRows=1 if block.head else 0, style=style, hAlign="LEFT")


def _grey(share: float) -> Any:
    from reportlab.lib.colors import Color

    return Color(share, share, share)


def _cell(text: str, align: int, bold: bool, size_pt: float) -> Paragraph:
    return Paragraph(_escaped(text), _style(size_pt, bold, after=0.0, alignment=align))


def _labels(block: Labels, width: float) -> Grid:
    """Cells to cut out along their lines."""
    cells = [
        [
            Paragraph(_escaped(number), _style(26, True, after=2.0, alignment=TA_CENTER)),
            Paragraph(_escaped(_shortened(name)), _style(8, after=0.0, alignment=TA_CENTER)),
        ]
        for number, name in block.labels
    ]
    cells += [[]] * (-len(cells) % LABELS_ACROSS)
    rows = [cells[k : k + LABELS_ACROSS] for k in range(0, len(cells), LABELS_ACROSS)]
    style = [("GRID", (0, 0), (-1, -1), 0.3, _grey(0.3)), ("VALIGN", (0, 0), (-1, -1), "MIDDLE")]
    return Grid(rows, [width / LABELS_ACROSS] * LABELS_ACROSS, [LABEL_HIGH_MM * PT] * len(rows), style=style)


def _shortened(name: str) -> str:
    return name if len(name) <= NAME_LETTERS else f"{name[: NAME_LETTERS - 3]}..."
