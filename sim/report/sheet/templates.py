"""Full-size templates: the base in plan, cut into tiles of one page each, with marks to join them and rulers to check.

A tile's drawing is as large as the paper and one millimetre in it is one millimetre on the base. Neighbours share the
crosses at the corners of their frames; what is drawn goes on a little beyond the frame, so that they can overlap.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import shapely
from shapely import affinity
from shapely.geometry import MultiPolygon, box

from sim.report.sheet.drawing import Board, Drawing
from sim.report.sheet.gathering import Bench
from sim.report.sheet.outlines import as_areas, rings_of
from sim.report.sheet.paper import Paper

EDGE_MM = 15.0  # left and right of a tile's frame
ABOVE_MM, UNDER_MM = 22.0, 28.0  # for words, and for the ruler
BEYOND_MM = 4.0  # of the drawing over the frame
STEP_MM = 10.0  # tiles are whole steps long
RULER_MM = 100.0
LEAST_MM2 = 1.0  # of an outline in a tile, for the tile to be printed


@dataclass(frozen=True, slots=True)
class Tile:
    """One page of the template."""

    name: str  # column by letter from the left, row by number from the front: 'A1'
    low_mm: tuple[float, float]  # its lower left corner on the base
    size_mm: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Tiling:
    """How the base is cut into pages."""

    tiles: tuple[Tile, ...]  # those with something on them
    size_mm: tuple[float, float]
    columns: int
    rows: int


def tile_size_mm(paper: Paper) -> tuple[float, float]:
    """Width and height of the frame on an upright page."""
    return (
        math.floor((paper.width_mm - 2.0 * EDGE_MM) / STEP_MM) * STEP_MM,
        math.floor((paper.height_mm - ABOVE_MM - UNDER_MM) / STEP_MM) * STEP_MM,
    )


def tiling(bench: Bench) -> Tiling:
    """Cut the base into pages; those that no piece reaches are left out."""
    width, height = tile_size_mm(bench.paper)
    length, depth, _ = bench.scene.tank.inner_mm
    columns, rows = math.ceil(length / width), math.ceil(depth / height)
    drawn = [bench.above[name] for name in bench.prints]
    tiles = []
    for row in range(rows):
        for column in range(columns):
            low = (column * width, row * height)
            page = box(*low, low[0] + width, low[1] + height)
            if any(areas.intersection(page).area > LEAST_MM2 for areas in drawn):
                tiles.append(Tile(f"{_letters(column)}{row + 1}", low, (width, height)))
    return Tiling(tuple(tiles), (width, height), columns, rows)


def _letters(column: int) -> str:
    """A to Z, then AA, AB, ..."""
    letters = chr(ord("A") + column % 26)
    return letters if column < 26 else _letters(column // 26 - 1) + letters


def tile_page(bench: Bench, tile: Tile) -> Drawing:
    """One page at full size."""
    paper = bench.paper
    board = Board(paper.width_mm, paper.height_mm)
    x0, y0 = (paper.width_mm - tile.size_mm[0]) / 2.0, UNDER_MM
    shift = (x0 - tile.low_mm[0], y0 - tile.low_mm[1])
    window = box(x0 - BEYOND_MM, y0 - BEYOND_MM, x0 + tile.size_mm[0] + BEYOND_MM, y0 + tile.size_mm[1] + BEYOND_MM)
    _tank_edges(board, bench, shift, window)
    for name in bench.prints:
        _piece(board, bench, name, shift, window)
    _marks(board, tile, x0, y0)
    _rulers(board, x0, y0)
    top = paper.height_mm - 9.0
    words = f"Tile {tile.name}: x {tile.low_mm[0]:.0f} to {tile.low_mm[0] + tile.size_mm[0]:.0f}, "
    words += f"y {tile.low_mm[1]:.0f} to {tile.low_mm[1] + tile.size_mm[1]:.0f} mm from the inner front-left corner"
    board.text(words, x0, top, 10.0, "start", bold=True)
    board.text(
        "Print at 100 %, without fitting to the page. The front pane is at the bottom.", x0, top - 5.0, 9.0, "start"
    )
    return board.done()


def _tank_edges(board: Board, bench: Bench, shift: tuple[float, float], window: MultiPolygon) -> None:
    length, depth, _ = bench.scene.tank.inner_mm
    rim = affinity.translate(box(0.0, 0.0, length, depth), *shift).exterior
    for line in shapely.get_parts(shapely.line_merge(rim.intersection(window))):
        if line.geom_type == "LineString":
            board.line(*((float(x), float(y)) for x, y in line.coords), line_mm=0.9)


def _piece(board: Board, bench: Bench, name: str, shift: tuple[float, float], window: MultiPolygon) -> None:
    """Outline from above dashed, footprints solid and grey, a cross at the middle."""
    whole = affinity.translate(bench.above[name], *shift)
    if not whole.intersects(window):
        return
    for line in shapely.get_parts(shapely.line_merge(whole.boundary.intersection(window))):
        if line.geom_type == "LineString":
            board.line(*((float(x), float(y)) for x, y in line.coords), line_mm=0.35, dash_mm=(4.0, 1.5))
    prints = affinity.translate(bench.prints[name], *shift)
    board.area(rings_of(as_areas(prints.intersection(window))), 0.5, fill=0.88)
    middle = bench.places[name].centre_mm
    x, y = middle[0] + shift[0], middle[1] + shift[1]
    if window.contains(shapely.Point(x, y)):
        board.cross(x, y, 3.0)
        _, bottom, _, top = window.bounds
        number, words = (y - 8.0, y - 15.0) if y + 12.0 > top else (y + 8.0, y - 7.0 if y - 9.0 > bottom else y + 16.0)
        board.number(str(bench.numbers[name]), x, number, 14.0)
        board.text(name, x, words, 10.0)
    else:
        seen = max(as_areas(whole.intersection(window)).geoms, key=lambda one: one.area, default=None)
        if seen is not None:
            spot = seen.representative_point()
            board.text(f"{bench.numbers[name]}", float(spot.x), float(spot.y), 10.0)


def _marks(board: Board, tile: Tile, x0: float, y0: float) -> None:
    """Crosses at the frame's corners, which neighbours share, with their place on the base."""
    width, height = tile.size_mm
    for right in (0, 1):
        for back in (0, 1):
            x, y = x0 + right * width, y0 + back * height
            board.cross(x, y, 5.0, 0.2)
            ring = tuple((x + 2.0 * math.cos(k * math.pi / 8), y + 2.0 * math.sin(k * math.pi / 8)) for k in range(16))
            board.area((ring,), 0.2)
            place = f"{tile.low_mm[0] + right * width:.0f}, {tile.low_mm[1] + back * height:.0f}"
            board.text(
                place, x + (-6.0 if right else 6.0), y + (6.5 if back else -6.5), 7.0, "end" if right else "start"
            )
    corners = ((x0, y0), (x0 + width, y0), (x0 + width, y0 + height), (x0, y0 + height))
    board.line(*corners, corners[0], line_mm=0.1, grey=0.5, dash_mm=(1.0, 2.0))


def _rulers(board: Board, x0: float, y0: float) -> None:
    """100 mm across and 100 mm upward: printers may stretch either."""
    x, y = x0 + 20.0, y0 - 14.5
    board.line((x, y), (x + RULER_MM, y), line_mm=0.3)
    for k in range(11):
        long = 4.0 if k % 5 == 0 else 2.5
        board.line((x + 10.0 * k, y), (x + 10.0 * k, y + long), line_mm=0.2)
    board.text("this line is 100 mm long", x + RULER_MM + 3.0, y + 1.0, 8.0, "start")
    x, y = x0 - 7.0, y0 + 20.0
    board.line((x, y), (x, y + RULER_MM), line_mm=0.3)
    for k in range(11):
        long = 3.0 if k % 5 == 0 else 2.0
        board.line((x, y + 10.0 * k), (x + long, y + 10.0 * k), line_mm=0.2)
    board.text("100 mm", x - 2.5, y + RULER_MM / 2.0, 8.0, turn_deg=90.0)


def tile_map(bench: Bench, cut: Tiling, width_mm: float) -> Drawing:
    """The base with all tiles, to see which page goes where."""
    length, depth, _ = bench.scene.tank.inner_mm
    reach = [max(tile.low_mm[axis] + tile.size_mm[axis] for tile in cut.tiles) for axis in (0, 1)]
    whole = max(length, reach[0]), max(depth, reach[1])
    scale = width_mm / whole[0]
    board = Board(width_mm, whole[1] * scale + 1.0)
    for name in bench.prints:
        shape = as_areas(affinity.scale(bench.above[name], scale, scale, origin=(0, 0)))
        board.area(rings_of(shape), 0.2, fill=0.9)
    board.box(0.3, 0.3, length * scale, depth * scale, 0.7)
    for tile in cut.tiles:
        x, y = tile.low_mm[0] * scale, tile.low_mm[1] * scale
        board.box(x + 0.3, y + 0.3, tile.size_mm[0] * scale - 0.6, tile.size_mm[1] * scale - 0.6, 0.3)
        board.text(tile.name, x + 6.0, y + 5.0, 11.0, bold=True)
    return board.done()
