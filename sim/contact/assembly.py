"""Pieces standing together: their surfaces in one set of arrays, their poses, what is fixed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sim.contact.surface import Samples, Surface, surface_of
from sim.contact.tree import Mesh
from sim.pieces.body import Body

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

BASE = -1  # in the place of a piece's index: the base of the tank
PANES = (-2, -3, -4, -5)  # left, right, front, back
PLANE_NAMES = {BASE: "base", -2: "left pane", -3: "right pane", -4: "front pane", -5: "back pane"}


class Planes(NamedTuple):
    """Base and panes as half-spaces; plane k has the index -1 - k wherever a piece could stand."""

    normal: Floats  # (p, 3) into the tank
    offset_m: Floats  # (p,) normal . x = offset on the plane


class Bodies(NamedTuple):
    """Where each piece finds its own part of the shared arrays."""

    root: Ints  # (n,) top box in the mesh tree
    cluster_start: Ints  # (n,)
    cluster_end: Ints  # (n,)
    low: Floats  # (n, 3) of the body in its own frame
    high: Floats  # (n, 3)
    radius: Floats  # (n,)


@dataclass(frozen=True, slots=True, eq=False)
class Assembly:
    """Shapes and masses of pieces that may touch; poses are handed to the functions beside it."""

    mesh: Mesh
    samples: Samples
    bodies: Bodies
    planes: Planes
    mass_kg: Floats  # (n,)
    inertia_kg_m2: Floats  # (n, 3, 3) about the centre of volume, in the body's frame
    fixed: NDArray[np.bool_]  # (n,)
    friction: Floats  # (n, n + p): against pieces, then against planes in their order


@dataclass(frozen=True, slots=True, eq=False)
class Poses:
    """Rotation and position of each piece's own frame in the tank's frame."""

    rotation: Floats  # (n, 3, 3)
    position_m: Floats  # (n, 3)


def tank_planes(inner_m: Floats | None, floor_m: float = 0.0) -> Planes:
    """The base at height `floor_m` and, for a tank of inner size (3,), its four panes."""
    normals, offsets = [[0.0, 0.0, 1.0]], [floor_m]
    if inner_m is not None:
        normals += [[1.0, 0, 0], [-1.0, 0, 0], [0, 1.0, 0], [0, -1.0, 0]]
        offsets += [0.0, -float(inner_m[0]), 0.0, -float(inner_m[1])]
    return Planes(np.array(normals), np.array(offsets))


def assemble(
    bodies: list[Body],
    mass_kg: Floats,
    friction: Floats,
    planes: Planes,
    fixed: NDArray[np.bool_] | None = None,
) -> Assembly:
    """Gather bodies for contact; a body that occurs often is stored once.

    Parameters
    ----------
    bodies : list of n Body
    mass_kg : (n,) positive
    friction : (n, n + p) coefficients against pieces and planes, symmetric in the pieces
    planes : Planes
    fixed : (n,) bool, default none: immovable supports
    """
    count = len(bodies)
    if count:
        from sim.contact.ahead import compile_ahead  # which imports this module

        compile_ahead()
    surfaces = [surface_of(body) for body in bodies]
    distinct = list({id(surface): surface for surface in surfaces}.values())
    slot = {id(surface): k for k, surface in enumerate(distinct)}
    which = np.array([slot[id(surface)] for surface in surfaces], dtype=np.int64)
    mesh, roots = _joined_meshes(distinct)
    samples, starts, ends = _joined_samples(distinct)
    mass = np.asarray(mass_kg, dtype=np.float64)
    scale = np.array([m / body.volume_m3 for m, body in zip(mass, bodies, strict=True)])
    none = np.zeros((0, 3))
    return Assembly(
        mesh=mesh,
        samples=samples,
        bodies=Bodies(
            root=roots[which],
            cluster_start=starts[which],
            cluster_end=ends[which],
            low=np.array([surface.low_m for surface in surfaces]) if count else none,
            high=np.array([surface.high_m for surface in surfaces]) if count else none,
            radius=np.array([surface.radius_m for surface in surfaces]),
        ),
        planes=planes,
        mass_kg=mass,
        inertia_kg_m2=np.array([body.inertia_m5 * s for body, s in zip(bodies, scale, strict=True)]).reshape(-1, 3, 3),
        fixed=np.zeros(count, np.bool_) if fixed is None else np.asarray(fixed, np.bool_),
        friction=np.ascontiguousarray(friction, dtype=np.float64),
    )


def friction_between(assembly: Assembly, a: NDArray[np.int64], b: NDArray[np.int64]) -> Floats:
    """Coefficients (k,) of pairs: a piece and another piece, or a plane's negative index."""
    return assembly.friction[a, np.where(b >= 0, b, len(assembly.mass_kg) - 1 - b)]


def part_of(assembly: Assembly, poses: Poses, chosen: NDArray[np.bool_]) -> tuple[Assembly, Poses]:
    """The chosen pieces (n,) alone, in their order, with their poses; shapes stay shared."""
    if chosen.all():
        return assembly, poses
    keep = np.flatnonzero(chosen)
    planes = np.arange(len(assembly.mass_kg), assembly.friction.shape[1])
    part = Assembly(
        mesh=assembly.mesh,
        samples=assembly.samples,
        bodies=Bodies._make(column[keep] for column in assembly.bodies),
        planes=assembly.planes,
        mass_kg=assembly.mass_kg[keep],
        inertia_kg_m2=assembly.inertia_kg_m2[keep],
        fixed=assembly.fixed[keep],
        friction=np.ascontiguousarray(assembly.friction[np.ix_(keep, np.concatenate([keep, planes]))]),
    )
    return part, Poses(poses.rotation[keep], poses.position_m[keep])


def _joined_meshes(surfaces: list[Surface]) -> tuple[Mesh, Ints]:
    meshes = [surface.mesh for surface in surfaces]
    triangles = _offsets([len(mesh.corners) for mesh in meshes])
    vertices = _offsets([len(mesh.vertex_normal) for mesh in meshes])
    boxes = _offsets([len(mesh.child) for mesh in meshes])
    moved = [
        mesh._replace(
            vertex=mesh.vertex + v,
            child=np.where(mesh.child < 0, -1, mesh.child + k).astype(np.int32),
            start=mesh.start + t,
            end=mesh.end + t,
        )
        for mesh, t, v, k in zip(meshes, triangles, vertices, boxes, strict=False)
    ]
    if not moved:
        return _EMPTY_MESH, boxes[:-1]
    return Mesh(*(np.concatenate(column) for column in zip(*moved, strict=True))), boxes[:-1]


def _joined_samples(surfaces: list[Surface]) -> tuple[Samples, Ints, Ints]:
    parts = [surface.samples for surface in surfaces]
    points = _offsets([len(part.point) for part in parts])
    clusters = _offsets([len(part.cluster_start) for part in parts])
    moved = [
        part._replace(cluster_start=part.cluster_start + p, cluster_end=part.cluster_end + p)
        for part, p in zip(parts, points, strict=False)
    ]
    if not moved:
        return _EMPTY_SAMPLES, clusters[:-1], clusters[1:]
    return Samples(*(np.concatenate(column) for column in zip(*moved, strict=True))), clusters[:-1], clusters[1:]


def _offsets(counts: list[int]) -> Ints:
    return np.cumsum([0, *counts]).astype(np.int32)


_NO_POINTS, _NO_INTS = np.zeros((0, 3)), np.zeros(0, np.int32)
_EMPTY_MESH = Mesh(
    np.zeros((0, 3, 3)), np.zeros((0, 3), np.int32), _NO_POINTS, np.zeros((0, 3, 3)), _NO_POINTS, _NO_POINTS,
    _NO_POINTS, _NO_INTS, _NO_INTS, _NO_INTS,
)  # fmt: skip
_EMPTY_SAMPLES = Samples(
    _NO_POINTS, _NO_POINTS, np.zeros(0), _NO_INTS, np.zeros((0, 2, 3)), _NO_INTS, _NO_INTS, _NO_POINTS, np.zeros(0)
)
