"""pybullet, set for stones of 2 to 30 cm: the second opinion. Wheels exist for CPython 3.11 only.

References
----------
Coumans, E. & Bai, Y. (2016-2021). PyBullet, a Python module for physics simulation (quickstart guide).
"""

from __future__ import annotations

import os
import sys
import tempfile
from pathlib import Path
from types import ModuleType, TracebackType
from typing import Any, Self

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import coo_array

from sim.pieces.turning import rotation_from_quaternion
from sim.trial.engine import EngineTrouble, Floats, Overlaps, Pressing, TrialBody, TrialSetup, World
from sim.trial.near import near_pairs, smaller


def _silently_imported() -> ModuleType:
    """The library prints its build time from C when loaded; reports and pipes must not carry it."""
    sys.stdout.flush()
    sys.stderr.flush()
    kept = [os.dup(1), os.dup(2)]
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        os.dup2(nowhere, 2)
        import pybullet
    finally:
        for number, copy in zip((1, 2), kept, strict=True):
            os.dup2(copy, number)
            os.close(copy)
        os.close(nowhere)
    module: ModuleType = pybullet
    return module


bullet: Any = _silently_imported()

# The hull floats by the margin, so vertices are drawn in by as much. With none, deep contacts are left to a
# rougher test and stacks jitter.
MARGIN_M = 0.0002
HAIR_M = 2.0e-6  # and this, so that surfaces which just touch do not overlap by rounding
ITERATIONS = 200  # of the contact solver,
ITERATIONS_PER_RATIO = 2  # or so many per unit of the largest mass ratio, or heavy stones sink into light ones
MOST_ITERATIONS = 1000
DAMPING = 0.04  # share of speed lost per second, the library's own; a stack of 20 wanders twice as far without
LEAST_FRICTION = 1.0e-4
LOWERED = 0.01  # share by which the friction of a pair may be lowered without a word
TOUCHING_M = 1.0e-9
BASE_BOX = 0


class _BulletWorld:
    """A setup in a client of its own."""

    def __init__(self, setup: TrialSetup, step_s: float) -> None:
        self._setup = setup
        self._free = [i for i, body in enumerate(setup.bodies) if not body.fixed]
        self._pushed = [i for i in self._free if len(setup.bodies[i].forces_n)]
        own, self.notes = _own_friction(setup)
        # bullet takes the inertia along principal axes only: its bodies stand along those
        self._axes = np.array([_principal(body)[1] for body in setup.bodies]).reshape(-1, 3, 3)
        self._client: int = bullet.connect(bullet.DIRECT)
        try:
            self._settings(step_s)
            with tempfile.TemporaryDirectory(prefix="bedjoint-") as folder:
                numbers = [self._add(body, Path(folder) / f"{i}.obj") for i, body in enumerate(setup.bodies)]
            numbers += [self._add_box(box.low_m, box.high_m) for box in setup.boxes]
        except bullet.error as trouble:
            bullet.disconnect(physicsClientId=self._client)
            raise EngineTrouble(f"pybullet refuses the pieces: {trouble}") from trouble
        self._number = numbers
        self._place_of = {number: place for place, number in enumerate(numbers)}
        for number, mu in zip(numbers, own, strict=True):
            bullet.changeDynamics(
                number,
                -1,
                lateralFriction=float(mu),
                rollingFriction=0.0,
                spinningFriction=0.0,
                restitution=0.0,
                collisionMargin=MARGIN_M,
                frictionAnchor=1,
                linearDamping=DAMPING,
                angularDamping=DAMPING,
                activationState=bullet.ACTIVATION_STATE_DISABLE_SLEEPING,
                physicsClientId=self._client,
            )
        self.place(*self._given())

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        bullet.disconnect(physicsClientId=self._client)

    def place(self, rotation: Floats, position_m: Floats) -> None:
        for i in range(len(self._setup.bodies)):
            turn = _quaternion(rotation[i] @ self._axes[i])
            number = self._number[i]
            bullet.resetBasePositionAndOrientation(number, position_m[i].tolist(), turn, physicsClientId=self._client)
        self.calm()

    def calm(self) -> None:
        for i in self._free:
            bullet.resetBaseVelocity(self._number[i], [0, 0, 0], [0, 0, 0], physicsClientId=self._client)

    def poses(self) -> tuple[Floats, Floats]:
        rotation, position_m = self._given()
        for i in self._free:
            at, (x, y, z, w) = bullet.getBasePositionAndOrientation(self._number[i], physicsClientId=self._client)
            position_m[i] = at
            rotation[i] = rotation_from_quaternion((w, x, y, z)) @ self._axes[i].T
        return rotation, position_m

    def advance(self, steps: int) -> None:
        rotation, position_m = self.poses() if self._pushed else self._given()
        for _ in range(steps):
            for i in self._pushed:  # forgotten after every step
                body = self._setup.bodies[i]
                for force, at in zip(body.forces_n, body.forces_at_m @ rotation[i].T + position_m[i], strict=True):
                    bullet.applyExternalForce(
                        self._number[i],
                        -1,
                        force.tolist(),
                        at.tolist(),
                        bullet.WORLD_FRAME,
                        physicsClientId=self._client,
                    )
            bullet.stepSimulation(physicsClientId=self._client)
        if not np.isfinite(self.poses()[1]).all():
            raise EngineTrouble("pybullet lost the thread: its numbers overflowed")

    def overlaps(self) -> Overlaps:
        bullet.performCollisionDetection(physicsClientId=self._client)
        found: list[tuple[int, int, Any, float]] = []
        for contact in bullet.getContactPoints(physicsClientId=self._client):
            a, b = self._place_of[contact[1]], self._place_of[contact[2]]
            depth_m, normal = -contact[8], np.array(contact[7])
            if depth_m > TOUCHING_M and not self._still(a, b):
                found.append((a, b, normal, depth_m) if a < b else (b, a, -normal, depth_m))
        a_, b_, normals, depths = zip(*found, strict=True) if found else ((), (), (), ())
        return Overlaps(
            np.array(a_, dtype=np.int64),
            np.array(b_, dtype=np.int64),
            np.array(normals, dtype=np.float64).reshape(-1, 3),
            np.array(depths, dtype=np.float64),
        )

    def pressing(self) -> Pressing:
        base = self._number[len(self._setup.bodies) + BASE_BOX]
        found = bullet.getContactPoints(bodyB=base, physicsClientId=self._client)
        rows = [
            (
                self._place_of[c[1]],
                c[6],
                np.multiply(c[9], c[7]) + np.multiply(c[10], c[11]) + np.multiply(c[12], c[13]),
            )
            for c in found
        ]
        who, points, forces = zip(*rows, strict=True) if rows else ((), (), ())
        return Pressing(
            np.array(who, dtype=np.int64),
            np.array(points, dtype=np.float64).reshape(-1, 3),
            -np.array(forces, dtype=np.float64).reshape(-1, 3),
        )

    def _still(self, a: int, b: int) -> bool:
        count = len(self._setup.bodies)
        return all(place >= count or self._setup.bodies[place].fixed for place in (a, b))

    def _given(self) -> tuple[Floats, Floats]:
        bodies = self._setup.bodies
        return (
            np.array([body.rotation for body in bodies], dtype=np.float64),
            np.array([body.position_m for body in bodies], dtype=np.float64),
        )

    def _settings(self, step_s: float) -> None:
        bullet.setGravity(*self._setup.gravity_m_s2.tolist(), physicsClientId=self._client)
        bullet.setTimeStep(step_s, physicsClientId=self._client)
        bullet.setPhysicsEngineParameter(
            numSolverIterations=_iterations(self._setup),
            numSubSteps=1,
            solverResidualThreshold=0.0,  # all iterations, always: a stack of 20 comes to rest
            deterministicOverlappingPairs=1,
            physicsClientId=self._client,
        )

    def _add(self, body: TrialBody, path: Path) -> int:
        moments, axes = _principal(body)
        parts = [smaller(vertices_m, MARGIN_M + HAIR_M) @ axes for vertices_m, _ in body.parts]
        if len(parts) == 1:
            shape = bullet.createCollisionShape(
                bullet.GEOM_MESH, vertices=parts[0].tolist(), physicsClientId=self._client
            )
        else:  # only a file can hold several hulls of one body
            path.write_text(_objects(parts, [faces for _, faces in body.parts]))
            shape = bullet.createCollisionShape(bullet.GEOM_MESH, fileName=str(path), physicsClientId=self._client)
        number: int = bullet.createMultiBody(0.0 if body.fixed else body.mass_kg, shape, physicsClientId=self._client)
        if not body.fixed:
            bullet.changeDynamics(number, -1, localInertiaDiagonal=moments.tolist(), physicsClientId=self._client)
        return number

    def _add_box(self, low_m: Floats, high_m: Floats) -> int:
        half, middle = (high_m - low_m) / 2.0, (high_m + low_m) / 2.0
        shape = bullet.createCollisionShape(bullet.GEOM_BOX, halfExtents=half.tolist(), physicsClientId=self._client)
        number: int = bullet.createMultiBody(0.0, shape, basePosition=middle.tolist(), physicsClientId=self._client)
        return number


class _Bullet:
    name = "bullet"

    def open(self, setup: TrialSetup, step_s: float) -> World:
        return _BulletWorld(setup, step_s)


ENGINE = _Bullet()


def _iterations(setup: TrialSetup) -> int:
    masses = [body.mass_kg for body in setup.bodies if not body.fixed] or [1.0]
    return int(np.clip(ITERATIONS_PER_RATIO * max(masses) / min(masses), ITERATIONS, MOST_ITERATIONS))


def _principal(body: TrialBody) -> tuple[Floats, Floats]:
    """Principal moments (3,), and the right-handed principal axes as columns in the body's frame."""
    moments, axes = np.linalg.eigh(body.inertia_kg_m2)
    if np.linalg.det(axes) < 0.0:
        axes = axes * np.array([1.0, 1.0, -1.0])
    return moments, axes


def _quaternion(rotation: Floats) -> list[float]:
    """Quaternion (x, y, z, w) of a rotation, by the largest of its four components."""
    trace = np.array([rotation[0, 0], rotation[1, 1], rotation[2, 2]])
    squares = np.append(1.0 + 2.0 * trace - trace.sum(), 1.0 + trace.sum())
    skew = [rotation[2, 1] - rotation[1, 2], rotation[0, 2] - rotation[2, 0], rotation[1, 0] - rotation[0, 1]]
    table = np.diag(squares)
    for i in range(3):
        table[i, 3] = table[3, i] = skew[i]
        for j in range(i):
            table[i, j] = table[j, i] = rotation[i, j] + rotation[j, i]
    row = table[int(squares.argmax())]
    return [float(value) for value in row / np.linalg.norm(row)]


def _objects(parts: list[Floats], faces: list[Any]) -> str:
    """Several hulls as the objects of one file; each becomes a convex shape of its own."""
    lines, first = [], 1
    for number, (vertices_m, triangles) in enumerate(zip(parts, faces, strict=True)):
        lines.append(f"o part{number}")
        lines += [f"v {x!r} {y!r} {z!r}" for x, y, z in vertices_m.tolist()]
        lines += [f"f {a} {b} {c}" for a, b, c in (np.asarray(triangles) + first).tolist()]
        first += len(vertices_m)
    return "\n".join(lines) + "\n"


def _own_friction(setup: TrialSetup) -> tuple[Floats, tuple[str, ...]]:
    """Coefficients of bodies and boxes whose products are the pairs' friction, or as little under it as can be.

    pybullet multiplies the two coefficients of a pair. In logarithms this is a linear programme: the
    largest sum over all pairs that may touch, none over its own friction.
    """
    count, total = setup.friction.shape
    pairs = [pair for pair in near_pairs(setup) if pair[0] < count]
    if not pairs:
        return np.full(total, 0.0), ()
    wanted = np.array([setup.friction[a, b] for a, b in pairs])
    rows = np.repeat(np.arange(len(pairs)), 2)
    matrix: Any = coo_array(
        (np.ones(2 * len(pairs)), (rows, np.array(pairs).ravel())), shape=(len(pairs), total)
    ).tocsr()
    limit = np.log(np.maximum(wanted, LEAST_FRICTION))
    answer: Any = linprog(-np.asarray(matrix.sum(axis=0)).ravel(), A_ub=matrix, b_ub=limit, bounds=(-20.0, 20.0))
    if answer.x is None:
        raise EngineTrouble("pybullet: no coefficients give the friction of the pairs")
    got = np.exp(matrix @ answer.x)
    lowered = np.flatnonzero(got < wanted * (1.0 - LOWERED))
    if not len(lowered):
        return np.exp(answer.x), ()
    worst = lowered[(got[lowered] / wanted[lowered]).argmin()]
    names = [body.name for body in setup.bodies] + [box.name for box in setup.boxes]
    a, b = (names[place] for place in pairs[worst])
    note = f"pybullet cannot give each pair its own friction: {len(lowered)} lowered, {a} on {b} most, "
    return np.exp(answer.x), (note + f"from {wanted[worst]:.2f} to {got[worst]:.2f}",)
