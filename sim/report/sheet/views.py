"""Plan and front views of the tank with dimensions from its inner front-left corner, and the base load plan."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import MultiPolygon

from sim.report.sheet.drawing import Board, Drawing
from sim.report.sheet.gathering import Bench
from sim.report.sheet.outlines import as_areas, rings_of
from sim.units import significant

LEFT_MM, BELOW_MM, BEYOND_MM = 24.0, 24.0, 7.0  # room for dimensions, and for the figures of the grid
GRID_MM = 100.0
DIMENSION_PT, APART_MM = 8.0, 3.6  # of the dimensions: size of the figures and least distance between two
STONE, FLOOR = 0.9, 1.0
PLATE_MM = (6.0, 4.8)  # of a number: nearer ones would cover each other
ROOM_MM2 = 9.0  # of a piece's visible part on the paper, for a number to be read on it
INCHES_MM = 9.0  # more room where there are inches too
BARE_MM = (3.0, 3.0)  # the same without dimensions
MOST_FORCES, SHOWN = 40, 0.05  # of more footings, and of smaller shares of the largest, the table has the forces


class View:
    """One view of the tank, scaled to the paper."""

    def __init__(
        self,
        bench: Bench,
        seen_from: Literal["above", "front"],
        width_mm: float,
        height_mm: float,
        edge_mm: tuple[float, float] | None = None,
    ) -> None:
        length, depth, height = bench.scene.tank.inner_mm
        self.across_mm, self.up_mm = length, depth if seen_from == "above" else height
        longer = INCHES_MM if bench.measures.inches else 0.0
        self.left_mm, self.below_mm = edge_mm or (LEFT_MM + longer, BELOW_MM + longer)
        room = width_mm - self.left_mm - BEYOND_MM, height_mm - self.below_mm - BEYOND_MM
        self.scale = min(room[0] / self.across_mm, room[1] / self.up_mm)
        self.board = Board(width_mm, self.up_mm * self.scale + self.below_mm + BEYOND_MM)
        self.bench = bench

    def at(self, across_mm: float, up_mm: float) -> tuple[float, float]:
        """From the tank to the paper."""
        return self.left_mm + across_mm * self.scale, self.below_mm + up_mm * self.scale

    def shaped(self, areas: MultiPolygon) -> MultiPolygon:
        """An outline of the tank on the paper."""
        return as_areas(affinity.affine_transform(areas, [self.scale, 0.0, 0.0, self.scale, *self.at(0.0, 0.0)]))

    def frame(self) -> None:
        """The tank's inner outline over a grid of 100 mm."""
        board = self.board
        x0, y0 = self.at(0.0, 0.0)
        x1, y1 = self.at(self.across_mm, self.up_mm)
        for k in range(int(self.across_mm // GRID_MM) + 1):
            x, _ = self.at(k * GRID_MM, 0.0)
            board.line((x, y0), (x, y1), line_mm=0.1, grey=0.6)
            board.text(f"{k * GRID_MM:.0f}", x, y1 + 3.0, 7.0)
        for k in range(int(self.up_mm // GRID_MM) + 1):
            _, y = self.at(0.0, k * GRID_MM)
            board.line((x0, y), (x1, y), line_mm=0.1, grey=0.6)
            board.text(f"{k * GRID_MM:.0f}", x1 + 1.0, y, 7.0, "start")
        board.box(x0, y0, x1 - x0, y1 - y0, 0.7)
        board.area((((x0, y0 - 1.6), (x0 + 1.6, y0), (x0, y0 + 1.6), (x0 - 1.6, y0)),), 0.2, fill=0.0)

    def pieces(self, outlines: Sequence[tuple[str, MultiPolygon]]) -> list[str]:
        """Outlines from far to near, each hiding what lies behind; names of those that no number fits on."""
        shown = [(name, self.shaped(areas)) for name, areas in outlines]
        for _, areas in shown:
            self.board.area(rings_of(areas), 0.3, fill=STONE)
        hidden, cover = [], MultiPolygon()
        plates: list[tuple[float, float]] = []
        for name, areas in reversed(shown):
            free = as_areas(areas.difference(cover))
            cover = as_areas(shapely.union(cover, areas))
            largest = max(free.geoms, key=lambda one: one.area, default=None)
            if largest is None or largest.area < ROOM_MM2:
                hidden.append(name)
                continue
            x, y = (float(one) for one in shapely.maximum_inscribed_circle(largest, 0.2).coords[0])
            if any(abs(x - over) < PLATE_MM[0] and abs(y - up) < PLATE_MM[1] for over, up in plates):
                hidden.append(name)
                continue
            plates.append((x, y))
            self.board.number(str(self.bench.numbers[name]), x, y)
        return sorted(hidden, key=lambda name: self.bench.numbers[name])

    def dimensions(
        self, across: Sequence[tuple[str, float]], up: Sequence[tuple[str, float]]
    ) -> tuple[list[str], list[str]]:
        """Distances from the corner, along both edges; names of those that there was no room for."""
        (x0, y0), (x1, y1) = self.at(0.0, 0.0), self.at(self.across_mm, self.up_mm)
        many_across = int((x1 - x0 + 2 * BEYOND_MM) // APART_MM)
        many_up = int((y1 - y0 + BEYOND_MM) // APART_MM)
        for name, value, place in _spread(across[:many_across], x0, self.scale, x1 + BEYOND_MM):
            x, _ = self.at(value, 0.0)
            self.board.line((x, y0), (x, y0 - 2.0), (place, y0 - 6.0), line_mm=0.15)
            self.board.text(self._figure(name, value), place, y0 - 7.0, DIMENSION_PT, "end", 90.0)
        for name, value, place in _spread(up[:many_up], y0, self.scale, y1 + BEYOND_MM):
            _, y = self.at(0.0, value)
            self.board.line((x0, y), (x0 - 2.0, y), (x0 - 6.0, place), line_mm=0.15)
            self.board.text(self._figure(name, value), x0 - 7.0, place, DIMENSION_PT, "end")
        return [name for name, _ in across[many_across:]], [name for name, _ in up[many_up:]]

    def _figure(self, name: str, value: float) -> str:
        return f"{self.bench.numbers[name]}: {self.bench.measures.bare(value)}"


def _spread(
    wanted: Sequence[tuple[str, float]], start: float, scale: float, most: float
) -> list[tuple[str, float, float]]:
    """Places on the paper along an edge for figures, as near to their own as a least distance allows."""
    ordered = sorted(wanted, key=lambda one: one[1])
    places: list[float] = []
    for _, value in ordered:
        places.append(max(start + value * scale, places[-1] + APART_MM if places else -np.inf))
    for k in reversed(range(len(places))):
        limit = most if k == len(places) - 1 else places[k + 1] - APART_MM
        places[k] = min(places[k], limit)
    return [(name, value, place) for (name, value), place in zip(ordered, places, strict=True)]


def _heaviest(bench: Bench, names: Sequence[str]) -> list[str]:
    mass = {piece.id: piece.mass_kg for piece in bench.pieces}
    return sorted(names, key=lambda name: (-mass[name], name))


def plan_view(bench: Bench, width_mm: float, height_mm: float) -> tuple[Drawing, str]:
    """Seen from above; dimensions to the left and front of what stands on the base."""
    view = View(bench, "above", width_mm, height_mm)
    view.frame()
    places = bench.places
    order = sorted(places, key=lambda name: places[name].high_mm[2])
    hidden = view.pieces([(name, bench.above[name]) for name in order])
    standing = _heaviest(bench, list(bench.prints))
    left = view.dimensions(
        [(name, places[name].low_mm[0]) for name in standing], [(name, places[name].low_mm[1]) for name in standing]
    )
    words = (
        "Seen from above, the front pane at the bottom. Figures along the edges: number of a piece that stands on the "
        f"base, and the distance in {bench.measures.unit} of its left side from the left pane, of its front side from "
        "the front pane. The grid is 100 mm wide."
    )
    return view.board.done(), words + _missing(bench, hidden, left)


def front_view(bench: Bench, width_mm: float, height_mm: float) -> tuple[Drawing, str]:
    """Seen from the front, without perspective; dimensions to the left sides and the tops."""
    view = View(bench, "front", width_mm, height_mm)
    view.frame()
    places = bench.places
    order = sorted(places, key=lambda name: -places[name].low_mm[1])
    hidden = view.pieces([(name, bench.front[name]) for name in order])
    names = _heaviest(bench, list(places))
    left = view.dimensions(
        [(name, places[name].low_mm[0]) for name in names], [(name, places[name].high_mm[2]) for name in names]
    )
    level = bench.scene.water_level_mm
    if 0.0 < level < bench.scene.tank.inner_mm[2]:
        ends = view.at(0.0, level), view.at(view.across_mm, level)
        view.board.line(*ends, line_mm=0.3, dash_mm=(3.0, 1.5))
    words = (
        "Seen from the front, without perspective. Figures along the edges: number of a piece, and the distance in "
        f"{bench.measures.unit} of its left side from the left pane, of its top from the base glass. Dashed: the water."
    )
    return view.board.done(), words + _missing(bench, hidden, left)


def _missing(bench: Bench, hidden: Sequence[str], left: tuple[Sequence[str], Sequence[str]]) -> str:
    words = ""
    if hidden:
        words += f" Hidden or too small for a number: {', '.join(str(bench.numbers[name]) for name in hidden)}."
    if left[0] or left[1]:
        words += " Only the heaviest have figures here; all are in the table of places."
    return words


def load_plan(bench: Bench, width_mm: float, height_mm: float) -> Drawing:
    """Where pieces press on the base, with the forces."""
    view = View(bench, "above", width_mm, height_mm, BARE_MM)
    view.frame()
    for name in bench.prints:
        view.board.area(rings_of(view.shaped(bench.above[name])), 0.2, grey=0.4, dash_mm=(1.5, 1.0))
    pressure = [one.pressure_kpa or 0.0 for one in bench.report.footings]
    for one, here in zip(bench.report.footings, pressure, strict=True):
        ring = tuple(view.at(x, y) for x, y in one.outline_mm)
        view.board.area((ring,), 0.3, fill=0.95 - 0.4 * here / max(max(pressure), 1.0e-9))
    force: dict[str, float] = {}
    for one in bench.report.footings:
        force[one.piece] = force.get(one.piece, 0.0) + one.force_n
    heavy = SHOWN * max(force.values(), default=0.0)
    for name in bench.prints:
        x, y = view.at(*bench.places[name].centre_mm)
        named = force.get(name, 0.0) > heavy and len(bench.prints) <= MOST_FORCES
        words = f"{bench.numbers[name]}" + (f": {significant(force[name], 2)} N" if named else "")
        view.board.number(words, x, y, 8.0)
    return view.board.done()
