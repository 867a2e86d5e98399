"""Outlines of meshes as seen along an axis, and of where they bear.

The faces that look towards the eye have a rim of directed edges. A point is inside the outline where that rim,
projected, winds around it: exact, holes included, and only the rim's few edges are looked at.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPoint, MultiPolygon, Polygon

from sim.contact import BASE
from sim.pieces.placing import PlacedPiece
from sim.report.sheet.drawing import Point
from sim.states import Stage
from sim.units import MM_PER_M

Floats = NDArray[np.float64]

GRID_MM = 1.0e-4  # corners nearer than this are one
FINE_MM = 0.05  # by which a drawn outline may leave the true one
SPECK_MM2 = 0.01
PINHOLE_MM2 = 1.0  # smaller holes are left out: cracks between triangles, seen edge-on
POINT_MM = 1.0  # a point that bears is drawn as a disc of this radius

# axes across and up on the paper, the axis looked along, and the sign of a normal that faces the eye
_SEEN = {"above": (0, 1, 2, 1.0), "front": (0, 2, 1, -1.0)}


def silhouette(piece: PlacedPiece, seen_from: Literal["above", "front"]) -> MultiPolygon:
    """Outline of a placed piece, mm: x and y seen from above, x and z seen from the front."""
    across, up, along, sign = _SEEN[seen_from]
    vertices = piece.vertices_m() * MM_PER_M
    corners = vertices[piece.body.faces]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])[:, along]
    facing = piece.body.faces[sign * normal > 0.0]
    rim = _rim(facing)
    starts, ends = vertices[rim[:, 0]][:, [across, up]], vertices[rim[:, 1]][:, [across, up]]
    lines = shapely.set_precision(shapely.linestrings(np.stack([starts, ends], axis=1)), GRID_MM)
    noded = shapely.union_all(lines, grid_size=GRID_MM)
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(noded)))
    faces = faces[shapely.area(faces) > SPECK_MM2]
    if not len(faces):
        return as_areas(MultiPoint(vertices[:, [across, up]]).convex_hull)
    inside = _winding(shapely.get_coordinates(shapely.point_on_surface(faces)), starts, ends) != 0
    return as_areas(shapely.union_all(faces[inside]).simplify(FINE_MM))


def _rim(faces: NDArray[np.int32]) -> NDArray[np.int64]:
    """Directed edges (k, 2) of a set of triangles that no neighbour in the set runs back along."""
    edges = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]).astype(np.int64)
    span = int(faces.max()) + 1 if len(faces) else 1
    there, back = edges[:, 0] * span + edges[:, 1], edges[:, 1] * span + edges[:, 0]
    return edges[~np.isin(there, back)]


def _winding(points: Floats, starts: Floats, ends: Floats) -> NDArray[np.int64]:
    """How often directed edges (k, 2) go around each point (n, 2)."""
    turns = np.zeros(len(points), np.int64)
    for k, (x, y) in enumerate(points):
        side = (ends[:, 0] - starts[:, 0]) * (y - starts[:, 1]) - (x - starts[:, 0]) * (ends[:, 1] - starts[:, 1])
        upward = (starts[:, 1] <= y) & (ends[:, 1] > y) & (side > 0.0)
        downward = (starts[:, 1] > y) & (ends[:, 1] <= y) & (side < 0.0)
        turns[k] = int(upward.sum()) - int(downward.sum())
    return turns


def as_areas(shape: shapely.Geometry) -> MultiPolygon:
    """Only the areas of a shape, without specks and pinholes."""
    parts = [one for one in shapely.get_parts(shape) if isinstance(one, Polygon) and one.area > SPECK_MM2]
    return MultiPolygon(
        [Polygon(one.exterior, [r for r in one.interiors if Polygon(r).area > PINHOLE_MM2]) for one in parts]
    )


def rings_of(areas: MultiPolygon) -> tuple[tuple[Point, ...], ...]:
    """Every ring, outer and inner, without its repeated last corner."""
    rings = [ring for one in areas.geoms for ring in (one.exterior, *one.interiors)]
    return tuple(tuple((float(x), float(y)) for x, y in ring.coords[:-1]) for ring in rings)


def footprints(stage: Stage) -> dict[str, MultiPolygon]:
    """Where each piece bears on the base, mm: hulls of its contacts; points as small discs."""
    contacts = stage.contacts
    found: dict[str, list[Polygon]] = {}
    on_base = contacts.b == BASE
    for patch in np.unique(contacts.patch[on_base]):
        chosen = on_base & (contacts.patch == patch)
        hull = MultiPoint(contacts.point_m[chosen][:, :2] * MM_PER_M).convex_hull
        if hull.area <= SPECK_MM2:
            hull = hull.buffer(POINT_MM, quad_segs=6)
        found.setdefault(stage.pieces[int(contacts.a[chosen][0])].id, []).append(hull)
    return {name: as_areas(shapely.union_all(hulls)) for name, hulls in found.items()}


def long_side(areas: MultiPolygon) -> tuple[float, float, float]:
    """Sides of the smallest rectangle around a shape, longer first, and the longer one's angle, mm and degrees.

    The angle is counted from the first axis, over -90 to 90.
    """
    box = areas.minimum_rotated_rectangle
    corners = np.array(box.exterior.coords) if isinstance(box, Polygon) else np.zeros((5, 2))
    sides = np.diff(corners[:3], axis=0)
    lengths = np.linalg.norm(sides, axis=1)
    longer = int(np.argmax(lengths))
    angle = float(np.degrees(np.arctan2(sides[longer][1], sides[longer][0])))
    angle = (angle + 90.0) % 180.0 - 90.0
    return float(lengths[longer]), float(lengths[1 - longer]), 90.0 if angle <= -90.0 else angle
