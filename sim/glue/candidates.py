"""Joints that could be made: pieces near enough, and the strongest glue that suits them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.contact import clearance, find_contacts
from sim.joints import Joint, declared_joints
from sim.joints.suiting import suiting
from sim.materials import ADHESIVES
from sim.scene import JointEntry
from sim.states import Stage
from sim.units import MM_PER_M

Floats = NDArray[np.float64]

NEAR_M = ADHESIVES["epoxy putty"].gap_mm.default / MM_PER_M  # wider gaps are bridged only where the user says so
PLACES = 3  # ties that one pair may have: a tie turns about its place


@dataclass(frozen=True, slots=True, eq=False)
class Candidate:
    """A joint that could be made."""

    entry: JointEntry
    joint: Joint
    gap_m: float  # least distance of the two pieces
    bed_m: float  # mean thickness of the glue

    @property
    def moment_nm(self) -> float:
        """Moment at which it cracks about its weaker axis: the measure of a joint."""
        patch = self.joint.patch
        x, y = np.abs(patch.corners_m).max(axis=0)
        return float(self.joint.design_strength_pa * min(patch.ix_m4 / y, patch.iy_m4 / x))


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """All candidates of a scene, and pairs of neighbours that nothing can hold, with the reason."""

    candidates: tuple[Candidate, ...]
    without: tuple[tuple[str, str, str], ...]


def candidates_of(stage: Stage, glues: Sequence[str] = (), tie_n: float | None = None) -> Found:
    """Find what could be joined with what, and by which glue.

    Parameters
    ----------
    stage : with the pieces where they stand
    glues : names of the chemistries to choose from; default every one that may carry
    tie_n : what one tie or screw of the builder's carries for good, N; without it wood gets no joint

    Returns
    -------
    Found
        Per pair of stones the suitable glue whose joint bears the largest moment; per pair with wood up to three ties.
    """
    candidates: list[Candidate] = []
    without: list[tuple[str, str, str]] = []
    pairs = _neighbours(stage)
    gaps = [max(0.0, clearance(stage.dry, stage.poses, a, np.array([b]), 2.0 * NEAR_M)) for a, b in pairs]
    options = [_entries(stage, a, b, gap, glues, tie_n) for (a, b), gap in zip(pairs, gaps, strict=True)]
    entries = [entry for found, _ in options for entry in found]
    scene = stage.scene.model_copy(update={"joint": tuple(entries)})
    declared = declared_joints(scene, stage.pieces, stage.dry, stage.poses)
    made = {k: (j, bed) for k, j, bed in zip(declared.entries, declared.joints, declared.gap_m, strict=True)}
    refused = {one.entry: one.reason for one in declared.unusable}
    at = 0
    for (a, b), gap, (found, why) in zip(pairs, gaps, options, strict=True):
        own = [(entry, at + k) for k, entry in enumerate(found)]
        at += len(found)
        possible = [Candidate(entry, made[k][0], gap, made[k][1]) for entry, k in own if k in made]
        if not possible:
            reason = next((refused[k] for _, k in own if k in refused), why)
            without.append((stage.pieces[a].id, stage.pieces[b].id, reason))
        elif possible[0].entry.kind == "tie":
            candidates += possible
        else:
            candidates.append(max(possible, key=lambda one: one.moment_nm))
    return Found(tuple(candidates), tuple(without))


def _neighbours(stage: Stage) -> list[tuple[int, int]]:
    """Pairs of pieces that are near each other and have no joint yet."""
    near = find_contacts(stage.dry, stage.poses, NEAR_M)
    pairs = {(int(min(a, b)), int(max(a, b))) for a, b in zip(near.a, near.b, strict=True) if a >= 0 and b >= 0}
    joined = {(min(j.a, j.b), max(j.a, j.b)) for j in stage.declared.joints}
    fixed = stage.dry.fixed
    return sorted(pair for pair in pairs - joined if not (fixed[pair[0]] and fixed[pair[1]]))


def _entries(
    stage: Stage, a: int, b: int, gap_m: float, glues: Sequence[str], tie_n: float | None
) -> tuple[list[JointEntry], str]:
    """Joints to try between two pieces; where there is none, why."""
    one, other = stage.pieces[a], stage.pieces[b]
    names = (one.id, other.id)
    if one.is_wood or other.is_wood:
        if tie_n is None:
            return [], "rigid glue must not be the only hold of wood; say what one tie or screw of yours carries"
        places = _places(stage, a, b, gap_m)
        return [JointEntry(between=names, kind="tie", capacity_n=tie_n, at_mm=place) for place in places], ""
    suited = suiting(gap_m, (one.material, other.material))
    chosen = [one for one in suited if not glues or one.glue.name in glues]
    entries = [JointEntry(between=names, glue=one.glue.name) for one in chosen if one.suits]
    why = "; ".join(f"{one.glue.name}: {', '.join(one.against)}" for one in chosen if not one.suits)
    return entries, why


def _places(stage: Stage, a: int, b: int, gap_m: float) -> list[tuple[float, float, float]]:
    """Up to three places for ties, as far from each other as the two pieces are near each other, in mm."""
    near = find_contacts(stage.dry, stage.poses, max(NEAR_M, gap_m))
    pair = ((near.a == a) & (near.b == b)) | ((near.a == b) & (near.b == a))
    points = near.point_m[pair]
    chosen = [int(np.argmax(np.linalg.norm(points - points.mean(axis=0), axis=1)))]
    while len(chosen) < min(PLACES, len(points)):
        apart = np.linalg.norm(points[:, None] - points[chosen][None], axis=2).min(axis=1)
        chosen.append(int(np.argmax(apart)))
    spots = np.round(points[chosen] * MM_PER_M, 1)
    return [(float(x), float(y), float(z)) for x, y, z in spots]
