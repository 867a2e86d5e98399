"""Does a mesh cut through itself? Edges of one triangle against the inside of another."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from sim.pieces.body import Faces, Floats


def crossing_pairs(vertices: Floats, faces: Faces) -> int:
    """Count pairs of triangles without a common vertex of which one's edge pierces the other.

    Parameters
    ----------
    vertices : (n, 3) array, any unit
    faces : (m, 3) integer array

    Returns
    -------
    int
        0 for an embedded surface. Coplanar overlaps are not seen.

    References
    ----------
    Möller, T. and Trumbore, B. (1997). Fast, Minimum Storage Ray/Triangle Intersection.
    """
    triangles = vertices[faces]
    first, second = _near_pairs(triangles)
    apart = ~(faces[first][:, :, None] == faces[second][:, None, :]).any(axis=(1, 2))
    first, second = first[apart], second[apart]
    pierced = np.zeros(len(first), dtype=bool)
    for one, other in ((first, second), (second, first)):
        for corner in range(3):
            begins, finishes = triangles[one, corner], triangles[one, (corner + 1) % 3]
            pierced |= _pierces(begins, finishes - begins, triangles[other])
    return int(pierced.sum())


def _near_pairs(triangles: Floats) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Pairs of triangles whose boxes overlap, each pair once."""
    centres = triangles.mean(axis=1)
    reaches = np.linalg.norm(triangles - centres[:, None], axis=2).max(axis=1)
    # each triangle looks for those no larger than itself, so a few large ones cost no more than their share
    found = cKDTree(centres).query_ball_point(centres, 2.0 * reaches)
    first = np.repeat(np.arange(len(triangles)), [len(near) for near in found])
    second = np.concatenate([np.asarray(near, dtype=np.intp) for near in found])
    once = (reaches[second] < reaches[first]) | ((reaches[second] == reaches[first]) & (second < first))
    first, second = first[once], second[once]
    low, high = triangles.min(axis=1), triangles.max(axis=1)
    overlap = ((low[first] <= high[second]) & (low[second] <= high[first])).all(axis=1)
    return first[overlap], second[overlap]


def _pierces(begins: Floats, steps: Floats, triangles: Floats) -> NDArray[np.bool_]:
    """Whether each segment (begin, begin + step) meets its triangle."""
    side, other_side = triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]
    tilted = np.cross(steps, other_side)
    determinant = np.einsum("ij,ij->i", side, tilted)
    lies_across = determinant != 0.0
    inverse = 1.0 / np.where(lies_across, determinant, 1.0)
    offset = begins - triangles[:, 0]
    u = np.einsum("ij,ij->i", offset, tilted) * inverse
    turned = np.cross(offset, side)
    v = np.einsum("ij,ij->i", steps, turned) * inverse
    t = np.einsum("ij,ij->i", other_side, turned) * inverse
    met: NDArray[np.bool_] = lies_across & (u >= 0.0) & (v >= 0.0) & (u + v <= 1.0) & (t >= 0.0) & (t <= 1.0)
    return met
