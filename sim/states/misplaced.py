"""Pieces that are not where stones can be: in each other, in the air, outside the tank."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.contact import PLANE_NAMES, Assembly, clearance, everything_else, overlaps
from sim.states.stage import Stage
from sim.units import MM_PER_M

FARTHEST_M = 1.0  # a piece that hovers higher is said to hover at least so high
REMEDY = "Run `bedjoint settle` to set the pieces down, or move it."


@dataclass(frozen=True, slots=True)
class Misplaced:
    """One fault of place."""

    piece: str
    other: str  # piece, base or pane
    fault: str  # 'overlaps', 'hovers' or 'outside'
    by_mm: float

    def __str__(self) -> str:
        if self.fault == "outside":
            return f"{self.piece} lies outside the tank, beyond the {self.other}"
        if self.fault == "hovers":
            return f"{self.piece} touches nothing: it hovers {self.by_mm:.2g} mm from {self.other}"
        return f"{self.piece} and {self.other} overlap by {self.by_mm:.2g} mm"


def misplaced(stage: Stage) -> tuple[Misplaced, ...]:
    """Pieces outside the tank, overlaps deeper than the scene allows, and pieces that touch nothing."""
    names = [piece.id for piece in stage.pieces]
    assembly, poses = stage.dry, stage.poses
    found = []
    outside = np.zeros(len(names), np.bool_)
    for k, name in enumerate(names):
        fault = outside_at(name, assembly, poses.position_m[k])
        if fault is not None:
            outside[k] = True
            found.append(fault)
    for overlap in overlaps(assembly, poses, stage.scene.check.overlap_mm / MM_PER_M):
        other = names[overlap.b] if overlap.b >= 0 else PLANE_NAMES[overlap.b]
        if not outside[overlap.a] and not (overlap.b >= 0 and outside[overlap.b]):
            found.append(Misplaced(names[overlap.a], other, "overlaps", overlap.depth_m * MM_PER_M))
    return tuple(found)


def outside_at(name: str, assembly: Assembly, position_m: NDArray[np.float64]) -> Misplaced | None:
    """The fault of a piece whose centre (3,) lies outside the tank; None where it does not."""
    beyond = assembly.planes.offset_m - assembly.planes.normal @ position_m
    plane = int(beyond.argmax())
    if beyond[plane] <= 0.0:
        return None
    return Misplaced(name, PLANE_NAMES[-1 - plane], "outside", float(beyond[plane]) * MM_PER_M)


def hovering(stage: Stage) -> tuple[Misplaced, ...]:
    """Free pieces that touch nothing and hang in no joint, with the nearest thing to each."""
    names = [piece.id for piece in stage.pieces]
    touching = set(stage.contacts.a.tolist()) | set(stage.contacts.b.tolist())
    held = {side for joint in stage.declared.joints for side in (joint.a, joint.b)}
    found = []
    for k in np.flatnonzero(~stage.dry.fixed):
        if int(k) in touching or int(k) in held:
            continue
        others = everything_else(stage.dry, int(k))
        gaps = [clearance(stage.dry, stage.poses, int(k), np.array([other]), FARTHEST_M) for other in others]
        nearest = int(np.argmin(gaps))
        other = int(others[nearest])
        name = names[other] if other >= 0 else PLANE_NAMES[other]
        found.append(Misplaced(names[k], name, "hovers", gaps[nearest] * MM_PER_M))
    return tuple(found)
