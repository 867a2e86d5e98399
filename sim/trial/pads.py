"""Exact bearing in a trial: small pads where the true surfaces touch, on parts drawn in around them.

Convex parts bulge by a millimetre or two and so move a stone's three points of support by centimetres:
what stands then tips. With pads a piece bears exactly where it does on the true meshes. Everything else is drawn
in by what it bulges, so nothing but true contacts can hold a piece up; a piece that is really caught by a
surface a little farther away goes on falling. Pads never add support that the contacts do not have: the upper
one ends at the outline of the touch, and the lower one is wider only so that it still bears while the piece drifts.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull, QhullError, cKDTree
from trimesh import Trimesh
from trimesh.sample import sample_surface

from sim.contact import Contacts
from sim.pieces.body import Body
from sim.pieces.cache import Recent
from sim.trial.engine import Floats, TrialBody
from sim.trial.near import smaller

WIDER_M = 0.0035  # of the lower pad: a little more than a piece may drift
FOOT_M = 0.001  # half width of a pad's back, where a point or a line bears
DEEP_M = 0.005  # so far a pad reaches into the stone
NARROWER = 0.6  # a pad's back against its bearing face
SPARE_M = 0.001  # drawn in beyond what a part sticks out
SPREAD = 20_000  # points on the true surface, by which that is measured
SEED = 1
DRAWN_TIMES = 8

Part = tuple[Floats, NDArray[np.int32]]


def on_pads(bodies: Sequence[TrialBody], shapes: Sequence[Body], contacts: Contacts) -> tuple[TrialBody, ...]:
    """The same bodies, bearing on pads at the contacts and drawn in elsewhere.

    Parameters
    ----------
    bodies : n of them with their convex parts
    shapes : (n,) their true meshes, in the same frames
    contacts : at the bodies' poses; base and panes need no pads, they are flat
    """
    made: list[list[Part]] = [[] for _ in bodies]
    order = np.argsort(contacts.patch, kind="stable")
    starts = np.flatnonzero(np.diff(contacts.patch[order], prepend=-1))
    for rows in np.split(order, starts[1:]) if len(order) else []:
        corners_m, normal = contacts.point_m[rows], contacts.normal[rows].mean(axis=0)
        normal = normal / np.linalg.norm(normal)
        for index, inward, wider_m in ((contacts.a[rows[0]], normal, 0.0), (contacts.b[rows[0]], -normal, WIDER_M)):
            part = _pad(corners_m, inward, wider_m, bodies[index]) if index >= 0 else None
            if part is not None:
                made[index].append(part)
    return tuple(
        replace(body, parts=(*_kept(body.parts, shape), *own), error_m=SPARE_M)
        for body, shape, own in zip(bodies, shapes, made, strict=True)
    )


_KEPT: Recent[tuple[Part, ...]] = Recent(256)


def _kept(parts: tuple[Part, ...], shape: Body) -> tuple[Part, ...]:
    """Parts drawn in, or found again: they are the same in every water."""
    digest = hashlib.sha256(shape.content_hash().encode())
    for vertices_m, _ in parts:
        digest.update(np.ascontiguousarray(vertices_m).tobytes())
    return _KEPT.get(digest.hexdigest(), lambda: _drawn_in(parts, shape))


def _drawn_in(parts: tuple[Part, ...], shape: Body) -> tuple[Part, ...]:
    """Convex parts, each made smaller by what it sticks out of the true surface, and a little more."""
    true = Trimesh(shape.vertices_m, shape.faces, process=False)
    spread_m, owners = sample_surface(true, SPREAD, seed=SEED)
    normals, tree = np.asarray(true.face_normals)[owners], cKDTree(spread_m)

    def outside_m(vertices_m: Floats, faces: NDArray[np.int32]) -> float:
        triangles = vertices_m[faces]
        edges = (triangles + np.roll(triangles, 1, axis=1)).reshape(-1, 3) / 2.0
        points = np.vstack([vertices_m, triangles.mean(axis=1), edges])
        near = tree.query(points)[1]
        return float(np.einsum("ki,ki->k", points - spread_m[near], normals[near]).max())

    made = []
    for vertices_m, faces in parts:
        now, by_m = vertices_m, 0.0
        for _ in range(DRAWN_TIMES):  # a corner far from the part's axes comes in by less than asked
            out_m = outside_m(now, faces)
            if out_m <= -SPARE_M / 2.0:
                break
            by_m += out_m + SPARE_M
            now = smaller(vertices_m, by_m)
        if outside_m(now, faces) <= 0.0:  # else a sliver that lies outside the stone altogether
            made.append((now, faces))
    return tuple(made) or parts


def _pad(corners_m: Floats, inward: Floats, wider_m: float, body: TrialBody) -> Part | None:
    """Hull of a bearing face and a narrower back inside the body."""
    middle = corners_m.mean(axis=0)
    away = corners_m - middle
    away -= np.outer(away @ inward, inward)  # the face is flat: corners lie within microns of it
    one = np.cross(inward, np.eye(3)[np.abs(inward).argmin()])
    one /= np.linalg.norm(one)
    square = np.array([x * one + y * np.cross(inward, one) for x in (-1.0, 1.0) for y in (-1.0, 1.0)])
    face = [middle + away] if wider_m == 0.0 else [middle + each * wider_m + away for each in square]
    back = middle + DEEP_M * inward + np.vstack([NARROWER * away, FOOT_M * square])
    points = (np.vstack([*face, back]) - body.position_m) @ body.rotation
    try:
        hull: Any = ConvexHull(points)
    except QhullError:
        return None
    number = np.full(len(points), -1)
    number[hull.vertices] = np.arange(len(hull.vertices))
    faces, middle_m = number[hull.simplices], points[hull.vertices].mean(axis=0)
    vertices = points[hull.vertices]
    a, b, c = vertices[faces[:, 0]], vertices[faces[:, 1]], vertices[faces[:, 2]]
    turned = np.einsum("ki,ki->k", np.cross(b - a, c - a), a - middle_m) < 0.0
    faces[turned] = faces[turned][:, ::-1]
    return np.asarray(vertices, dtype=np.float64), faces.astype(np.int32)
