"""Vector drawings in millimetres on the paper: origin at the lower left, y upward."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Outline:
    """Closed rings, filled by the even-odd rule, or one open line."""

    rings: tuple[tuple[Point, ...], ...]
    line_mm: float = 0.25  # 0: no line
    grey: float = 0.0  # of the line: 0 black, 1 white
    fill: float | None = None  # grey of the area
    dash_mm: tuple[float, ...] = ()
    closed: bool = True


@dataclass(frozen=True, slots=True)
class Label:
    """Words at a point, in the middle of their height."""

    text: str
    at: Point
    size_pt: float = 8.0
    anchor: Literal["start", "middle", "end"] = "middle"
    turn_deg: float = 0.0
    bold: bool = False
    plate: bool = False  # on a white round plate: a number on a stone


@dataclass(frozen=True, slots=True)
class Drawing:
    """Shapes, drawn one over the other."""

    width_mm: float
    height_mm: float
    shapes: tuple[Outline | Label, ...]


@dataclass(slots=True)
class Board:
    """Collects the shapes of a drawing."""

    width_mm: float
    height_mm: float
    shapes: list[Outline | Label] = field(default_factory=list)

    def line(self, *points: Point, line_mm: float = 0.25, grey: float = 0.0, dash_mm: tuple[float, ...] = ()) -> None:
        """An open line through points."""
        self.shapes.append(Outline((points,), line_mm, grey, None, dash_mm, closed=False))

    def box(
        self, x: float, y: float, width: float, height: float, line_mm: float = 0.25, fill: float | None = None
    ) -> None:
        """A rectangle by its lower left corner."""
        ring = ((x, y), (x + width, y), (x + width, y + height), (x, y + height))
        self.shapes.append(Outline((ring,), line_mm, 0.0, fill))

    def area(
        self,
        rings: tuple[tuple[Point, ...], ...],
        line_mm: float = 0.25,
        grey: float = 0.0,
        fill: float | None = None,
        dash_mm: tuple[float, ...] = (),
    ) -> None:
        """Closed rings, holes among them."""
        if rings:
            self.shapes.append(Outline(rings, line_mm, grey, fill, dash_mm))

    def cross(self, x: float, y: float, arm: float, line_mm: float = 0.25) -> None:
        """A cross of two lines."""
        self.line((x - arm, y), (x + arm, y), line_mm=line_mm)
        self.line((x, y - arm), (x, y + arm), line_mm=line_mm)

    def text(
        self,
        text: str,
        x: float,
        y: float,
        size_pt: float = 8.0,
        anchor: Literal["start", "middle", "end"] = "middle",
        turn_deg: float = 0.0,
        bold: bool = False,
    ) -> None:
        """Words at a point."""
        self.shapes.append(Label(text, (x, y), size_pt, anchor, turn_deg, bold))

    def number(self, text: str, x: float, y: float, size_pt: float = 9.0) -> None:
        """A number on a white plate."""
        self.shapes.append(Label(text, (x, y), size_pt, bold=True, plate=True))

    def done(self) -> Drawing:
        """What was drawn."""
        return Drawing(self.width_mm, self.height_mm, tuple(self.shapes))
