"""A picture of the whole scene in its tank, and of what moves in it."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from sim.pieces.body import Body
from sim.pieces.placing import PlacedPiece
from sim.pieces.reducing import DISPLAY_TRIANGLES, reduce_for_display
from sim.scene import Scene
from sim.shot.camera import View, overview
from sim.shot.drawing import arrow_shape, tank_shapes
from sim.shot.raycast import Picture, Shape, render
from sim.units import MM_PER_M

Floats = NDArray[np.float64]

STONE_RGB = (164, 154, 138)
WOOD_RGB = (150, 132, 110)
ARROW_RGB = (34, 40, 58)
ARROW_M = 0.08
ARROW_LIFT_M = 0.01


def light(pieces: Sequence[PlacedPiece], triangles: int = DISPLAY_TRIANGLES) -> list[PlacedPiece]:
    """The same pieces with no more triangles than a small picture shows."""
    made: dict[int, Body] = {}
    found = []
    for piece in pieces:
        body = piece.body
        if len(body.faces) > triangles:
            if id(body) not in made:
                reduced = reduce_for_display(body.vertices_m, body.faces, body.colours, triangles)
                made[id(body)] = replace(
                    body, vertices_m=reduced.vertices_m, faces=reduced.faces, colours=reduced.colours
                )
            body = made[id(body)]
        found.append(replace(piece, body=body))
    return found


def piece_shape(piece: PlacedPiece, rgb: tuple[int, int, int] | None = None) -> Shape:
    """A placed piece to draw, in its own colours or in one given."""
    colours = piece.body.colours
    if rgb is not None or colours is None:
        plain = rgb or (WOOD_RGB if piece.is_wood else STONE_RGB)
        colours = np.tile(np.array(plain, np.uint8), (len(piece.body.vertices_m), 1))
    return Shape(piece.vertices_m(), piece.body.faces, colours[:, :3])


def arrow_over(piece: PlacedPiece, shape: Shape, direction: Floats) -> Shape:
    """An arrow over a drawn piece, along a direction (3,) of any length but none."""
    along = direction / np.linalg.norm(direction) * ARROW_M
    top = np.array([*piece.position_m[:2], shape.vertices_m[:, 2].max() + ARROW_LIFT_M])
    top[2] += max(0.0, -along[2])  # one that points down starts higher, or the stone would hide it
    return arrow_shape(top, along, ARROW_RGB)


def piece_shapes(
    pieces: Sequence[PlacedPiece],
    colours: Mapping[str, tuple[int, int, int]] | None = None,
    motion: Mapping[str, Floats] | None = None,
) -> list[Shape]:
    """The pieces to draw, in their order, then the arrows over those that have a direction; see `draw_scene`."""
    shapes = [piece_shape(piece, (colours or {}).get(piece.id)) for piece in pieces]
    ways = [(motion or {}).get(piece.id) for piece in pieces]
    arrows = [
        arrow_over(piece, shape, way)
        for piece, shape, way in zip(pieces, shapes, ways, strict=True)
        if way is not None and np.linalg.norm(way) > 0.0
    ]
    return shapes + arrows


def draw_scene(
    scene: Scene,
    pieces: list[PlacedPiece],
    size_px: tuple[int, int] = (1200, 800),
    colours: Mapping[str, tuple[int, int, int]] | None = None,
    motion: Mapping[str, Floats] | None = None,
    view: View | None = None,
) -> Picture:
    """Draw the pieces in the tank, seen from the front, a little left and above.

    Parameters
    ----------
    colours : colour per piece id instead of its own, for instance by margin
    motion : direction (3,) per piece id in which it would move, drawn as an arrow
    """
    inner_m = np.array(scene.tank.inner_mm) / MM_PER_M
    base_m = scene.tank.base_mm / MM_PER_M
    tank = tank_shapes(inner_m, base_m, scene.water_level_mm / MM_PER_M)
    shapes = piece_shapes(light(pieces), colours, motion) + tank
    if view is None:
        view = overview(np.array([0.0, 0.0, -base_m]), inner_m)
    return render(shapes, view, size_px)


def png_bytes(rgb: NDArray[np.uint8]) -> bytes:
    """A picture (height, width, 3) as a PNG file's content."""
    stream = io.BytesIO()
    Image.fromarray(rgb).save(stream, "PNG", optimize=True)
    return stream.getvalue()
