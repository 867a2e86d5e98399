"""Stacks of two and three stones whose shapes a rigid-body engine can share exactly.

Glossary
--------
shared    a body that is a single convex hull, or the union of convex parts: an engine gets these parts
edge      the top stone is moved out as far as it finds rest: knife-edge rests

Stones are set down one on the other, each shifted sideways, and then let go together. Same seed: same stack.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import manifold3d
import numpy as np
from numpy.typing import NDArray
from quarry import LARGEST_MM, SMALLEST_MM

from sim.contact import Assembly, Poses, Rest, assemble, find_contacts, relax, set_down, tank_planes
from sim.pieces.body import Body
from sim.pieces.convex import convex_parts
from sim.pieces.generate import generate
from sim.pieces.mass import make_body
from sim.pieces.rest import rest_poses
from sim.pieces.turning import rotation_from_turns
from sim.statics import Judgement, System, assemble_system, judge_system, weights

Floats = NDArray[np.float64]
Part = tuple[Floats, NDArray[np.int32]]

INNER_M = np.array([0.9, 0.6, 0.6])
DENSITY_KG_M3 = 2600.0
BASE_FRICTION = 0.6  # stones tip before they slide on it
STONE_FRICTIONS = (0.6, 0.6, 0.35)  # drawn from: a third of the stacks may slide on each other
FACES = 1500
SHAPES = ("block", "slab", "cobble", "shard")
STONES = 16  # of each shape and kind to draw from
GROWN = 1.01  # coacd's parts only touch: grown by this, they overlap and their union is one solid
LET_GO_STEPS = 1500
FELL_M = 0.01


@dataclass(frozen=True, slots=True, eq=False)
class Shared:
    """A body and the convex parts whose union it is, all in its frame."""

    body: Body
    parts: tuple[Part, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Stack:
    """Shared stones that have come to rest together on the base."""

    stones: tuple[Shared, ...]
    assembly: Assembly
    poses: Poses
    kind: str  # hull or union
    edge: bool


def _arrays(solid: manifold3d.Manifold) -> Part:
    mesh = solid.to_mesh64()
    return np.array(mesh.vert_properties)[:, :3].astype(np.float64), np.array(mesh.tri_verts).astype(np.int32)


@cache
def shared(kind: str, shape: str, seed: int) -> Shared | None:
    """A generated stone's convex hull, or the union of its convex parts; None where that is no one solid."""
    low, high = np.array(SMALLEST_MM[shape]), np.array(LARGEST_MM[shape])
    size_mm = [int(v) for v in np.random.default_rng([seed, 77]).integers(low, high + 1)]
    made = generate(shape, seed, size_mm, faces=FACES)
    if kind == "hull":
        solid = manifold3d.Manifold.hull_points(made.vertices_m)
        pieces = [_arrays(solid)]
    else:
        # hulls of points, so that the union is of exactly what the engine makes of them
        middles_m = [part.vertices_m.mean(axis=0) for part in convex_parts(made).parts]
        hulls = [
            manifold3d.Manifold.hull_points(middle_m + GROWN * (part.vertices_m - middle_m))
            for part, middle_m in zip(convex_parts(made).parts, middles_m, strict=True)
        ]
        pieces = [_arrays(hull) for hull in hulls]
        shells = manifold3d.Manifold.batch_boolean(hulls, manifold3d.OpType.Add).decompose()
        outer = [shell for shell in shells if shell.volume() > 0.0]  # the others are hollows between parts
        if len(outer) != 1:
            return None
        solid = outer[0]
    vertices_m, faces = _arrays(solid)
    body = make_body(vertices_m, faces)
    centre_m = vertices_m[0] - body.vertices_m[0]
    return Shared(body, tuple((points_m - centre_m, faces) for points_m, faces in pieces))


def stand(stones: tuple[Shared, ...], mu: float) -> Assembly:
    """The stones in a tank."""
    mass = np.array([DENSITY_KG_M3 * stone.body.volume_m3 for stone in stones])
    friction = np.full((len(stones), len(stones) + 5), BASE_FRICTION)
    friction[:, : len(stones)] = mu
    return assemble([stone.body for stone in stones], mass, friction, tank_planes(INNER_M))


def build(seed: int) -> tuple[Stack | None, str]:
    """A stack of two or three stones, or why there is none. Every third one is an edge rest."""
    rng = np.random.default_rng([seed, 3])
    kind, edge = ("hull", "union")[seed % 2], seed % 3 == 0
    count, mu = int(rng.integers(2, 4)), float(rng.choice(STONE_FRICTIONS))
    drawn = [shared(kind, str(rng.choice(SHAPES)), int(rng.integers(STONES))) for _ in range(count)]
    stones = tuple(stone for stone in drawn if stone is not None)
    if len(stones) < count:
        return None, "a union falls apart"
    assembly, poses, why = lay(stones, mu, rng, edge)
    return (Stack(stones, assembly, poses, kind, edge), "") if poses is not None else (None, why)


def lay(
    stones: tuple[Shared, ...], mu: float, rng: np.random.Generator, edge: bool
) -> tuple[Assembly, Poses | None, str]:
    """Set stones down on each other, each shifted sideways, and let go of all: where they rest, or why not."""
    count = len(stones)
    assembly = stand(stones, mu)
    turns = np.array([_lying(rng, stone.body) for stone in stones])
    heading = rng.uniform(0.0, 2.0 * np.pi)
    out = np.array([np.cos(heading), np.sin(heading), 0.0])
    poses = Poses(turns, np.tile([*(INNER_M[:2] / 2.0), 0.05], (count, 1)))
    shifts = rng.uniform(0.0, 0.4, count)
    for k in range(count):
        span_m = 0.0 if k == 0 else float(np.ptp(stones[k - 1].body.vertices_m @ (turns[k - 1].T @ out)))
        at_m = poses.position_m[max(k - 1, 0)]
        if edge and k == count - 1:
            found = _farthest_out(assembly, poses, k, at_m, out * span_m)
        else:
            found = set_on(assembly, poses, k, at_m + shifts[k] * out * span_m)
        if found is None:
            return assembly, None, "a stone finds no rest"
        poses = found
    return let_go(assembly, poses)


def let_go(assembly: Assembly, poses: Poses) -> tuple[Assembly, Poses | None, str]:
    """Where all stones come to rest together."""
    loose = relax(assembly, poses, np.ones(len(poses.position_m), np.bool_), None, LET_GO_STEPS, FELL_M)
    return (assembly, loose.poses, "") if loose.at_rest else (assembly, None, "falls or finds no rest when let go")


def _lying(rng: np.random.Generator, body: Body) -> Floats:
    """One of the ways to lie, by share, turned about the vertical."""
    ways = rest_poses(body, 0.05)[:4]
    share = np.array([way.share for way in ways])
    way = ways[int(rng.choice(len(ways), p=share / share.sum()))]
    return rotation_from_turns((0.0, 0.0, float(rng.uniform(-180.0, 180.0)))) @ way.rotation


def set_on(assembly: Assembly, poses: Poses, k: int, at_m: Floats) -> Poses | None:
    """Poses with stone k set down there onto those before it."""
    trial = Poses(poses.rotation.copy(), poses.position_m.copy())
    trial.position_m[k, :2] = at_m[:2]
    trial.position_m[k, 2] = 0.02 if k == 0 else at_m[2] + 0.02
    seated = set_down(assembly, trial, k, np.arange(len(assembly.mass_kg)) < k)
    if seated.rest is not Rest.AT_REST:
        return None
    trial.rotation[k], trial.position_m[k] = seated.rotation, seated.position_m
    return trial


def _farthest_out(assembly: Assembly, poses: Poses, k: int, at_m: Floats, span_m: Floats) -> Poses | None:
    """Moved out from the support as far as it still rests within 3 mm of where it was put, to 1/100 of the span."""

    def tried(share: float) -> Poses | None:
        found = set_on(assembly, poses, k, at_m + share * span_m)
        if found is None or np.linalg.norm((found.position_m[k] - at_m - share * span_m)[:2]) > 0.003:
            return None
        return found

    best, low, high = None, 0.0, 0.7
    for share in np.arange(0.1, 0.7, 0.1):
        found = tried(float(share))
        if found is not None:
            best, low = found, float(share)
        elif best is not None:
            high = float(share)
            break
    while best is not None and high - low > 0.01:
        middle = (low + high) / 2.0
        found = tried(middle)
        best, low, high = (found, middle, high) if found is not None else (best, low, middle)
    return best


def nominal(stack: Stack, reach_m: float | None = None) -> tuple[System, Judgement]:
    """Quick judgement of the stack as it rests."""
    reach = {} if reach_m is None else {"reach_m": reach_m}
    contacts = find_contacts(stack.assembly, stack.poses, **reach)
    system = assemble_system(stack.poses.position_m, contacts, stack.assembly.fixed)
    return system, judge_system(system, weights(stack.assembly.mass_kg), quick=True)


def nominal_deg(stack: Stack, reach_m: float) -> float:
    """Critical tilt with another contact tolerance; 0 where the stack does not stand by it."""
    margins = nominal(stack, reach_m)[1].margins
    return margins.critical_tilt_deg if margins is not None else 0.0
