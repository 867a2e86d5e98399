"""What a sheet is made of, before it becomes pages or a web page.

Glossary
--------
block    one thing in the flow of the sheet: a heading, words, a table, pictures, a drawing
tile     a page that is a drawing at full size
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sim.report.sheet.drawing import Drawing

Align = Literal["left", "right", "middle"]


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading; one of level 1 begins a page where little of the last one is left."""

    text: str
    level: int = 1
    fresh: bool = False  # always on a new page


@dataclass(frozen=True, slots=True)
class Words:
    """A paragraph."""

    text: str
    kind: Literal["plain", "strong", "note", "framed"] = "plain"


@dataclass(frozen=True, slots=True)
class Points:
    """A list, each item with a box to tick or a dot."""

    items: tuple[str, ...]
    tick: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Photo:
    """A picture in pixels, as a JPEG file's content."""

    jpeg: bytes
    size_px: tuple[int, int]
    caption: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Photos:
    """Pictures side by side; each takes its share of the width."""

    photos: tuple[Photo, ...]
    share: float = 1.0  # of the width, all together


Cell = str | Photo


@dataclass(frozen=True, slots=True, eq=False)
class Table:
    """Rows under a head that is repeated on every page; without a head a list of facts."""

    head: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    shares: tuple[float, ...]  # of the width, per column
    aligns: tuple[Align, ...]
    photo_mm: float = 18.0  # height of pictures in cells
    size_pt: float = 9.5


@dataclass(frozen=True, slots=True, eq=False)
class Diagram:
    """A vector drawing of at most the width of the text."""

    drawing: Drawing
    caption: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Together:
    """Blocks that stay on one page."""

    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Beside:
    """Blocks in columns, at the top of each other's height."""

    columns: tuple[tuple[Block, ...], ...]
    shares: tuple[float, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Labels:
    """Numbers to cut out and tape on."""

    labels: tuple[tuple[str, str], ...]  # number, name


@dataclass(frozen=True, slots=True, eq=False)
class Tile:
    """A whole page at full size: the drawing is as large as the paper."""

    drawing: Drawing


Block = Heading | Words | Points | Photos | Table | Diagram | Together | Beside | Labels | Tile


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """The whole build sheet."""

    title: str
    blocks: tuple[Block, ...]
