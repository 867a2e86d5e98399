"""Reduce a mesh to fewer triangles and measure how far its surface moved."""

from __future__ import annotations

from dataclasses import dataclass

import manifold3d
import numpy as np
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene
from scipy.spatial import cKDTree
from trimesh.triangles import closest_point

from sim.pieces.body import Colours, Faces, Floats
from sim.pieces.collapsing import collapse_edges
from sim.units import MM_PER_M

MOST_TRIANGLES = 150_000  # of a piece's body
MOST_ERROR_M = 0.05e-3
DISPLAY_TRIANGLES = 4_000
SAMPLE = 20_000  # vertices of a first, quick look at the error
NEAREST = 24  # vertices whose triangles are looked at where a ray found nothing near
CHUNK = 50_000
RAY_LEAD_M = 0.2e-3


@dataclass(frozen=True, slots=True, eq=False)
class Reduced:
    """A mesh with fewer triangles."""

    vertices_m: Floats  # (n, 3)
    faces: Faces  # (m, 3)
    colours: Colours | None  # (n, 3)
    error_m: float  # no vertex of either mesh is farther than this from the other's surface


def reduce_body(vertices_m: Floats, faces: Faces, colours: Colours | None) -> Reduced | None:
    """Reduce a closed mesh to 150,000 triangles, or to as many more as 0.05 mm of error take.

    Returns
    -------
    Reduced or None
        Closed and manifold. None where not even half of the triangles can go.
    """
    target = MOST_TRIANGLES
    while target <= len(faces) // 2 or target == MOST_TRIANGLES:
        made = _proved(*_simplified(vertices_m, faces, target))
        if made is not None:
            error_m = surface_error(vertices_m, faces, *made)
            if error_m <= MOST_ERROR_M:
                return Reduced(*made, colours_from(vertices_m, colours, made[0]), error_m)
        target *= 2
    return None


def reduce_for_display(
    vertices_m: Floats, faces: Faces, colours: Colours | None, triangles: int = DISPLAY_TRIANGLES
) -> Reduced:
    """Reduce a mesh to about so many triangles for drawing; it need not be closed."""
    if len(faces) <= triangles:
        return Reduced(vertices_m, faces, colours, 0.0)
    reduced_m, corners = _simplified(vertices_m, faces, triangles)
    return Reduced(reduced_m, corners, colours_from(vertices_m, colours, reduced_m), float("nan"))


def _simplified(vertices_m: Floats, faces: Faces, target: int) -> tuple[Floats, Faces]:
    """About `target` triangles of a mesh."""
    points_mm, corners = collapse_edges(vertices_m * MM_PER_M, faces, target)
    return points_mm / MM_PER_M, corners


def _proved(vertices_m: Floats, faces: Faces) -> tuple[Floats, Faces] | None:
    """The same mesh as manifold3d sees it, or None when it is no manifold any more."""
    solid = manifold3d.Manifold(
        manifold3d.Mesh64(np.ascontiguousarray(vertices_m), np.ascontiguousarray(faces, dtype=np.uint64))
    )
    if solid.status() != manifold3d.Error.NoError or solid.is_empty():
        return None
    mesh = solid.to_mesh64()
    return np.ascontiguousarray(np.asarray(mesh.vert_properties)[:, :3]), np.asarray(mesh.tri_verts).astype(np.int32)


def surface_error(vertices_m: Floats, faces: Faces, reduced_m: Floats, reduced_faces: Faces) -> float:
    """Bound the distance from the vertices of either mesh to the surface of the other.

    What it finds for a vertex is its distance from a certain point of the other surface: the true
    distance or more, never less. A first look at some of the vertices ends early when they fail.

    Returns
    -------
    float
        Metres; where above 0.05 mm, of the first vertices that were looked at.
    """
    normals = _vertex_normals(vertices_m, faces)
    step = max(1, len(vertices_m) // SAMPLE)
    error_m = _farthest(vertices_m[::step], normals[::step], reduced_m, reduced_faces)
    if error_m > MOST_ERROR_M:
        return error_m
    return max(
        _farthest(vertices_m, normals, reduced_m, reduced_faces),
        _farthest(reduced_m, _vertex_normals(reduced_m, reduced_faces), vertices_m, faces),
    )


def _vertex_normals(vertices_m: Floats, faces: Faces) -> Floats:
    """Unit normals at the vertices, each face weighing as much as its area."""
    normals = np.zeros_like(vertices_m)
    a, b, c = (vertices_m[faces[:, corner]] for corner in range(3))
    across = np.cross(b - a, c - a)
    for axis in range(3):
        for corner in range(3):
            normals[:, axis] += np.bincount(faces[:, corner], weights=across[:, axis], minlength=len(vertices_m))
    lengths = np.linalg.norm(normals, axis=1, keepdims=True)
    units: Floats = normals / np.where(lengths > 0.0, lengths, 1.0)
    return units


def _farthest(points_m: Floats, normals: Floats, vertices_m: Floats, faces: Faces) -> float:
    """Largest distance from the points to the surface, sought along their normals first."""
    middle_m = (vertices_m.min(axis=0) + vertices_m.max(axis=0)) / 2.0
    scene = EmbreeScene()
    # the ray caster keeps no hold of its mesh
    mesh = TriangleMesh(scene, (vertices_m - middle_m).astype(np.float32)[faces])
    search: _NearTriangles | None = None
    farthest_m = 0.0
    for begin in range(0, len(points_m), CHUNK):
        part = slice(begin, begin + CHUNK)
        least_m = np.full(len(points_m[part]), np.inf)
        for way in (normals[part], -normals[part]):
            # from a little before the point, so that a surface on either side of it is met
            starts = points_m[part] - middle_m - RAY_LEAD_M * way
            hits = scene.run(starts.astype(np.float32), way.astype(np.float32), query="DISTANCE")
            least_m = np.minimum(least_m, np.abs(np.asarray(hits, dtype=np.float64) - RAY_LEAD_M))
        doubtful = np.flatnonzero(least_m > MOST_ERROR_M / 2.0)
        if len(doubtful):
            search = search or _NearTriangles(vertices_m, faces)
            least_m[doubtful] = np.minimum(least_m[doubtful], search.distances(points_m[part][doubtful]))
        farthest_m = max(farthest_m, float(least_m.max()))
    del mesh
    return farthest_m


class _NearTriangles:
    """Finds distances to the triangles about the nearest vertices."""

    def __init__(self, vertices_m: Floats, faces: Faces) -> None:
        self.vertices_m, self.faces = vertices_m, faces
        self.order = np.argsort(faces.reshape(-1), kind="stable") // 3
        self.counts = np.bincount(faces.reshape(-1), minlength=len(vertices_m))
        self.starts = np.cumsum(self.counts) - self.counts
        self.tree = cKDTree(vertices_m)

    def distances(self, points_m: Floats) -> Floats:
        """Distance of each point, (n,), from the nearest of the triangles looked at."""
        near = np.asarray(self.tree.query(points_m, k=NEAREST)[1]).reshape(-1)
        many = self.counts[near]
        within = np.arange(many.sum()) - np.repeat(np.cumsum(many) - many, many)
        triangles_m = self.vertices_m[self.faces[self.order[np.repeat(self.starts[near], many) + within]]]
        point = np.repeat(np.arange(len(points_m)).repeat(NEAREST), many)
        there_m = points_m[point]
        apart_m = np.linalg.norm(closest_point(triangles_m, there_m) - there_m, axis=1)
        least_m = np.full(len(points_m), np.inf)
        np.minimum.at(least_m, point, apart_m)
        return least_m


def colours_from(vertices_m: Floats, colours: Colours | None, reduced_m: Floats) -> Colours | None:
    """Colours of the reduced vertices: those of the nearest original vertices."""
    return None if colours is None else colours[cKDTree(vertices_m).query(reduced_m)[1]]
