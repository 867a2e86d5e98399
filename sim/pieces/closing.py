"""Close the holes of a scan: small ones, and the open underside of a piece scanned on a table."""

from __future__ import annotations

from dataclasses import dataclass

import manifold3d
import numpy as np
from numpy.typing import NDArray

from sim.errors import MeshError
from sim.pieces.body import Floats
from sim.pieces.welding import Indices

SMALL_HOLE = 0.1  # of the piece's size; a larger opening is told as an open side
MOST_UNEVEN = 0.25  # departure from a plane, of the opening's width: beyond, a flat cap is a guess
MOST_RIM_VERTICES = 20_000


@dataclass(frozen=True, slots=True, eq=False)
class Cap:
    """Triangles over one opening."""

    faces: Indices  # (k, 3) vertex indices
    width: float  # longest extent of the rim in its plane, units of the mesh
    departure: float  # largest distance of a rim vertex from the rim's plane
    is_small: bool


def cap_rim(vertices: Floats, rim: Indices, size: float) -> Cap:
    """Span an opening with triangles between its rim vertices.

    The rim is seen along its mean normal and its polygon triangulated there; the vertices stay
    where they are, so the cap is as flat as the rim is.

    Parameters
    ----------
    vertices : (n, 3) array
    rim : (k,) array
        As `trace_rims` gives it.
    size : float
        Longest extent of the piece, in the units of `vertices`.

    Raises
    ------
    MeshError
        When the rim is too uneven or crosses itself, so that a flat cap would be a guess.
    """
    points = vertices[rim] - vertices[rim].mean(axis=0)
    flat, heights = _lay_flat(points)
    width = float(np.ptp(flat, axis=0).max())
    departure = float(np.abs(heights).max())
    is_small = float(np.ptp(points, axis=0).max()) <= SMALL_HOLE * size
    if len(rim) == 3:
        return Cap(rim[None, :], width, departure, is_small)
    where = f"an opening {100.0 * np.ptp(points, axis=0).max() / size:.0f} % of its size wide"
    if len(rim) > MOST_RIM_VERTICES:
        raise MeshError(f"{where} has a rim of {len(rim)} edges. {_REMEDY}")
    if not is_small and departure > MOST_UNEVEN * width:
        raise MeshError(
            f"{where} has a rim that departs {100.0 * departure / width:.0f} % of that from flat. {_REMEDY}"
        )
    if not _crosses_itself(flat):
        triangles = np.asarray(manifold3d.triangulate([flat], allow_convex=False), dtype=np.int64)
    elif is_small and len(rim) <= 120:
        triangles = _least_area(points)
    else:
        raise MeshError(f"{where} has a rim that folds over itself, so a flat cap is a guess. {_REMEDY}")
    return Cap(rim[triangles], width, departure, is_small)


_REMEDY = "Close it in the scanning program, or scan the piece from below too."


def _lay_flat(points: Floats) -> tuple[Floats, Floats]:
    """Coordinates along and across the mean plane of a rim: (k, 2) counter-clockwise, and (k,)."""
    normal = np.cross(points, np.roll(points, -1, axis=0)).sum(axis=0)  # Newell's area vector
    length = np.linalg.norm(normal)
    _, _, axes = np.linalg.svd(points, full_matrices=False)
    normal = normal / length if length > 0.0 else axes[2]
    along = axes[0] - normal * (axes[0] @ normal)
    if np.linalg.norm(along) < 1e-9:
        along = np.cross(normal, np.eye(3)[np.argmin(np.abs(normal))])
    along /= np.linalg.norm(along)
    across = np.cross(normal, along)
    return np.ascontiguousarray(np.column_stack([points @ along, points @ across])), points @ normal


def _crosses_itself(flat: Floats) -> bool:
    """Whether two sides of a polygon that are no neighbours cross."""
    ends, count = np.roll(flat, -1, axis=0), len(flat)
    for side in range(count - 2):
        last = count - 1 if side == 0 else count
        begins, finishes = flat[side + 2 : last], ends[side + 2 : last]
        a, b = flat[side], ends[side]
        apart = _turn(a, b, begins) * _turn(a, b, finishes)
        astride = _turn(begins, finishes, a) * _turn(begins, finishes, b)
        if ((apart < 0.0) & (astride < 0.0)).any():
            return True
    return False


def _turn(a: Floats, b: Floats, c: Floats) -> Floats:
    """Twice the signed area of the triangles (a, b, c) in the plane."""
    along, to = b - a, c - a
    area: Floats = along[..., 0] * to[..., 1] - along[..., 1] * to[..., 0]
    return area


def _least_area(points: Floats) -> Indices:
    """Triangulate a closed space polygon with the least area.

    References
    ----------
    Barequet, G. and Sharir, M. (1995). Filling Gaps in the Boundary of a Polyhedron, section 3.
    """
    count = len(points)
    best = np.zeros((count, count))
    split = np.zeros((count, count), dtype=np.int64)
    for gap in range(2, count):
        for first in range(count - gap):
            last = first + gap
            middles = np.arange(first + 1, last)
            areas = np.linalg.norm(np.cross(points[middles] - points[first], points[last] - points[first]), axis=1)
            totals = best[first, middles] + best[middles, last] + areas
            least = int(np.argmin(totals))
            best[first, last], split[first, last] = totals[least], middles[least]
    triangles, waiting = [], [(0, count - 1)]
    while waiting:
        first, last = waiting.pop()
        if last - first < 2:
            continue
        middle = int(split[first, last])
        triangles.append((first, middle, last))
        waiting += [(first, middle), (middle, last)]
    return np.array(triangles, dtype=np.int64)


def count_piercings(vertices: Floats, faces: Indices, cap: Indices) -> int:
    """Count edges of the surface that go through a cap, other than at its rim."""
    triangles = vertices[cap]
    low, high = triangles.min(axis=(0, 1)), triangles.max(axis=(0, 1))
    sides = np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1)
    on_rim = np.zeros(len(vertices), dtype=bool)
    on_rim[cap.reshape(-1)] = True
    sides = sides[~on_rim[sides].any(axis=1)]
    begins, ends = vertices[sides[:, 0]], vertices[sides[:, 1]]
    near = ((np.minimum(begins, ends) <= high) & (np.maximum(begins, ends) >= low)).all(axis=1)
    sides = np.unique(sides[near], axis=0)
    begins, ends = vertices[sides[:, 0]], vertices[sides[:, 1]]
    through = np.zeros(len(sides), dtype=bool)
    for corners in triangles:
        near = (
            (np.minimum(begins, ends) <= corners.max(axis=0)) & (np.maximum(begins, ends) >= corners.min(axis=0))
        ).all(axis=1)
        which = np.flatnonzero(near & ~through)
        through[which] = _pierce(begins[which], ends[which], corners)
    return int(through.sum())


def _pierce(begins: Floats, ends: Floats, corners: Floats) -> NDArray[np.bool_]:
    """Whether each segment goes through one triangle, told by the signs of five tetrahedra."""
    a, b, c = corners
    normal = np.cross(b - a, c - a)
    astride = ((begins - a) @ normal) * ((ends - a) @ normal) < 0.0
    steps = ends - begins
    signs = [np.einsum("ij,ij->i", np.cross(p - begins, q - begins), steps) for p, q in ((a, b), (b, c), (c, a))]
    same = ((signs[0] > 0) & (signs[1] > 0) & (signs[2] > 0)) | ((signs[0] < 0) & (signs[1] < 0) & (signs[2] < 0))
    through: NDArray[np.bool_] = astride & same
    return through
