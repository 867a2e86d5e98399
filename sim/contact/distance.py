"""How near two pieces are, over any range: clearances, overlaps, what hovers."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sim.compiling import compiled, inner
from sim.contact.assembly import Assembly, Poses
from sim.contact.nearness import into_frame, plane_height
from sim.contact.relaxing import near_pairs
from sim.contact.surface import VERTEX
from sim.contact.tree import box_distance_2, signed_distance

ANY_RANGE_M = 1.0e3
OVERLAP_M = 3.0e-5  # deeper than this is an overlap and no contact


@dataclass(frozen=True, slots=True)
class Overlap:
    """Two pieces, or a piece and a plane, in the same place."""

    a: int
    b: int  # negative: a plane
    depth_m: float  # deepest sample of one inside the other


def clearance(assembly: Assembly, poses: Poses, piece: int, others: np.ndarray, reach_m: float) -> float:
    """Least signed distance from one piece to others (indices; negative: planes), at most `reach_m`.

    Negative where they overlap: minus the depth of the deepest sample.
    """
    return float(
        least_distance(
            assembly.mesh, assembly.samples, assembly.bodies, assembly.planes, poses.rotation, poses.position_m,
            piece, np.asarray(others, np.int64), reach_m,
        )
    )  # fmt: skip


def overlaps(assembly: Assembly, poses: Poses, deeper_than_m: float = OVERLAP_M) -> list[Overlap]:
    """All pairs that share space deeper than a tolerance, deepest first."""
    everywhere = np.ones(len(assembly.mass_kg), np.bool_)
    pair_a, pair_b = near_pairs(assembly, poses, everywhere, 0.0)
    found = []
    for a, b in zip(pair_a, pair_b, strict=True):
        if a > b:
            depth = -clearance(assembly, poses, int(a), np.array([b]), 1e-4)
            if depth <= deeper_than_m and b >= 0 and _in_one_place(assembly, poses, int(a), int(b), deeper_than_m):
                depth = 2.0 * deeper_than_m  # faces that coincide hide how deep it really is
            if depth > deeper_than_m:
                found.append(Overlap(int(a), int(b), depth))
    return sorted(found, key=lambda overlap: (-overlap.depth_m, overlap.a, overlap.b))


def _in_one_place(assembly: Assembly, poses: Poses, a: int, b: int, deeper_than_m: float) -> bool:
    """Whether a point lies deeper than a tolerance in both: true also where their faces coincide."""
    shared = (assembly.mesh, assembly.samples, assembly.bodies, poses.rotation, poses.position_m)
    return bool(share_space(*shared, a, b, deeper_than_m) or share_space(*shared, b, a, deeper_than_m))


def everything_else(assembly: Assembly, piece: int) -> np.ndarray:
    """Indices of all other pieces and all planes."""
    count, planes = len(assembly.mass_kg), len(assembly.planes.offset_m)
    return np.array([k for k in range(-planes, count) if k != piece], dtype=np.int64)


@compiled
def least_distance(mesh, samples, bodies, planes, rotation, position, a, others, reach):  # type: ignore[no-untyped-def]
    """Least signed distance between piece a and the others, at most `reach`."""
    best = reach
    for b in others:
        if b < 0:
            for cluster in range(bodies.cluster_start[a], bodies.cluster_end[a]):
                height = plane_height(planes, -1 - b, rotation, position, a, samples.cluster_centre[cluster])
                if height - samples.cluster_radius_m[cluster] >= best:
                    continue
                for s in range(samples.cluster_start[cluster], samples.cluster_end[cluster]):
                    if samples.kind[s] == VERTEX:
                        best = min(best, plane_height(planes, -1 - b, rotation, position, a, samples.point[s]))
            continue
        best = _one_way(mesh, samples, bodies, rotation, position, a, b, best)
        best = _one_way(mesh, samples, bodies, rotation, position, b, a, best)
    return best


@inner
def _one_way(mesh, samples, bodies, rotation, position, a, b, best):  # type: ignore[no-untyped-def]
    """Lower `best` to the least signed distance of a's samples to b."""
    for cluster in range(bodies.cluster_start[a], bodies.cluster_end[a]):
        radius = samples.cluster_radius_m[cluster]
        x, y, z = into_frame(rotation, position, a, b, samples.cluster_centre[cluster])
        reach = max(best, 0.0) + radius
        if box_distance_2(x, y, z, bodies.low[b], bodies.high[b]) > reach * reach:
            continue
        # far outside is of no interest, deep inside is the worst overlap: the sign matters at any range
        centre = signed_distance(mesh, bodies.root[b], x, y, z, ANY_RANGE_M)[0]
        if centre >= reach:
            continue
        for s in range(samples.cluster_start[cluster], samples.cluster_end[cluster]):
            x, y, z = into_frame(rotation, position, a, b, samples.point[s])
            if box_distance_2(x, y, z, bodies.low[b], bodies.high[b]) > max(best, 0.0) ** 2:
                continue
            # where the whole cluster lies outside, nothing beyond the best so far needs to be found
            reach = ANY_RANGE_M if centre <= radius else best
            best = min(best, signed_distance(mesh, bodies.root[b], x, y, z, reach)[0])
    return best


@compiled
def share_space(mesh, samples, bodies, rotation, position, a, b, depth):  # type: ignore[no-untyped-def]
    """Whether a sample of a, moved inward, lies deeper than `depth` in both a and b."""
    point = np.empty(3)
    for cluster in range(bodies.cluster_start[a], bodies.cluster_end[a]):
        x, y, z = into_frame(rotation, position, a, b, samples.cluster_centre[cluster])
        radius = samples.cluster_radius_m[cluster]
        if box_distance_2(x, y, z, bodies.low[b], bodies.high[b]) > radius * radius:
            continue
        for s in range(samples.cluster_start[cluster], samples.cluster_end[cluster]):
            for c in range(3):
                point[c] = samples.point[s, c] - 3.0 * depth * samples.normal[s, c]
            x, y, z = into_frame(rotation, position, a, b, point)
            if box_distance_2(x, y, z, bodies.low[b], bodies.high[b]) > 0.0:
                continue
            # faces that coincide lie 3 depths away; what lies deeper in b shows by its own depth
            if signed_distance(mesh, bodies.root[b], x, y, z, 8.0 * depth)[0] > -depth:
                continue
            if signed_distance(mesh, bodies.root[a], point[0], point[1], point[2], 8.0 * depth)[0] < -depth:
                return True
    return False
