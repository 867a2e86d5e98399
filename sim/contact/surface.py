"""What contact needs of a body: its triangles in a tree, and sample points in clusters.

Sample   a point of the surface that is tested against other surfaces: every vertex, points
         along the edges, points in large faces, nowhere farther apart than `SPACING_M`.
Cluster  neighbouring samples within a ball, so that most are ruled out together.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sim.contact.tree import LEAF_TRIANGLES, Mesh, build_boxes
from sim.pieces.body import Body
from sim.pieces.cache import Recent

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

SPACING_M = 1.5e-3
SHORT_EDGE_M = 0.5e-3  # shorter edges carry no sample of their own: their ends are near enough
CLUSTER_SAMPLES = 48

VERTEX, EDGE, FACE = 0, 1, 2


class Samples(NamedTuple):
    """Sample points of one or many bodies, in the bodies' own frames, in cluster order."""

    point: Floats  # (s, 3)
    normal: Floats  # (s, 3) of the face, edge or vertex that the sample lies on
    cone: Floats  # (s,) cosine between that normal and the farthest face beside it: 1 in a face
    kind: Ints  # (s,) VERTEX, EDGE or FACE
    edge: Floats  # (s, 2, 3) ends of the edge of an EDGE sample, else zeros
    cluster_start: Ints  # (c,)
    cluster_end: Ints  # (c,)
    cluster_centre: Floats  # (c, 3)
    cluster_radius_m: Floats  # (c,)


@dataclass(frozen=True, slots=True, eq=False)
class Surface:
    """A body made ready for contact."""

    mesh: Mesh
    samples: Samples
    low_m: Floats  # (3,)
    high_m: Floats  # (3,)
    radius_m: float


_KEPT: Recent[Surface] = Recent(256)


def surface_of(body: Body) -> Surface:
    """Build, or find again, the contact surface of a body (kept by its shape's hash)."""
    return _KEPT.get(body.content_hash(), lambda: _build(body))


def _build(body: Body) -> Surface:
    vertices, faces = body.vertices_m, body.faces
    corners = vertices[faces]
    crosses = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    double_areas = np.linalg.norm(crosses, axis=1)
    face_normals = crosses / np.maximum(double_areas, 1e-30)[:, None]
    edges, edge_of_face = _edges(faces, len(vertices))
    edge_normals = _unit(_add_at(edge_of_face, np.repeat(face_normals, 3, axis=0), len(edges)))
    vertex_normals = _vertex_normals(corners, faces, face_normals, len(vertices))
    mesh = _mesh(corners, faces, face_normals, edge_normals[edge_of_face].reshape(-1, 3, 3), vertex_normals)
    parts = [
        _vertex_samples(vertices, vertex_normals, _vertex_cones(faces, face_normals, vertex_normals)),
        _edge_samples(vertices, edges, edge_normals, _edge_cones(edge_of_face, face_normals, edge_normals)),
        _face_samples(corners, face_normals, double_areas / 2.0),
    ]
    return Surface(
        mesh=mesh,
        samples=_clustered(*(np.concatenate(columns) for columns in zip(*parts, strict=True))),
        low_m=vertices.min(axis=0),
        high_m=vertices.max(axis=0),
        radius_m=float(np.linalg.norm(vertices, axis=1).max()),
    )


def _edges(faces: Ints, vertex_count: int) -> tuple[Ints, Ints]:
    """Distinct edges (e, 2), and for each face side 0-1, 1-2, 2-0 in order its edge (3 m,)."""
    ends = np.sort(np.stack([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]], axis=1), axis=2).reshape(-1, 2)
    keys, edge_of_face = np.unique(ends[:, 0].astype(np.int64) * vertex_count + ends[:, 1], return_inverse=True)
    return np.stack([keys // vertex_count, keys % vertex_count], axis=1), edge_of_face.ravel()


def _vertex_normals(corners: Floats, faces: Ints, face_normals: Floats, vertex_count: int) -> Floats:
    total = np.zeros((vertex_count, 3))
    for k in range(3):
        one = _unit(corners[:, (k + 1) % 3] - corners[:, k])
        other = _unit(corners[:, (k + 2) % 3] - corners[:, k])
        angle = np.arccos(np.clip((one * other).sum(axis=1), -1.0, 1.0))
        total += _add_at(faces[:, k], face_normals * angle[:, None], vertex_count)
    return _unit(total)


def _mesh(corners: Floats, faces: Ints, face_normals: Floats, edge_normals: Floats, vertex_normals: Floats) -> Mesh:
    order, low, high, child, start, end = build_boxes(
        corners.min(axis=1), corners.max(axis=1), corners.mean(axis=1), LEAF_TRIANGLES
    )
    return Mesh(
        corners=np.ascontiguousarray(corners[order]),
        vertex=np.ascontiguousarray(faces[order], dtype=np.int32),
        face_normal=np.ascontiguousarray(face_normals[order]),
        edge_normal=np.ascontiguousarray(edge_normals[order]),
        vertex_normal=vertex_normals,
        box_low=low.copy(),  # without the room that was left for more boxes
        box_high=high.copy(),
        child=child.astype(np.int32),
        start=start.astype(np.int32),
        end=end.astype(np.int32),
    )


def _edge_cones(edge_of_face: Ints, face_normals: Floats, edge_normals: Floats) -> Floats:
    cones = np.ones(len(edge_normals))
    cosines = (np.repeat(face_normals, 3, axis=0) * edge_normals[edge_of_face]).sum(axis=1)
    np.minimum.at(cones, edge_of_face, cosines)
    return cones


def _vertex_cones(faces: Ints, face_normals: Floats, vertex_normals: Floats) -> Floats:
    cones = np.ones(len(vertex_normals))
    for k in range(3):
        np.minimum.at(cones, faces[:, k], (face_normals * vertex_normals[faces[:, k]]).sum(axis=1))
    return cones


_Part = tuple[Floats, Floats, Floats, Ints, Floats]  # point, normal, cone, kind, edge


def _vertex_samples(vertices: Floats, normals: Floats, cones: Floats) -> _Part:
    return vertices, normals, cones, np.full(len(vertices), VERTEX, np.int32), np.zeros((len(vertices), 2, 3))


def _edge_samples(vertices: Floats, edges: Ints, normals: Floats, cones: Floats) -> _Part:
    ends = vertices[edges]
    lengths = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    inner = np.where(lengths < SHORT_EDGE_M, 0, np.maximum(np.ceil(lengths / SPACING_M).astype(int) - 1, 1))
    owner = np.repeat(np.arange(len(edges)), inner)
    place = np.arange(len(owner)) - np.repeat(np.cumsum(inner) - inner, inner) + 1
    share = (place / (inner[owner] + 1.0))[:, None]
    points = ends[owner, 0] * (1.0 - share) + ends[owner, 1] * share
    return points, normals[owner], cones[owner], np.full(len(owner), EDGE, np.int32), ends[owner]


def _face_samples(corners: Floats, normals: Floats, areas: Floats) -> _Part:
    """Evenly scattered points in faces larger than one cell of the spacing (R2 sequence, Roberts 2018)."""
    large = np.flatnonzero(areas > SPACING_M**2)
    counts = np.round(areas[large] / SPACING_M**2).astype(int)
    owner = np.repeat(large, counts)
    place = np.arange(len(owner)) - np.repeat(np.cumsum(counts) - counts, counts)
    a, b = (0.31 + place * 0.7548776662) % 1.0, (0.17 + place * 0.5698402910) % 1.0
    folded = a + b > 1.0
    a, b = np.where(folded, 1.0 - a, a)[:, None], np.where(folded, 1.0 - b, b)[:, None]
    triangle = corners[owner]
    points = triangle[:, 0] + a * (triangle[:, 1] - triangle[:, 0]) + b * (triangle[:, 2] - triangle[:, 0])
    count = len(owner)
    return points, normals[owner], np.ones(count), np.full(count, FACE, np.int32), np.zeros((count, 2, 3))


def _clustered(point: Floats, normal: Floats, cone: Floats, kind: Ints, edge: Floats) -> Samples:
    order, low, high, child, start, end = build_boxes(point, point, point, CLUSTER_SAMPLES)
    point = np.ascontiguousarray(point[order])
    leaf = np.flatnonzero(child < 0)
    centre = (low[leaf] + high[leaf]) / 2.0
    owner = np.repeat(np.arange(len(leaf)), end[leaf] - start[leaf])
    member = np.concatenate([np.arange(s, e) for s, e in zip(start[leaf], end[leaf], strict=True)])
    radius = np.zeros(len(leaf))
    np.maximum.at(radius, owner, np.linalg.norm(point[member] - centre[owner], axis=1))
    return Samples(
        point=point,
        normal=np.ascontiguousarray(normal[order]),
        cone=np.ascontiguousarray(cone[order]),
        kind=np.ascontiguousarray(kind[order]),
        edge=np.ascontiguousarray(edge[order]),
        cluster_start=start[leaf].astype(np.int32),
        cluster_end=end[leaf].astype(np.int32),
        cluster_centre=centre,
        cluster_radius_m=radius,
    )


def _add_at(index: Ints, values: Floats, size: int) -> Floats:
    return np.stack([np.bincount(index, weights=values[:, c], minlength=size) for c in range(3)], axis=1)


def _unit(vectors: Floats) -> Floats:
    return np.asarray(vectors / np.maximum(np.linalg.norm(vectors, axis=-1, keepdims=True), 1e-30))
