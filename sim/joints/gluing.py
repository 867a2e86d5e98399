"""From the joints that a scene declares to joints that carry: patch, strength, stiffness."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim import materials
from sim.contact import Assembly, Contacts, Poses, chosen_contacts, clearance, find_contacts
from sim.errors import BedjointError
from sim.joints.joint import Joint, design_strength_pa, glue_stiffness_pa_m
from sim.joints.patch import JointPatch, joint_patch
from sim.materials import CONTACT_FRACTIONS, TIE_SLIP_M, TIE_WIDTH_M, Adhesive
from sim.pieces.placing import PlacedPiece
from sim.scene import JointEntry, Scene
from sim.units import MM2_PER_M2, MM_PER_M

Floats = NDArray[np.float64]

REACH_SHARE = 1.5  # of the least gap: how far round the nearest place a thick bed of glue spreads
FARTHEST_M = 0.1  # beyond, the distance of two faces is of no interest
FIRST_REACH_M = 2.0e-4  # round the place where a tie or screw holds


@dataclass(frozen=True, slots=True)
class Unusable:
    """A declared joint that cannot carry, and why."""

    entry: int  # index into the scene's joints
    reason: str


@dataclass(frozen=True, slots=True, eq=False)
class Declared:
    """The joints of a scene."""

    joints: tuple[Joint, ...]
    entries: tuple[int, ...]  # index into the scene's joints, of each of `joints`
    gap_m: tuple[float, ...]  # mean thickness taken, of each of `joints`
    unusable: tuple[Unusable, ...]


class _Near:
    """Faces of pieces near each other; contacts are looked for once per reach."""

    def __init__(self, assembly: Assembly, poses: Poses) -> None:
        self.assembly, self.poses = assembly, poses
        self.found: dict[float, Contacts] = {}

    def gap_m(self, a: int, b: int) -> float:
        """Least distance of two pieces, at most `FARTHEST_M`."""
        return clearance(self.assembly, self.poses, a, np.array([b]), FARTHEST_M)

    def faces(self, a: int, b: int, reach_m: float) -> tuple[Floats, Floats, float, float]:
        """Corners (k, 3) of the patches between two pieces, normal (3,) from b to a, their area and mean gap."""
        if reach_m not in self.found:
            self.found[reach_m] = find_contacts(self.assembly, self.poses, reach_m)
        found = self.found[reach_m]
        pair = ((found.a == a) & (found.b == b)) | ((found.a == b) & (found.b == a))
        if not pair.any():
            raise BedjointError(f"no faces within {reach_m * MM_PER_M:.2g} mm of each other were found.")
        contacts = chosen_contacts(found, pair)
        normals = contacts.normal * np.where(contacts.a == a, 1.0, -1.0)[:, None]
        bearing_m2 = float(contacts.area_m2.sum())
        weight = contacts.area_m2 if bearing_m2 > 0.0 else np.ones(len(contacts.a))
        normal = weight @ normals
        if not np.linalg.norm(normal) > 0.0:
            raise BedjointError("its faces look every way. Declare one joint per face.")
        return contacts.point_m, normal, bearing_m2, (max(float(contacts.gap_m.min()), 0.0) + reach_m) / 2.0


def declared_joints(scene: Scene, pieces: list[PlacedPiece], assembly: Assembly, poses: Poses) -> Declared:
    """Find patch, strength and stiffness of every joint that a scene declares.

    The patch of a glued joint is where the two meshes are nearer than the gap that the glue usually fills, or,
    where they are nowhere so near, than 1.5 times their least gap, up to the widest that it fills. Its outline
    counts with the share that the faces' fit allows. A tie or screw holds where the pieces are nearest.

    Returns
    -------
    Declared
        What carries, and what does not with the reason: faces too far apart for the glue, a bed that is only
        a line, a tie or screw whose capacity nobody gave.
    """
    index = {piece.id: k for k, piece in enumerate(pieces)}
    joints, entries, gaps, unusable = [], [], [], []
    near = _Near(assembly, poses)
    for number, entry in enumerate(scene.joint):
        a, b = (index[name] for name in entry.between)
        try:
            make = _glued if entry.kind == "glue" else _fastened
            joint, gap_m = make(entry, a, b, pieces, near)
        except BedjointError as problem:
            unusable.append(Unusable(number, str(problem)))
            continue
        joints.append(joint)
        entries.append(number)
        gaps.append(gap_m)
    return Declared(tuple(joints), tuple(entries), tuple(gaps), tuple(unusable))


def _glued(entry: JointEntry, a: int, b: int, pieces: list[PlacedPiece], near: _Near) -> tuple[Joint, float]:
    if entry.glue is None:
        raise BedjointError('no glue is named. Name one, such as glue = "epoxy putty".')
    glue = materials.adhesive(entry.glue)
    between = f"{pieces[a].id} and {pieces[b].id}"
    reach_m = _reach(entry, glue, near.gap_m(a, b), between)
    points, normal, bearing_m2, gap_m = near.faces(a, b, reach_m)
    fraction = CONTACT_FRACTIONS[entry.fit].default
    if entry.at_mm is not None and entry.area_mm2 is not None:
        patch = _square(np.array(entry.at_mm) / MM_PER_M, normal, entry.area_mm2 / MM2_PER_M2, fraction)
    else:
        patch = joint_patch(points, normal, fraction)
        outline_m2 = patch.area_m2 / fraction
        covered_m2 = bearing_m2 if entry.area_mm2 is None else entry.area_mm2 / MM2_PER_M2
        # the outline may span hollows that no glue fills
        patch = joint_patch(points, normal, fraction * min(1.0, covered_m2 / outline_m2))
    thickness_m = gap_m if entry.gap_mm is None else entry.gap_mm / MM_PER_M
    thickness_m = max(thickness_m, glue.gap_mm.low / MM_PER_M, FIRST_REACH_M)
    sides = [side for side in (pieces[a].material, pieces[b].material) if side is not None]
    strength_pa = design_strength_pa(glue, *sides)
    return Joint(a, b, patch, strength_pa, glue_stiffness_pa_m(glue, thickness_m)), thickness_m


def _reach(entry: JointEntry, glue: Adhesive, least_m: float, between: str) -> float:
    """How far apart faces may be and still belong to the patch."""
    widest_m = glue.gap_mm.high / MM_PER_M
    if least_m > widest_m:
        apart = f"{least_m * MM_PER_M:.1f}" if least_m < FARTHEST_M else f"over {FARTHEST_M * MM_PER_M:.0f}"
        raise BedjointError(
            f"{between} are {apart} mm apart, and {glue.name} fills up to {glue.gap_mm.high:g} mm. "
            "Move them together, or take a glue for wider gaps."
        )
    usual_m = (entry.gap_mm if entry.gap_mm is not None else glue.gap_mm.default) / MM_PER_M
    return max(usual_m, min(widest_m, REACH_SHARE * max(least_m, 0.0)))


def _square(centre_m: Floats, normal: Floats, area_m2: float, fraction: float) -> JointPatch:
    """A square patch of a declared area at a declared place."""
    normal = normal / np.linalg.norm(normal)
    x = np.cross(normal, np.eye(3)[np.argmin(np.abs(normal))])
    x /= np.linalg.norm(x)
    y, half = np.cross(normal, x), np.sqrt(area_m2) / 2.0
    corners = np.array([centre_m + half * (i * x + j * y) for i, j in ((-1, -1), (1, -1), (1, 1), (-1, 1))])
    return joint_patch(corners, normal, fraction)


def _fastened(entry: JointEntry, a: int, b: int, pieces: list[PlacedPiece], near: _Near) -> tuple[Joint, float]:
    """A tie or screw: a small patch that carries its capacity in pull and in shear, and little moment."""
    if entry.capacity_n is None:
        raise BedjointError(f"nobody says what this {entry.kind} carries. Give capacity_n.")
    least_m = near.gap_m(a, b)
    if least_m >= FARTHEST_M:
        raise BedjointError(f"{pieces[a].id} and {pieces[b].id} are over {FARTHEST_M * MM_PER_M:.0f} mm apart.")
    points, normal, _, _ = near.faces(a, b, max(least_m, 0.0) + FIRST_REACH_M)
    centre = points.mean(axis=0) if entry.at_mm is None else np.array(entry.at_mm) / MM_PER_M
    area_m2 = TIE_WIDTH_M.default**2
    patch = _square(centre, normal, area_m2, 1.0)
    strength_pa = entry.capacity_n / area_m2
    return Joint(a, b, patch, strength_pa, strength_pa / TIE_SLIP_M.default), 0.0
