"""Fewer triangles by collapsing edges, one mesh at a time."""

from __future__ import annotations

import threading

import fast_simplification
import numpy as np

from sim.pieces.body import Faces, Floats

# the library keeps the mesh that it works on in global variables: two threads would mix their meshes up
_alone = threading.Lock()


def collapse_edges(vertices: Floats, faces: Faces, count: int) -> tuple[Floats, Faces]:
    """Collapse edges by their quadric error until about `count` triangles are left. Safe to call from any thread.

    Parameters
    ----------
    vertices : (n, 3) array
        In any unit. The library compares errors with fixed thresholds: with numbers in millimetres it keeps
        closer to the surface than with the tiny ones that metres give.
    faces : (m, 3) integer array
    count : int
        Triangles wanted.

    Returns
    -------
    vertices, faces : (k, 3) array, (l, 3) int32 array
        Not always closed or manifold.

    References
    ----------
    Garland, M. and Heckbert, P. (1997). Surface Simplification Using Quadric Error Metrics.
    """
    with _alone:
        points, corners = fast_simplification.simplify(
            vertices, np.asarray(faces, dtype=np.int32), target_count=count, agg=7
        )
    return np.asarray(points, dtype=np.float64), np.asarray(corners, dtype=np.int32)
