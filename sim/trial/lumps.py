"""Glued pieces as one body, and where its members are when the body has moved."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from sim.trial.engine import Floats, Ints, Pressing, TrialBody, TrialSetup


@dataclass(frozen=True, slots=True, eq=False)
class Lumps:
    """A setup without glue, whose bodies are the lumps of n pieces."""

    setup: TrialSetup
    lump: Ints  # (n,) of each piece
    turn: Floats  # (n, 3, 3) of the piece in its lump's frame
    offset_m: Floats  # (n, 3) of the piece's centre in its lump's frame
    corners_m: Floats  # (n, 8, 3) of the piece's bounding box in its own frame

    def pieces(self, rotation: Floats, position_m: Floats) -> tuple[Floats, Floats]:
        """Rotations (n, 3, 3) and centres (n, 3) of the pieces from those of the lumps."""
        of_lump = rotation[self.lump]
        return of_lump @ self.turn, position_m[self.lump] + np.einsum("nij,nj->ni", of_lump, self.offset_m)

    def corners(self, rotation: Floats, position_m: Floats) -> Floats:
        """Corners (n, 8, 3) of the pieces in the tank, from the poses of the lumps."""
        turned, centre = self.pieces(rotation, position_m)
        return np.asarray(centre[:, None] + np.einsum("nij,nkj->nki", turned, self.corners_m), dtype=np.float64)

    def base_forces(self, pressing: Pressing, rotation: Floats, position_m: Floats) -> Floats:
        """Forces (n, 3) of the pieces on the base; in a lump each point belongs to the piece nearest to it."""
        forces = np.zeros((len(self.lump), 3))
        if not len(pressing.body):
            return forces
        corners = self.corners(rotation, position_m)
        low, high = corners.min(axis=1), corners.max(axis=1)
        away = np.maximum(low[None] - pressing.point_m[:, None], pressing.point_m[:, None] - high[None]).clip(min=0.0)
        distance = np.linalg.norm(away, axis=2)
        distance[self.lump[None, :] != pressing.body[:, None]] = np.inf
        np.add.at(forces, distance.argmin(axis=1), pressing.force_n)
        return forces


def lumped(setup: TrialSetup) -> Lumps:
    """Merge glued pieces: rigid glue that does not break, which the joints' own criterion judges.

    The lowest friction of any member counts for the lump. What is glued to a fixed piece or a box is fixed.
    """
    bodies, count = setup.bodies, len(setup.bodies)
    lump, grounded = _labels(setup)
    made: list[TrialBody] = []
    members = [np.flatnonzero(lump == label) for label in range(int(lump.max(initial=-1)) + 1)]
    for own, fixed in zip(members, grounded, strict=True):
        alone = len(own) == 1
        made.append(
            replace(bodies[own[0]], fixed=bool(fixed)) if alone else _merged([bodies[i] for i in own], bool(fixed))
        )
    friction = setup.friction
    rows = np.array([friction[own].min(axis=0) for own in members]).reshape(len(members), friction.shape[1])
    columns = np.array([rows[:, own].min(axis=1) for own in members]).reshape(len(members), len(members)).T
    frames = np.array([body.rotation for body in made]).reshape(-1, 3, 3)
    centres = np.array([body.position_m for body in made]).reshape(-1, 3)
    own_turn = np.array([body.rotation for body in bodies]).reshape(-1, 3, 3)
    away = np.array([body.position_m for body in bodies]).reshape(-1, 3) - centres[lump]
    back = frames[lump].transpose(0, 2, 1)
    return Lumps(
        setup=replace(setup, bodies=tuple(made), friction=np.hstack([columns, rows[:, count:]]), glued=()),
        lump=lump,
        turn=back @ own_turn,
        offset_m=np.einsum("nij,nj->ni", back, away),
        corners_m=np.array([_box_corners(body) for body in bodies]).reshape(-1, 8, 3),
    )


def _labels(setup: TrialSetup) -> tuple[Ints, np.ndarray[tuple[int], np.dtype[np.bool_]]]:
    """Lump of each body, and whether each lump is fixed."""
    count = len(setup.bodies)
    free_pairs = [pair for pair in setup.glued if max(pair) < count]
    a, b = np.array(free_pairs, dtype=np.int64).reshape(-1, 2).T
    number, found = connected_components(coo_array((np.ones(len(a)), (a, b)), shape=(count, count)), directed=False)
    # lumps in the order of their first members, so that a setup without glue keeps its order
    _, first, label = np.unique(found, return_index=True, return_inverse=True)
    lump = np.argsort(np.argsort(first))[label].astype(np.int64)
    grounded = np.zeros(number, dtype=np.bool_)
    held = [i for i, body in enumerate(setup.bodies) if body.fixed]
    held += [min(pair) for pair in setup.glued if max(pair) >= count]
    grounded[lump[held]] = True
    return lump, grounded


def _merged(members: list[TrialBody], fixed: bool) -> TrialBody:
    """One body of several, its axes along the tank's."""
    masses = np.array([body.mass_kg for body in members])
    centre = masses @ np.array([body.position_m for body in members]) / masses.sum()
    inertia = np.zeros((3, 3))
    parts, forces, points = [], [], []
    errors = [body.error_m for body in members]
    for body in members:
        away = body.position_m - centre
        inertia += body.rotation @ body.inertia_kg_m2 @ body.rotation.T
        inertia += body.mass_kg * (away @ away * np.eye(3) - np.outer(away, away))
        parts += [(vertices @ body.rotation.T + away, faces) for vertices, faces in body.parts]
        forces.append(body.forces_n)
        points.append(body.forces_at_m @ body.rotation.T + away)
    return TrialBody(
        name=" + ".join(body.name for body in members),
        parts=tuple(parts),
        mass_kg=float(masses.sum()),
        inertia_kg_m2=inertia,
        rotation=np.eye(3),
        position_m=centre,
        fixed=fixed,
        forces_n=np.concatenate(forces),
        forces_at_m=np.concatenate(points),
        error_m=None if None in errors else max(error for error in errors if error is not None),
    )


def _box_corners(body: TrialBody) -> Floats:
    points = np.concatenate([vertices for vertices, _ in body.parts])
    low, high = points.min(axis=0), points.max(axis=0)
    picks = np.array(np.meshgrid([0, 1], [0, 1], [0, 1], indexing="ij")).reshape(3, 8).T
    return np.asarray(np.where(picks == 1, high, low), dtype=np.float64)
