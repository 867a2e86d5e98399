"""What was clicked in a photo of the empty tank: a TOML file with corners and points along edges.

    [corners]
    front_bottom_left = [612.5, 3301.0]    # pixels, right and down from the upper left corner
    back_top_right = [4790.0, 905.5]

    [[edge]]
    between = ["front_bottom_left", "front_bottom_right"]
    px = [[1500.0, 3310.0], [3000.0, 3313.5]]

Corners are those of the tank's inside: where the inner faces of two panes and the base meet, and at the top
the inner corners of the rim.
"""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.errors import BedjointError
from sim.shot.refraction import Tank

Floats = NDArray[np.float64]

CORNERS = tuple(
    f"{depth}_{height}_{side}"
    for depth in ("front", "back")
    for height in ("bottom", "top")
    for side in ("left", "right")
)
EDGES = tuple(
    (a, b)
    for number, a in enumerate(CORNERS)
    for b in CORNERS[number + 1 :]
    if sum(x != y for x, y in zip(a.split("_"), b.split("_"), strict=True)) == 1
)
MOST_POINTS = 10_000


@dataclass(frozen=True, slots=True, eq=False)
class Clicks:
    """Clicked points."""

    corners: dict[str, tuple[float, float]]
    edges: tuple[tuple[str, str], ...]  # per edge point, between which corners it lies
    edge_px: Floats  # (m, 2)


def corner_m(name: str, tank: Tank) -> Floats:
    """An inner corner (3,) of a tank, by its name such as front_bottom_left."""
    depth, height, side = name.split("_")
    length, back, top = tank.inner_m
    return np.array(
        [length if side == "right" else 0.0, back if depth == "back" else 0.0, top if height == "top" else 0.0]
    )


def read_clicks(path: Path) -> Clicks:
    """Read a file of clicked points.

    Raises
    ------
    BedjointError
        When it is missing, no TOML, or something in it is no corner, edge or pixel.
    """
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise BedjointError(f"{path}: cannot be read ({error.strerror}). Name the file of clicked points.") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise BedjointError(f"{path}: is no TOML ({error}). Write [corners] with name = [u, v].") from error
    unknown = set(table) - {"corners", "edge"}
    if unknown:
        raise BedjointError(f"{path}: {sorted(unknown)[0]}: not known here. Give [corners] and [[edge]].")
    corners = table.get("corners", {})
    edges = table.get("edge", [])
    if not isinstance(corners, dict) or not isinstance(edges, list):
        raise BedjointError(f"{path}: give [corners] as a table and each edge as [[edge]].")
    found = {name: _pixel(path, f"corners.{name}", value) for name, value in corners.items()}
    for name in found:
        if name not in CORNERS:
            raise BedjointError(f"{path}: corners.{name[:60]}: no corner of the tank. Corners: {', '.join(CORNERS)}.")
    names: list[tuple[str, str]] = []
    pixels: list[tuple[float, float]] = []
    for number, edge in enumerate(edges, start=1):
        pair, points = _edge(path, number, edge)
        names += [pair] * len(points)
        pixels += points
    if len(pixels) > MOST_POINTS:
        raise BedjointError(f"{path}: {len(pixels)} points along edges. Give at most {MOST_POINTS}; ten an edge do.")
    return Clicks(found, tuple(names), np.array(pixels, dtype=np.float64).reshape(-1, 2))


def _edge(path: Path, number: int, edge: Any) -> tuple[tuple[str, str], list[tuple[float, float]]]:
    where = f"edge[{number}]"
    if not isinstance(edge, dict) or set(edge) != {"between", "px"}:
        raise BedjointError(f"{path}: {where}: give between = [corner, corner] and px = [[u, v], ...].")
    between, points = edge["between"], edge["px"]
    pair = tuple(between) if isinstance(between, list) else ()
    match = next((known for known in EDGES if set(known) == set(pair) and len(pair) == 2), None)
    if match is None:
        raise BedjointError(f"{path}: {where}.between: no edge of the tank. Name two corners that an edge joins.")
    if not isinstance(points, list) or not points:
        raise BedjointError(f"{path}: {where}.px: no points. Give [[u, v], ...].")
    return match, [_pixel(path, f"{where}.px[{at}]", value) for at, value in enumerate(points, start=1)]


def _pixel(path: Path, where: str, value: Any) -> tuple[float, float]:
    numbers = value if isinstance(value, list) else []
    plain = [number for number in numbers if isinstance(number, (int, float)) and not isinstance(number, bool)]
    if len(plain) != 2 or len(numbers) != 2 or not all(math.isfinite(number) for number in plain):
        raise BedjointError(f"{path}: {where}: no pixel. Give two numbers, [u, v].")
    return float(plain[0]), float(plain[1])
