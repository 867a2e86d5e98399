"""Where a prop could stand under a piece: the points of its underside farthest out, and what is beneath them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import trimesh
from numpy.typing import NDArray

from sim.pieces.placing import PlacedPiece

Floats = NDArray[np.float64]

PROP_SIDES = 8
UNDERSIDE = 0.5  # downward part of a face's normal from which on a prop can bear against it
CLEAR_M = 1.0e-4  # below the point: the piece's own face is not beneath itself


def underside_edges(piece: PlacedPiece) -> Floats:
    """Of a piece's underside the points (8, 3) farthest out, all around: where a prop helps most."""
    vertices = piece.vertices_m()
    triangles = vertices[piece.body.faces]
    normal = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    down = normal[:, 2] < -UNDERSIDE * np.linalg.norm(normal, axis=1)
    own = vertices[np.unique(piece.body.faces[down])] if down.any() else vertices
    azimuth = 2.0 * np.pi * np.arange(PROP_SIDES) / PROP_SIDES
    out = np.stack([np.cos(azimuth), np.sin(azimuth)])
    return np.asarray(own[np.argmax(own[:, :2] @ out, axis=0)], dtype=np.float64)


def beneath(pieces: Sequence[PlacedPiece], points_m: Floats) -> tuple[tuple[int, ...], ...]:
    """Masks of the pieces that lie under each point.

    Parameters
    ----------
    points_m : (n, 8, 3) points of each piece
    """
    masks = np.zeros(points_m.shape[:2], dtype=object)
    starts = points_m - [0.0, 0.0, CLEAR_M]
    for k, piece in enumerate(pieces):
        vertices = piece.vertices_m()
        low, high = vertices.min(axis=0), vertices.max(axis=0)
        over = np.all((starts[..., :2] >= low[:2]) & (starts[..., :2] <= high[:2]), axis=-1) & (starts[..., 2] > low[2])
        over[k] = False
        chosen = np.argwhere(over)
        if not len(chosen):
            continue
        mesh = trimesh.Trimesh(vertices, piece.body.faces, process=False)
        down = np.tile([0.0, 0.0, -1.0], (len(chosen), 1))
        for (i, j), hit in zip(chosen, mesh.ray.intersects_any(starts[over], down), strict=True):
            masks[i, j] |= int(hit) << k
    return tuple(tuple(int(mask) for mask in row) for row in masks)
