"""A small scene for tests of the build sheet, and reading a PDF's lines back in millimetres."""

from __future__ import annotations

import io
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from unittest.mock import patch

import numpy as np
from boxes import FLOOR_MM, HEAD, box_entry, scene_of
from numpy.typing import NDArray
from pypdf import PageObject, PdfReader
from pypdf.generic import ContentStream

from sim.report.sheet import PAPERS, Bench, Measures, Pictures, Sheet, draw_pictures, gather, pictures, with_pictures

Floats = NDArray[np.float64]
SHOT_PX = 320  # wide enough for tests
MM_PER_POINT = 25.4 / 72.0

GLUED = '[[joint]]\nbetween = ["arm", "foot_left"]\nglue = "epoxy putty"\n'
PRICES = """[prices]
currency = "EUR"
per_kg = { granite = 2.5 }
packs = { "epoxy putty" = { price = 9.0, g = 60 } }
[budget]
total = 40.0
"""
WIDE_HEAD = HEAD.replace("under_stones", 'glass = "annealed"\nsupport = "rim"\nunder_stones')


def bridge_text(folder: Path, head: str = WIDE_HEAD) -> str:
    """Two feet far apart, an arm glued on one of them that reaches to the other, and a block of its own."""
    top = FLOOR_MM + 50.0
    entries = (
        box_entry(folder, "foot_left", (60, 80, 50), (100, 150, FLOOR_MM)),
        box_entry(folder, "foot_right", (60, 80, 50), (280, 150, FLOOR_MM)),
        box_entry(folder, "arm", (240, 60, 30), (190, 150, top)),
        box_entry(folder, "block", (80, 40, 60), (470, 300, FLOOR_MM), 'rock = "granite"\nturn_deg = [0, 0, 30]'),
    )
    return head + PRICES + "".join(entries) + GLUED


@cache
def bench_of(folder: Path, paper: str = "a4", inches: bool = False) -> Bench:
    """Everything about the bridge, judged in haste."""
    if (paper, inches) != ("a4", False):
        return replace(bench_of(folder), paper=PAPERS[paper], measures=Measures(inches))
    return gather(scene_of(folder, head=bridge_text(folder)), PAPERS[paper], Measures(inches), True, 5.0, silent)


@cache
def pictures_of(folder: Path) -> Pictures:
    """Its pictures, with a small shot."""
    with patch.object(pictures, "SHOT_PX", SHOT_PX):
        return draw_pictures(bench_of(folder), silent)


@cache
def sheet_of(folder: Path, paper: str = "a4", inches: bool = False) -> Sheet:
    """Its sheet."""
    return with_pictures(bench_of(folder, paper, inches), pictures_of(folder))


def silent(what: str, done: int, of: int) -> None:
    """Tells nobody of the progress."""


@dataclass(frozen=True, slots=True, eq=False)
class Path2D:
    """One path of a page, in mm from the page's lower left corner."""

    points_mm: Floats  # (n, 2)
    painted: bytes  # the operator that paints it

    @property
    def size_mm(self) -> Floats:
        return np.asarray(np.ptp(self.points_mm, axis=0))


def pages_of(pdf: bytes) -> list[PageObject]:
    """The pages of a file."""
    return list(PdfReader(io.BytesIO(pdf)).pages)


def paths_of(page: PageObject) -> list[Path2D]:
    """All paths of a page, through every transformation in force."""
    contents = page.get_contents()
    assert contents is not None
    found: list[Path2D] = []
    now, kept, points = np.eye(3), [], []
    for operands, operator in ContentStream(contents, page.pdf).operations:
        numbers = [float(one) for one in operands] if operator in (b"cm", b"m", b"l", b"re", b"c") else []
        if operator == b"q":
            kept.append(now)
        elif operator == b"Q":
            now = kept.pop()
        elif operator == b"cm":
            a, b, c, d, e, f = numbers
            now = np.array([[a, b, 0.0], [c, d, 0.0], [e, f, 1.0]]) @ now
        elif operator in (b"m", b"l"):
            points.append(_placed(numbers, now))
        elif operator == b"c":
            points.append(_placed(numbers[4:], now))
        elif operator == b"re":
            x, y, w, h = numbers
            points += [_placed(corner, now) for corner in ((x, y), (x + w, y), (x + w, y + h), (x, y + h))]
        elif operator in (b"S", b"s", b"f", b"f*", b"B", b"B*", b"b", b"b*", b"n"):
            if points:
                found.append(Path2D(np.array(points), operator))
            points = []
    return found


def _placed(point: list[float] | tuple[float, float], matrix: Floats) -> Floats:
    return np.asarray((np.array([*point, 1.0]) @ matrix)[:2] * MM_PER_POINT)


def text_of(pdf: bytes) -> str:
    """All words of a file."""
    return "\n".join(page.extract_text() for page in pages_of(pdf))
