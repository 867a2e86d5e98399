"""Colours of pieces that bring none: a palette by rock, in level beds through the whole piece."""

from __future__ import annotations

import zlib

import numpy as np
from numpy.typing import NDArray

from sim.pieces.generate.noise import noise
from sim.pieces.generate.paint import LIMESTONE, PALETTES, SLATE, bands
from sim.pieces.placing import PlacedPiece
from sim.units import MM_PER_M

WOOD = np.array([[128, 104, 78], [108, 84, 60], [146, 122, 94], [92, 74, 56]], float)
DARK = np.array([[78, 76, 76], [64, 62, 64], [92, 88, 86], [70, 70, 74]], float)
RED = np.array([[112, 74, 62], [92, 62, 54], [128, 90, 76], [84, 60, 56]], float)
BROWN = np.array([[150, 122, 92], [128, 102, 78], [168, 142, 110], [112, 92, 74]], float)

# drawn by eye after usual display stone; no physical meaning
BY_ROCK = {
    **PALETTES,
    "slate": SLATE,
    "shale": SLATE,
    "basalt": DARK,
    "dolerite": DARK,
    "scoria": RED,
    "petrified wood": BROWN,
    "weathered mudstone": BROWN,
}
LAYERED = ("sandstone", "limestone", "slate", "shale", "gneiss", "weathered mudstone", "petrified wood")


def piece_colours(piece: PlacedPiece) -> NDArray[np.uint8]:
    """sRGB (n, 3) per vertex: the piece's own, else by its material, from its shape's hash as seed."""
    own = piece.body.colours
    if own is not None:
        return np.asarray(own[:, :3])
    seed = zlib.crc32(piece.body.content_hash().encode()) & 0x7FFFFFFF
    points_mm = piece.body.vertices_m * MM_PER_M
    name = piece.material.name if piece.material is not None else ""
    palette = WOOD if piece.is_wood else BY_ROCK.get(name, LIMESTONE)
    warped_mm = points_mm[:, 2] + 5.0 * noise(points_mm / 45.0, seed, 2)
    thin_mm, thick_mm = (3.0, 11.0) if name in LAYERED else (25.0, 60.0)
    colours = bands(warped_mm, seed, palette, thin_mm, thick_mm)
    mottle = 1.0 + 0.14 * noise(points_mm / 6.0, seed + 1, 2) + 0.10 * noise(points_mm / 28.0, seed + 2)
    return np.asarray(np.clip(colours * mottle[:, None], 0, 255), dtype=np.uint8)
