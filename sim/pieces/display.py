"""Light meshes for the picture."""

from __future__ import annotations

from dataclasses import dataclass

import fast_simplification
import numpy as np

from sim.pieces.body import Body, Colours, Faces, Floats
from sim.pieces.reducing import DISPLAY_TRIANGLES, colours_from


@dataclass(frozen=True, slots=True, eq=False)
class DisplayMesh:
    """What is drawn of a body, in the body's own frame. It need not be closed and carries no mass."""

    vertices_m: Floats  # (n, 3)
    faces: Faces  # (m, 3), counter-clockwise seen from outside
    colours: Colours | None  # (n, 3) sRGB per vertex


def display_mesh(body: Body, faces: int = DISPLAY_TRIANGLES) -> DisplayMesh:
    """Reduce a body to about `faces` triangles; each vertex takes the colour of the nearest original one."""
    if len(body.faces) <= faces:
        return DisplayMesh(body.vertices_m, body.faces, body.colours)
    points, triangles = fast_simplification.simplify(body.vertices_m, body.faces, target_count=faces)
    vertices_m = np.asarray(points, dtype=np.float64)
    colours = colours_from(body.vertices_m, body.colours, vertices_m)
    return DisplayMesh(vertices_m, np.asarray(triangles, dtype=np.int32), colours)
