"""A sheet as one HTML file: pictures inside it, drawings as SVG in true millimetres."""

from __future__ import annotations

import base64
from html import escape

from sim.report.sheet.blocks import (
    Beside,
    Block,
    Diagram,
    Heading,
    Labels,
    Photo,
    Photos,
    Points,
    Sheet,
    Table,
    Tile,
    Together,
    Words,
)
from sim.report.sheet.drawing import Drawing, Label, Outline
from sim.report.sheet.paper import MARGIN_MM, MM_PER_INCH, Paper

MM_PER_PT = MM_PER_INCH / 72.0

STYLE = """
@page {{ size: {width}mm {height}mm; margin: {margin}mm }}
@page tile {{ size: {width}mm {height}mm; margin: 0 }}
* {{ box-sizing: border-box }}
body {{ font: 11pt/1.35 "DejaVu Sans", Verdana, sans-serif; color: #000; background: #fff; max-width: {inside}mm;
  margin: {margin}mm auto }}
h1, h2 {{ line-height: 1.2 }}
h2 {{ border-top: 1pt solid #000; padding-top: 3mm; margin-top: 12mm }}
h2.page {{ break-before: page }}
h2, h3, h4 {{ break-after: avoid }}
img, svg {{ max-width: 100%; height: auto; display: block }}
svg.tile {{ max-width: none; height: {height}mm; page: tile; break-before: page; break-inside: avoid;
  margin-left: calc(({inside}mm - {width}mm) / 2) }}
table {{ border-collapse: collapse; width: 100%; margin: 2mm 0 4mm; font-size: 9.5pt }}
thead {{ background: #e6e6e6; display: table-header-group }}
tr {{ break-inside: avoid }}
td, th {{ border-bottom: 0.4pt solid #888; padding: 0.8mm 1mm; text-align: left; overflow-wrap: anywhere }}
td.right, th.right {{ text-align: right }}
td.middle, th.middle {{ text-align: center }}
td img {{ max-height: 18mm; width: auto }}
.facts {{ font-size: 10.5pt }}
.facts td:first-child {{ font-weight: bold; vertical-align: top }}
.row {{ display: flex; gap: 3mm }}
.row > * {{ min-width: 0; margin: 0 0 2mm }}
figure {{ margin: 2mm 0 }}
figcaption, .note {{ font-size: 9pt }}
.strong {{ font-weight: bold }}
.framed {{ border: 1.6pt solid #000; padding: 3mm; font-size: 14pt; font-weight: bold }}
.together {{ break-inside: avoid }}
ul.tick {{ list-style: "\\25A1\\00A0\\00A0" }}
.labels {{ display: grid; grid-template-columns: repeat(5, 1fr) }}
.labels div {{ border: 0.3pt solid #555; height: 22mm; text-align: center; font-size: 8pt; overflow: hidden;
  break-inside: avoid }}
.labels b {{ display: block; font-size: 26pt; line-height: 1.3 }}
@media print {{ body {{ margin: 0; max-width: none }} svg.tile {{ margin-left: 0 }} }}
"""
TAGS = {0: "h1", 1: "h2", 2: "h3", 3: "h4"}


def html_text(sheet: Sheet, paper: Paper) -> str:
    """The whole file."""
    style = STYLE.format(
        width=paper.width_mm, height=paper.height_mm, margin=MARGIN_MM, inside=paper.width_mm - 2.0 * MARGIN_MM
    )
    body = "\n".join(_block(block) for block in sheet.blocks)
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(sheet.title)}: build sheet</title>\n<style>{style}</style>\n</head>\n"
        f"<body>\n{body}\n</body>\n</html>\n"
    )


def _block(block: Block) -> str:
    if isinstance(block, Heading):
        tag = TAGS[block.level]
        kind = ' class="page"' if block.fresh else ""
        return f"<{tag}{kind}>{escape(block.text)}</{tag}>"
    if isinstance(block, Words):
        return f'<p class="{block.kind}">{escape(block.text)}</p>'
    if isinstance(block, Points):
        items = "".join(f"<li>{escape(item)}</li>" for item in block.items)
        kind = ' class="tick"' if block.tick else ""
        return f"<ul{kind}>{items}</ul>"
    if isinstance(block, Photos):
        figures = "".join(_figure(_image(photo), photo.caption) for photo in block.photos)
        return f'<div class="row" style="width: {100.0 * block.share:.0f}%">{figures}</div>'
    if isinstance(block, Diagram):
        return _figure(_svg(block.drawing, ""), block.caption)
    return _larger(block)


def _larger(block: Block) -> str:
    """Blocks made of others, and tables."""
    if isinstance(block, Table):
        return _table(block)
    if isinstance(block, Together):
        return f'<div class="together">{"".join(_block(one) for one in block.blocks)}</div>'
    if isinstance(block, Beside):
        columns = (
            f'<div style="flex: {share}">{"".join(_block(one) for one in column)}</div>'
            for column, share in zip(block.columns, block.shares, strict=True)
        )
        return f'<div class="row">{"".join(columns)}</div>'
    if isinstance(block, Labels):
        cells = (f"<div><b>{escape(number)}</b>{escape(name)}</div>" for number, name in block.labels)
        return f'<div class="labels">{"".join(cells)}</div>'
    assert isinstance(block, Tile), "every kind of block is known here"
    return _svg(block.drawing, "tile")


def _figure(inside: str, caption: str) -> str:
    words = f"<figcaption>{escape(caption)}</figcaption>" if caption else ""
    return f"<figure>{inside}{words}</figure>"


def _image(photo: Photo) -> str:
    data = base64.b64encode(photo.jpeg).decode()
    width, height = photo.size_px
    words = escape(photo.caption, quote=True)
    return f'<img src="data:image/jpeg;base64,{data}" width="{width}" height="{height}" alt="{words}">'


def _table(block: Table) -> str:
    columns = "".join(f'<col style="width: {100.0 * share:.1f}%">' for share in block.shares)
    head = "".join(
        f'<th class="{align}">{escape(text)}</th>' for text, align in zip(block.head, block.aligns, strict=False)
    )
    rows = "".join(
        "<tr>"
        + "".join(
            f'<td class="{align}">{_image(cell) if isinstance(cell, Photo) else escape(cell)}</td>'
            for cell, align in zip(row, block.aligns, strict=True)
        )
        + "</tr>"
        for row in block.rows
    )
    kind = "" if block.head else ' class="facts"'
    shown = f"<thead><tr>{head}</tr></thead>" if block.head else ""
    return f"<table{kind}><colgroup>{columns}</colgroup>{shown}<tbody>{rows}</tbody></table>"


def _svg(drawing: Drawing, kind: str) -> str:
    width, height = drawing.width_mm, drawing.height_mm
    shapes = "".join(
        _outline(shape, height) if isinstance(shape, Outline) else _label(shape, height) for shape in drawing.shapes
    )
    named = f' class="{kind}"' if kind else ""
    return (
        f'<svg{named} xmlns="http://www.w3.org/2000/svg" width="{width:g}mm" height="{height:g}mm" '
        f'viewBox="0 0 {width:g} {height:g}">{shapes}</svg>'
    )


def _outline(shape: Outline, height: float) -> str:
    path = "".join(
        "M" + "L".join(f"{x:.3f} {height - y:.3f}" for x, y in ring) + ("Z" if shape.closed else "")
        for ring in shape.rings
    )
    stroke = f' stroke="{_grey(shape.grey)}" stroke-width="{shape.line_mm:g}"' if shape.line_mm > 0.0 else ""
    dash = f' stroke-dasharray="{" ".join(f"{one:g}" for one in shape.dash_mm)}"' if shape.dash_mm else ""
    fill = "none" if shape.fill is None else _grey(shape.fill)
    return f'<path d="{path}" fill="{fill}" fill-rule="evenodd" stroke-linejoin="round"{stroke}{dash}/>'


def _grey(share: float) -> str:
    return f"#{round(255 * share):02x}" + f"{round(255 * share):02x}" * 2


def _label(label: Label, height: float) -> str:
    size = label.size_pt * MM_PER_PT
    x, y = label.at[0], height - label.at[1]
    turn = f' transform="rotate({-label.turn_deg:g} {x:.3f} {y:.3f})"' if label.turn_deg else ""
    bold = ' font-weight="bold"' if label.bold else ""
    plate = ""
    if label.plate:
        wide = max(0.7 * size * len(label.text), 0.8 * size) + 1.2
        plate = (
            f'<rect x="{x - wide / 2:.3f}" y="{y - 0.55 * size - 0.6:.3f}" width="{wide:.3f}" '
            f'height="{1.1 * size + 1.2:.3f}" rx="{0.4 * size:.3f}" fill="#fff" stroke="#000" stroke-width="0.15"/>'
        )
    return (
        f'{plate}<text x="{x:.3f}" y="{y + 0.36 * size:.3f}" font-size="{size:.3f}" '
        f'text-anchor="{label.anchor}"{bold}{turn}>{escape(label.text)}</text>'
    )
