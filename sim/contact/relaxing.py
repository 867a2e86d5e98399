"""Letting pieces come to rest on each other, without swing: overdamped steps on the true meshes.

Each step starts from rest, lets gravity pull for `STEP_S` and stops at every contact; what
cannot stand slides or topples a little more with each step, what can stands still.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from sim.contact.assembly import Assembly, Poses, friction_between
from sim.contact.impulses import solve_impulses, thinned
from sim.contact.nearness import candidates, touches
from sim.units import STANDARD_GRAVITY_M_S2

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

STEP_S = 0.01
ACTIVE_M = 0.5e-3  # gaps below this take part in a step
BAND_M = 3.0e-3  # candidates are searched this far out, and again when pieces have moved enough
STILL_M = 2.0e-6  # a step that moves nothing farther counts as rest
STILL_STEPS = 8
ROUNDS = 200
PATIENCE = 16  # times the rounds, once strides are short: rest needs the impulses exactly
SHORT_M = 1.0e-4
SETTLED_M_S = 1.0e-6  # rounds end when no touch changes its speed by more
FASTEST_M_S = 0.15
CELL_M = 4.0e-3
CROWD = 40
LEAST_REACH_M = 1.0e-4  # where strides are short, touches over wider gaps cannot close within a step


@dataclass(frozen=True, slots=True, eq=False)
class Relaxed:
    """Where pieces have come to."""

    poses: Poses
    at_rest: bool
    steps: int
    moved_m: Floats  # (n,) how far each centre has travelled from its start
    loaded: Loaded  # the touches that carry weight in the last step


@dataclass(frozen=True, slots=True, eq=False)
class Loaded:
    """Touches of the last step and the impulse on each, as force."""

    a: Ints  # (t,)
    b: Ints  # (t,) negative: a plane
    point_m: Floats  # (t, 3)
    normal: Floats  # (t, 3) from b to a
    gap_m: Floats  # (t,)
    force_n: Floats  # (t,) along the normal


@dataclass(slots=True, eq=False)
class _Walk:
    """What a relaxation carries from step to step."""

    assembly: Assembly
    rotation: Floats
    position: Floats
    free: NDArray[np.bool_]
    lumps: _Lumps
    pair_a: Ints
    pair_b: Ints
    index: Ints
    near: Floats
    warm: Floats
    closing: float = 2.0  # how far two points come together, at most, where each piece has moved by 1
    moved: float = np.inf
    stride: float = np.inf


@dataclass(slots=True, eq=False)
class _Lumps:
    """What moves as one: m lumps of glued pieces; a piece without glue is a lump of its own."""

    of_piece: Ints  # (n,)
    free: NDArray[np.bool_]  # (m,)
    rotation: Floats  # (m, 3, 3) since the start
    centre: Floats  # (m, 3) of mass, where they are now
    weight_n: Floats  # (m,)
    inverse_mass: Floats  # (m,) zero for what is held
    inverse_inertia: Floats  # (m, 3, 3) at the start, along the tank's axes, zero for what is held
    radius: Floats  # (m,)
    piece_rotation: Floats  # (n, 3, 3) of the pieces at the start
    piece_offset: Floats  # (n, 3) of the pieces from their lump's centre at the start


def relax(
    assembly: Assembly,
    poses: Poses,
    free: NDArray[np.bool_],
    weight_n: Floats | None = None,
    most_steps: int = 400,
    farthest_m: float = 0.02,
    lump: Ints | None = None,
) -> Relaxed:
    """Let the free pieces come to rest, the others held where they are.

    Parameters
    ----------
    free : (n,) bool; pieces fixed in the assembly stay fixed whatever this says
    weight_n : (n,) effective weights, downward positive, at the centres of mass; default mass times gravity
    farthest_m : the walk ends, not at rest, when a centre has travelled so far
    lump : (n,) labels; pieces with the same label are glued together and move as one body, which is
        held where any of them is. Default: no glue

    Returns
    -------
    Relaxed
        `at_rest` is true only after `STILL_STEPS` steps that moved nothing by `STILL_M`.
    """
    free = np.asarray(free, np.bool_) & ~assembly.fixed
    weight = assembly.mass_kg * STANDARD_GRAVITY_M_S2 if weight_n is None else np.asarray(weight_n, np.float64)
    lumps = _lumps(assembly, poses, free, weight, np.arange(len(free)) if lump is None else np.asarray(lump))
    free = lumps.free[lumps.of_piece]
    walk = _Walk(
        assembly, poses.rotation.copy(), poses.position_m.copy(), free, lumps,
        np.zeros(0, np.int64), np.zeros(0, np.int64), np.zeros((0, 2), np.int64), np.zeros(0), np.zeros((0, 3)),
    )  # fmt: skip
    walk.closing = 2.0 if lumps.free.sum() > 1 else 1.0
    start = walk.position.copy()
    still, steps, loaded = 0, 0, nothing_loaded()
    while steps < most_steps and still < STILL_STEPS and free.any():
        stride, loaded = _step(walk)
        steps += 1
        still = still + 1 if stride < STILL_M else 0
        if np.linalg.norm(walk.position - start, axis=1).max() > farthest_m:
            break
    return Relaxed(
        poses=Poses(walk.rotation, walk.position),
        at_rest=still >= STILL_STEPS or not free.any(),
        steps=steps,
        moved_m=np.linalg.norm(walk.position - start, axis=1),
        loaded=loaded,
    )


def near_pairs(assembly: Assembly, poses: Poses, free: NDArray[np.bool_], margin_m: float) -> tuple[Ints, Ints]:
    """Ordered pairs (a, b) whose boxes come within a margin, and (a, plane) likewise; one of them free."""
    low, high = world_boxes(assembly, poses)
    near = ((low[:, None] < high[None] + margin_m) & (low[None] < high[:, None] + margin_m)).all(axis=2)
    near &= free[:, None] | free[None]
    np.fill_diagonal(near, False)
    a, b = np.nonzero(near)
    planes = assembly.planes
    nearest_corner = np.where(planes.normal[None] > 0, low[:, None], high[:, None])
    height = (nearest_corner * planes.normal[None]).sum(axis=2) - planes.offset_m
    piece, plane = np.nonzero((height < margin_m) & free[:, None])
    return np.concatenate([a, piece]), np.concatenate([b, -1 - plane])


def world_boxes(assembly: Assembly, poses: Poses) -> tuple[Floats, Floats]:
    """Boxes (n, 3), (n, 3) in the tank's frame that hold each piece (those of its turned own box)."""
    middle = (assembly.bodies.low + assembly.bodies.high) / 2.0
    half = (assembly.bodies.high - assembly.bodies.low) / 2.0
    centre = np.einsum("nij,nj->ni", poses.rotation, middle) + poses.position_m
    reach = np.einsum("nij,nj->ni", np.abs(poses.rotation), half)
    return centre - reach, centre + reach


def _lumps(assembly: Assembly, poses: Poses, free: NDArray[np.bool_], weight_n: Floats, label: Ints) -> _Lumps:
    """Lumps of pieces at their start, each about its centre of mass."""
    names, of_piece = np.unique(label, return_inverse=True)
    count = len(names)

    def summed(values: Floats) -> Floats:
        total = np.zeros((count, *values.shape[1:]))
        np.add.at(total, of_piece, values)
        return total

    mass, position = assembly.mass_kg, poses.position_m
    whole = summed(mass)
    centre = summed(position * mass[:, None]) / whole[:, None]
    alone = np.bincount(of_piece, minlength=count)[of_piece] == 1
    centre[of_piece[alone]] = position[alone]  # not even rounding moves what is not glued
    offset = position - centre[of_piece]
    parallel = (offset**2).sum(axis=1)[:, None, None] * np.eye(3) - offset[:, :, None] * offset[:, None, :]
    inertia = poses.rotation @ assembly.inertia_kg_m2 @ np.swapaxes(poses.rotation, 1, 2)
    inertia = summed(inertia + mass[:, None, None] * parallel)
    held = np.zeros(count, np.bool_)
    held[of_piece[~free]] = True
    inverse_inertia = np.zeros_like(inertia)
    inverse_inertia[~held] = np.linalg.inv(inertia[~held])
    radius = np.zeros(count)
    np.maximum.at(radius, of_piece, np.linalg.norm(offset, axis=1) + assembly.bodies.radius)
    return _Lumps(
        of_piece=of_piece.astype(np.int64),
        free=~held,
        rotation=np.tile(np.eye(3), (count, 1, 1)),
        centre=centre,
        weight_n=summed(weight_n),
        inverse_mass=np.where(held, 0.0, 1.0 / whole),
        inverse_inertia=inverse_inertia,
        radius=radius,
        piece_rotation=poses.rotation.copy(),
        piece_offset=offset,
    )


def _step(walk: _Walk) -> tuple[float, Loaded]:
    """One overdamped step: the largest stride of any point, and what carried weight."""
    if walk.closing * walk.moved > (BAND_M - ACTIVE_M) * 0.8:
        _search(walk)
    lumps = walk.lumps
    fall = STEP_S * STEP_S * float(np.abs(lumps.weight_n * lumps.inverse_mass).max(initial=0.0))
    most = max(ACTIVE_M, 1.5 * fall)
    reach = min(most, LEAST_REACH_M + 4.0 * walk.stride)
    while True:
        velocity, spin, loaded, warm = _solved(walk, reach)
        speed = np.linalg.norm(velocity, axis=1) + np.linalg.norm(spin, axis=1) * lumps.radius
        fastest = float(speed.max(initial=0.0))
        # what was out of reach could not have closed, so leaving it out changed nothing
        if reach >= most or 2.0 * fastest * STEP_S < reach:
            break
        reach = most
    walk.warm = warm
    if fastest > FASTEST_M_S:
        velocity *= FASTEST_M_S / fastest
        spin *= FASTEST_M_S / fastest
        fastest = FASTEST_M_S
    _move(walk, velocity, spin)
    walk.stride = fastest * STEP_S
    walk.moved += walk.stride
    return walk.stride, loaded


def _solved(walk: _Walk, reach: float) -> tuple[Floats, Floats, Loaded, Floats]:
    """Velocity and spin (m, 3) of the lumps under the touches within reach, these, and all impulses."""
    assembly, lumps = walk.assembly, walk.lumps
    turned = lumps.rotation @ lumps.inverse_inertia @ np.swapaxes(lumps.rotation, 1, 2)
    velocity = np.zeros_like(lumps.centre)
    velocity[:, 2] = -STEP_S * lumps.weight_n * lumps.inverse_mass
    spin = np.zeros_like(velocity)
    rows = touches(
        assembly.mesh, assembly.samples, assembly.bodies, assembly.planes, walk.rotation, walk.position,
        walk.pair_a, walk.pair_b, walk.index, walk.near, walk.closing * walk.moved, reach,
    )  # fmt: skip
    candidate = rows[:, 8].astype(np.int64)
    keep = thinned(rows, walk.index[candidate, 0], walk.warm[candidate, 0], CELL_M, CROWD)
    rows, candidate = rows[keep], candidate[keep]
    pair = walk.index[candidate, 0]
    a, b = walk.pair_a[pair], walk.pair_b[pair]
    warm = walk.warm[candidate]
    point, normal = np.ascontiguousarray(rows[:, :3]), np.ascontiguousarray(rows[:, 3:6])
    gap = np.ascontiguousarray(rows[:, 6])
    of_piece = lumps.of_piece
    solve_impulses(
        lumps.inverse_mass, turned, lumps.centre, velocity, spin,
        of_piece[a], np.where(b >= 0, of_piece[np.maximum(b, 0)], b), point, normal, gap,
        friction_between(assembly, a, b), warm,
        STEP_S, ROUNDS * (PATIENCE if walk.stride < SHORT_M else 1), SETTLED_M_S,
    )  # fmt: skip
    impulses = np.zeros_like(walk.warm)
    impulses[candidate] = warm
    return velocity, spin, Loaded(a, b, point, normal, gap, warm[:, 0] / STEP_S), impulses


def _move(walk: _Walk, velocity: Floats, spin: Floats) -> None:
    """Carry the free lumps, and their pieces with them, through one step."""
    lumps, free = walk.lumps, walk.lumps.free
    lumps.centre[free] += velocity[free] * STEP_S
    lumps.rotation[free] = Rotation.from_rotvec(spin[free] * STEP_S).as_matrix() @ lumps.rotation[free]
    mine = np.flatnonzero(walk.free)
    turn = lumps.rotation[lumps.of_piece[mine]]
    walk.rotation[mine] = turn @ lumps.piece_rotation[mine]
    arm = np.einsum("nij,nj->ni", turn, lumps.piece_offset[mine])
    walk.position[mine] = lumps.centre[lumps.of_piece[mine]] + arm


def _search(walk: _Walk) -> None:
    """Find candidates anew; impulses of the old ones are forgotten."""
    poses = Poses(walk.rotation, walk.position)
    assembly = walk.assembly
    pair_a, pair_b = near_pairs(assembly, poses, walk.free, BAND_M)
    of_piece = walk.lumps.of_piece
    apart = (pair_b < 0) | (of_piece[pair_a] != of_piece[np.maximum(pair_b, 0)])
    walk.pair_a, walk.pair_b = pair_a[apart], pair_b[apart]
    walk.index, walk.near = candidates(
        assembly, walk.rotation, walk.position, walk.pair_a, walk.pair_b, BAND_M, corners_only=True
    )
    walk.warm = np.zeros((len(walk.index), 3))
    walk.moved = 0.0


def nothing_loaded() -> Loaded:
    """No touches at all."""
    none, points = np.zeros(0, np.int64), np.zeros((0, 3))
    return Loaded(none, none, points, points, np.zeros(0), np.zeros(0))
