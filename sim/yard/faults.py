"""What is wrong with the places of pieces, found anew only where something has moved.

The rules are those of `sim.states.misplaced`; here each pair of neighbours is looked at by itself and remembered.
"""

from __future__ import annotations

from collections.abc import Collection

import numpy as np

from sim.contact import PLANE_NAMES, clearance, overlaps
from sim.contact.assembly import part_of
from sim.states import Misplaced
from sim.states.misplaced import outside_at
from sim.units import MM_PER_M
from sim.yard.bench import Box, Laid

NEAR_M = 1.0e-3  # boxes farther apart than this are not looked at
FARTHEST_M = 1.0  # a piece that hovers higher is said to hover at least so high

Stamp = tuple[int, bytes, bytes]  # a body at a pose
Found = tuple[float, float]  # depth of the overlap, 0 without; gap, at most NEAR_M


class Faults:
    """Looks for overlaps, pieces outside and pieces that hang in the air."""

    def __init__(self) -> None:
        self._pairs: dict[tuple[Stamp, Stamp], Found] = {}
        self._planes: dict[tuple[Stamp, float], tuple[tuple[int, float], ...]] = {}

    def of(self, laid: Laid, only: Collection[int] | None = None) -> tuple[Misplaced, ...]:
        """All faults of place; with `only` those that pieces with these numbers take part in."""
        stamps = [stamp(laid, k) for k in range(len(laid.pieces))]
        chosen = set(range(len(laid.pieces)) if only is None else only)
        at = laid.poses.position_m
        outside = {
            k: one for k in sorted(chosen) if (one := outside_at(laid.pieces[k].id, laid.dry, at[k])) is not None
        }
        found, touching = list(outside.values()), set()
        tolerance_m = laid.scene.check.overlap_mm / MM_PER_M
        contact_m = laid.scene.check.contact_mm / MM_PER_M
        for k in sorted(chosen):
            for plane, gap_m in self._plane_gaps(laid, k, stamps[k]):
                if gap_m <= contact_m:
                    touching.add(k)
                if -gap_m > tolerance_m and k not in outside:
                    found.append(Misplaced(laid.pieces[k].id, PLANE_NAMES[plane], "overlaps", -gap_m * MM_PER_M))
        for a, b in near_pairs(laid, chosen):
            depth_m, gap_m = self._pair(laid, a, b, (stamps[a], stamps[b]), tolerance_m)
            if gap_m <= contact_m:
                touching |= {a, b}
            if depth_m > tolerance_m and a not in outside and b not in outside:
                names = laid.pieces[a].id, laid.pieces[b].id
                found.append(Misplaced(*names, "overlaps", depth_m * MM_PER_M))
        found.sort(key=lambda fault: (fault.fault != "outside", -fault.by_mm))
        return (*found, *_hovering(laid, chosen - touching - set(outside)))

    def touching(self, laid: Laid, chosen: Collection[int]) -> set[int]:
        """Pieces that touch some chosen ones, or others that do, those included."""
        tolerance_m = laid.scene.check.overlap_mm / MM_PER_M
        contact_m = laid.scene.check.contact_mm / MM_PER_M
        meets: dict[int, set[int]] = {}
        for a, b in near_pairs(laid, set(range(len(laid.pieces)))):
            gap_m = self._pair(laid, a, b, (stamp(laid, a), stamp(laid, b)), tolerance_m)[1]
            if -tolerance_m <= gap_m <= contact_m:
                meets.setdefault(a, set()).add(b)
                meets.setdefault(b, set()).add(a)
        found, waiting = set(chosen), list(chosen)
        while waiting:
            new = meets.get(waiting.pop(), set()) - found
            found |= new
            waiting += new
        return found

    def tidy(self, laid: Laid) -> None:
        """Forget pairs at places where nothing is any more, once there are many."""
        if len(self._pairs) < 40 * (len(laid.pieces) + 10):
            return
        there = {stamp(laid, k) for k in range(len(laid.pieces))}
        self._pairs = {key: value for key, value in self._pairs.items() if key[0] in there and key[1] in there}
        self._planes = {key: value for key, value in self._planes.items() if key[0] in there}

    def _plane_gaps(self, laid: Laid, k: int, stamp: Stamp) -> tuple[tuple[int, float], ...]:
        """Planes that a piece is near to, with the gap: its box tells exactly how near."""
        key = (stamp, float(laid.dry.planes.offset_m[0]))
        if key not in self._planes:
            low, high = laid.boxes[k]
            gaps = []
            for number, (normal, offset) in enumerate(
                zip(laid.dry.planes.normal, laid.dry.planes.offset_m, strict=True)
            ):
                corner = np.where(normal > 0.0, low, high)
                gap_m = float(corner @ normal - offset)
                if gap_m < NEAR_M:
                    gaps.append((-1 - number, gap_m))
            self._planes[key] = tuple(gaps)
        return self._planes[key]

    def _pair(self, laid: Laid, a: int, b: int, key: tuple[Stamp, Stamp], tolerance_m: float) -> Found:
        if key not in self._pairs:
            self._pairs[key] = _looked_at(laid, a, b, tolerance_m)
        return self._pairs[key]


def boxes_apart_m(one: Box, other: Box) -> float:
    """Distance between two boxes; 0 where they meet."""
    gap = np.maximum(np.maximum(one[0] - other[1], other[0] - one[1]), 0.0)
    return float(np.linalg.norm(gap))


def stamp(laid: Laid, k: int) -> Stamp:
    """A piece at its place: the same again only for the same body there."""
    piece = laid.pieces[k]
    return id(piece.body), piece.rotation.tobytes(), piece.position_m.tobytes()


def near_pairs(laid: Laid, chosen: set[int]) -> list[tuple[int, int]]:
    """Pairs of pieces whose boxes nearly meet, one of them chosen."""
    count = len(laid.pieces)
    if count < 2:
        return []
    low = np.array([box[0] for box in laid.boxes])
    high = np.array([box[1] for box in laid.boxes])
    meet = ((low[:, None] - high[None]).max(axis=2) < NEAR_M) & ((low[None] - high[:, None]).max(axis=2) < NEAR_M)
    a, b = np.nonzero(np.triu(meet, 1))
    return [(int(i), int(j)) for i, j in zip(a, b, strict=True) if i in chosen or j in chosen]


def _looked_at(laid: Laid, a: int, b: int, tolerance_m: float) -> Found:
    both = np.zeros(len(laid.pieces), np.bool_)
    both[[a, b]] = True
    part, poses = part_of(laid.dry, laid.poses, both)
    depth_m = max((one.depth_m for one in overlaps(part, poses, tolerance_m) if one.b >= 0), default=0.0)
    return depth_m, -depth_m if depth_m > 0.0 else clearance(part, poses, 0, np.array([1]), NEAR_M)


def _hovering(laid: Laid, lonely: set[int]) -> list[Misplaced]:
    """Free pieces that touch nothing and hang in no joint, with the nearest thing to each."""
    joined = {name for joint in laid.scene.joint for name in joint.between}
    found = []
    for k in sorted(lonely):
        piece = laid.pieces[k]
        if piece.fixed or piece.id in joined:
            continue
        other, gap_m = nearest(laid, k)
        found.append(Misplaced(piece.id, other, "hovers", gap_m * MM_PER_M))
    return found


def nearest(laid: Laid, k: int) -> tuple[str, float]:
    """The nearest thing to a piece and how far off it is, m, at most 1."""
    planes = laid.dry.planes
    low, high = laid.boxes[k]
    best, name = FARTHEST_M, "base"
    for number, (normal, offset) in enumerate(zip(planes.normal, planes.offset_m, strict=True)):
        gap_m = float(np.where(normal > 0.0, low, high) @ normal - offset)
        if gap_m < best:
            best, name = gap_m, PLANE_NAMES[-1 - number]
    others = sorted((boxes_apart_m(laid.boxes[k], box), j) for j, box in enumerate(laid.boxes) if j != k)
    for apart_m, j in others:
        if apart_m >= best:
            break
        gap_m = clearance(laid.dry, laid.poses, k, np.array([j]), best)
        if gap_m < best:
            best, name = gap_m, laid.pieces[j].id
    return name, best
