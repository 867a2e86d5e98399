"""Convex parts of a piece for the dynamic trial, with the error that they make.

Rigid-body engines collide convex shapes only. Contacts and rest poses are never taken from these parts: they
stick out of the true surface by a millimetre or so, and the error stated here says by how much.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from concurrent.futures import as_completed
from dataclasses import dataclass
from typing import Any, NamedTuple

import coacd
import manifold3d
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from trimesh import Trimesh
from trimesh.sample import sample_surface
from trimesh.triangles import closest_point

from sim.pieces.body import Body, Faces, Floats
from sim.pieces.cache import keep, recall
from sim.pieces.collapsing import collapse_edges
from sim.threads import threads

WHOLE_EXCESS = 0.01  # a hull that holds this much more than the piece, or
WHOLE_DISTANCE_M = 0.5e-3  # lies within this of 95 % of its surface, beats what parts achieve (about 1 mm)
# Split no finer once 95 % of the surface is within WANTED_M, or within NEARLY_M with ENOUGH_PARTS, or where the next
# step would make more than MOST_PARTS: it would take long and slow the engine down.
WANTED_M = 2.0e-3
NEARLY_M = 3.0e-3
ENOUGH_PARTS = 24
MOST_PARTS = 60
MOST_STEPS = 3
COARSEST = 0.07  # of coacd's own measure, a share of the size
FINEST_FIRST = 0.045  # for large pieces, of which many are plain: the error tells after one step
FIRST_STEP = 3.6  # concavity of the first step over WANTED_M / size: measured on 82 scanned stones, most need no other
HOLLOW = 0.06  # of the size between hull and 95 % of the surface, as in branches: cuts are planned one further ahead
SHRINK = (0.55, 0.85)  # least and most of one concavity over the last; the error falls about in proportion
FACES_TO_SPLIT = 600
MOST_HULL_VERTICES = 256  # of one part; engines slow down beyond
SEED = 1
SAMPLES = 4000  # points on each surface where the error is measured
SPREAD = 20_000  # points on the other surface among which the nearest triangles are sought
NEAREST = 24  # of them; a triangle missed makes the stated error larger, never smaller
SEAM = 1.001
THIN = 1.0e-4  # of the piece's size
KIND = "convex-4"  # change it with anything above: older entries are then no longer found

# less search than coacd's own settings: about a tenth of the time; a slightly finer concavity makes up for it
EFFORT = {"mcts_nodes": 10, "mcts_iterations": 20, "resolution": 300, "merge": False}

# here, where one thread at a time comes by: the library aborts when two of them open its log at once
coacd.set_log_level("off")


class ConvexPart(NamedTuple):
    """One closed convex mesh in the body's frame."""

    vertices_m: Floats  # (n, 3)
    faces: Faces  # (m, 3), counter-clockwise seen from outside


class SurfaceError(NamedTuple):
    """Distance between the piece's surface and that of the union of its parts.

    Sampled on both surfaces, each point to the nearest point of the other one; the larger of the two ways.
    """

    median_m: float
    most_m: float  # 95 % of the surface
    max_m: float


@dataclass(frozen=True, slots=True, eq=False)
class ConvexParts:
    """A piece as an engine sees it."""

    parts: tuple[ConvexPart, ...]
    surface_error_m: SurfaceError
    whole: bool  # one part, near enough to the piece's hull


def convex_parts(body: Body) -> ConvexParts:
    """Split a piece into convex parts, or keep its hull where the piece is nearly convex.

    A hull serves when it holds at most 1 % more than the piece or 95 % of the surface lies within 0.5 mm of
    it. Otherwise coacd splits a reduction of the mesh at a concavity chosen by its size, and up to twice more at
    a finer one chosen by the error, until 95 % of the surface lies within 2 mm, or within 3 mm with at least 24
    parts, or a finer step would make more than about 60. Deterministic, and kept in the cache.

    References
    ----------
    Wei, X., Liu, M., Ling, Z. & Su, H. (2022). Approximate convex decomposition for 3D meshes with
    collision-aware concavity and tree search. ACM Trans. Graphics 41(4), 42.
    """
    key = body.content_hash()
    kept = _unpacked(recall(KIND, key))
    if kept is not None:
        return kept
    made = _make(body)
    keep(KIND, key, _packed(made))
    return made


def convex_parts_all(
    bodies: Iterable[Body], progress: Callable[[int, int], None] | None = None, workers: int | None = None
) -> list[ConvexParts]:
    """Convex parts of many pieces, worked out side by side; equal bodies only once.

    Parameters
    ----------
    bodies : iterable of Body
    progress : callable or None
        Called with (bodies done, bodies in all) in this thread.
    workers : int or None
        Threads; None: one per core. The native code runs outside Python's lock.
    """
    keys: list[str] = []
    different: dict[str, Body] = {}
    for body in bodies:
        keys.append(body.content_hash())
        different.setdefault(keys[-1], body)
    made: dict[str, ConvexParts] = {}
    with threads(workers) as pool:
        running = {pool.submit(convex_parts, body): key for key, body in different.items()}
        for finished in as_completed(running):
            made[running[finished]] = finished.result()
            if progress is not None:
                progress(sum(key in made for key in keys), len(keys))
    return [made[key] for key in keys]


def surface_error(body: Body, parts: Iterable[ConvexPart]) -> SurfaceError:
    """Measure how far the union of convex parts lies from the surface of a body."""
    true = Trimesh(body.vertices_m, body.faces, process=False)
    union = _union(parts)
    ways = [_distances(true, union), _distances(union, true)]
    return SurfaceError(*(max(float(np.quantile(way, share)) for way in ways) for share in (0.5, 0.95, 1.0)))


def _make(body: Body) -> ConvexParts:
    hull = _hull(body.vertices_m)
    excess = Trimesh(*hull, process=False).volume / body.volume_m3 - 1.0
    error = surface_error(body, [hull])
    if excess <= WHOLE_EXCESS or error.most_m <= WHOLE_DISTANCE_M:
        return ConvexParts((hull,), error, whole=True)
    reduced = _reduced(body)
    size_m = float(np.ptp(body.vertices_m, axis=0).max())
    hollow = error.most_m > HOLLOW * size_m
    concavity = COARSEST if hollow else float(np.clip(FIRST_STEP * WANTED_M / size_m, FINEST_FIRST, COARSEST))
    for _ in range(MOST_STEPS):
        parts = _split(*reduced, concavity, 2 if hollow else 1) or (hull,)
        error = surface_error(body, parts)
        shrink = float(np.clip(WANTED_M / error.most_m, *SHRINK))
        near_m = NEARLY_M if len(parts) >= ENOUGH_PARTS else WANTED_M
        # parts grow about as the concavity falls
        if error.most_m <= near_m or len(parts) > MOST_PARTS * shrink:
            break
        concavity *= shrink
    return ConvexParts(parts, error, whole=len(parts) == 1)


def _split(vertices_m: Floats, faces: Faces, closed: bool, concavity: float, ahead: int) -> tuple[ConvexPart, ...]:
    """Parts of a mesh that is not convex."""
    # coacd remeshes what is not closed into ten times as many triangles; a closed mesh need not pay for it
    preparing = {"preprocess_mode": "off"} if closed else {"preprocess_mode": "on", "preprocess_resolution": 30}
    found = coacd.run_coacd(
        coacd.Mesh(vertices_m, faces),
        threshold=concavity,
        max_ch_vertex=MOST_HULL_VERTICES,
        mcts_max_depth=ahead,
        seed=SEED,
        **EFFORT,
        **preparing,
    )
    # slivers of no volume carry nothing and upset engines
    thin_m = THIN * float(np.ptp(vertices_m, axis=0).max())
    solid = [
        points for points, _ in found if np.linalg.svd(points - points.mean(axis=0), compute_uv=False)[-1] > thin_m
    ]
    return tuple(_hull(np.asarray(points, dtype=np.float64)) for points in solid)


def _reduced(body: Body) -> tuple[Floats, Faces, bool]:
    """A light version of a body's mesh, and whether it is closed with two triangles to every edge."""
    if len(body.faces) <= FACES_TO_SPLIT:
        return body.vertices_m, body.faces, True
    vertices_m, faces = collapse_edges(body.vertices_m, body.faces, FACES_TO_SPLIT)
    solid = _solid(vertices_m, faces)
    if solid.status() != manifold3d.Error.NoError:
        return vertices_m, faces, False
    mesh = solid.to_mesh64()  # where four triangles met at an edge, it is now two edges
    vertices_m = np.ascontiguousarray(np.asarray(mesh.vert_properties)[:, :3])
    return vertices_m, np.asarray(mesh.tri_verts).astype(np.int32), True


def _solid(vertices_m: Floats, faces: Faces) -> manifold3d.Manifold:
    points = np.ascontiguousarray(vertices_m, dtype=np.float64)
    return manifold3d.Manifold(manifold3d.Mesh64(points, np.ascontiguousarray(faces, dtype=np.uint64)))


def _hull(vertices_m: Floats) -> ConvexPart:
    """Convex hull, reduced to about 256 vertices."""
    hull = Trimesh(vertices_m, process=False).convex_hull
    if len(hull.vertices) > MOST_HULL_VERTICES:
        triangles = 2 * MOST_HULL_VERTICES - 4  # of a closed mesh of so many vertices
        light_m, _ = collapse_edges(np.asarray(hull.vertices), hull.faces, triangles)
        hull = Trimesh(light_m, process=False).convex_hull
    return ConvexPart(np.array(hull.vertices, dtype=np.float64), np.array(hull.faces, dtype=np.int32))


def _union(parts: Iterable[ConvexPart]) -> Trimesh:
    """Surface of the union of convex parts.

    Neighbours meet in a cut, and hairline gaps along it would count as surface deep inside the
    piece: each of several parts is taken 0.1 % larger about its middle, some 0.02 mm, which closes them.
    """
    parts, solids = tuple(parts), []
    growth = SEAM if len(parts) > 1 else 1.0
    for vertices_m, faces in parts:
        middle_m = vertices_m.mean(axis=0)
        solids.append(_solid(middle_m + growth * (vertices_m - middle_m), faces))
    mesh = manifold3d.Manifold.batch_boolean(solids, manifold3d.OpType.Add).to_mesh64()
    return Trimesh(np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts), process=False)


def _distances(there: Trimesh, surface: Trimesh) -> Floats:
    """Distance of points spread over the mesh `there` from the mesh `surface`, metres."""
    points_m = np.asarray(sample_surface(there, SAMPLES, seed=SEED)[0])
    spread_m, owners = sample_surface(surface, SPREAD, seed=SEED)
    near = owners[cKDTree(spread_m).query(points_m, k=NEAREST)[1]]
    # the nearest points of one point lie on a few triangles only: each of these is measured once
    pairs = np.unique(np.arange(SAMPLES)[:, None] * len(surface.faces) + near)
    who, which = np.divmod(pairs, len(surface.faces))
    gaps_m = np.linalg.norm(closest_point(np.asarray(surface.triangles)[which], points_m[who]) - points_m[who], axis=1)
    return np.asarray(np.minimum.reduceat(gaps_m, np.searchsorted(who, np.arange(SAMPLES))), dtype=np.float64)


def _packed(made: ConvexParts) -> dict[str, NDArray[Any]]:
    return {
        "vertices_m": np.concatenate([part.vertices_m for part in made.parts]),
        "faces": np.concatenate([part.faces for part in made.parts]),
        "counts": np.array([[len(part.vertices_m), len(part.faces)] for part in made.parts]),
        "surface_error_m": np.array(made.surface_error_m),
        "whole": np.array(made.whole),
    }


def _unpacked(arrays: dict[str, NDArray[Any]] | None) -> ConvexParts | None:
    """The reverse of `_packed`; None when it does not fit together."""
    if arrays is None:
        return None
    try:
        at = np.cumsum(arrays["counts"], axis=0)[:-1]
        vertices = np.split(arrays["vertices_m"], at[:, 0])
        faces = np.split(arrays["faces"], at[:, 1])
        parts = tuple(ConvexPart(*pair) for pair in zip(vertices, faces, strict=True))
        error = SurfaceError(*(float(value) for value in arrays["surface_error_m"]))
        return ConvexParts(parts, error, bool(arrays["whole"]))
    except (KeyError, ValueError, TypeError, IndexError):
        return None
