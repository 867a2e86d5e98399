"""A stack as a system of equilibrium equations, assembled once and used by every judge.

    A r + w = 0      one row per free piece and freedom, one column per force component
    |t| <= mu n      at every contact

Scaled so that absolute tolerances mean something: moments are divided by a length of the
stack, forces (when loads come in) by the mean effective weight. Columns hold cone variables
``(mu n, t1, t2)``, or n alone where there is no friction, so that each block is the standard
second-order cone.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.linalg import block_diag

from sim.contact import Contacts
from sim.joints import Joint

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

FRICTIONLESS = 1.0e-6  # less friction than this counts as none


@dataclass(frozen=True, slots=True, eq=False)
class System:
    """Equilibrium of n pieces on their contacts and joints."""

    centre_m: Floats  # (n, 3) centres of volume
    free: Bools  # (n,)
    row: Ints  # (n,) first of six rows, -1 when fixed
    contacts: Contacts
    frame: Floats  # (k, 3, 3) rows: normal, two tangents
    rough: Ints  # contacts with friction, three columns each, first in the matrix
    smooth: Ints  # contacts without, one column each, next
    joints: tuple[Joint, ...]  # six columns each, last: Vx, Vy, N, Mx, My, T on a, scaled like rows
    matrix: sp.csr_matrix  # (rows, columns); where joints are limited, their strength has rows beneath
    length_m: float
    strength_n: Floats  # (extra rows,) right-hand sides of the joints' strength; empty where unlimited

    @property
    def rows(self) -> int:
        """Rows of equilibrium."""
        return 6 * int(self.free.sum())

    @property
    def columns(self) -> int:
        return int(self.matrix.shape[1])

    @property
    def limited(self) -> bool:
        """Whether joints carry no more than their design strength."""
        return len(self.strength_n) > 0

    @property
    def joint_start(self) -> int:
        """First column of the joints."""
        return 3 * len(self.rough) + len(self.smooth)

    def scaled(self, wrench: Floats, force_n: float, dead: bool = True) -> Floats:
        """Wrenches (n, 6) as rows; the joints' strength comes with the dead loads."""
        rows = wrench[self.free] / force_n
        rows[:, 3:] /= self.length_m
        return np.concatenate([rows.ravel(), -self.strength_n / force_n if dead else 0.0 * self.strength_n])

    def forces(self, variables: Floats, force_n: float) -> Floats:
        """Contact forces (k, 3) on piece a along `frame` (normal, tangents) from cone variables."""
        result = np.zeros((len(self.contacts.a), 3))
        blocks = variables[: 3 * len(self.rough)].reshape(-1, 3).copy()
        blocks[:, 0] /= self.contacts.mu[self.rough]
        result[self.rough] = blocks
        result[self.smooth, 0] = variables[3 * len(self.rough) : self.joint_start]
        return result * force_n

    def variables(self, forces: Floats, force_n: float) -> Floats:
        """Cone variables from contact forces (k, 3); joints carry nothing."""
        blocks = forces[self.rough] / force_n
        blocks[:, 0] *= self.contacts.mu[self.rough]
        return np.concatenate([blocks.ravel(), forces[self.smooth, 0] / force_n, np.zeros(6 * len(self.joints))])

    def joint_wrenches(self, variables: Floats, force_n: float) -> Floats:
        """Wrenches (j, 6) on piece a in each patch's axes, N and N m, tension positive."""
        wrench = variables[self.joint_start : self.joint_start + 6 * len(self.joints)].reshape(-1, 6) * force_n
        wrench[:, 3:] *= self.length_m
        # a joint that pulls a down towards b is in tension
        return -wrench

    def velocities(self, rows: Floats) -> Floats:
        """Velocities (n, 6), metres and radians in proportion, from the rows' duals."""
        result = np.zeros((len(self.free), 6))
        result[self.free] = rows[: self.rows].reshape(-1, 6)
        result[:, 3:] /= self.length_m
        return result


def assemble_system(
    centre_m: Floats,
    contacts: Contacts,
    fixed: Bools | None = None,
    joints: tuple[Joint, ...] = (),
    friction_factor: float = 1.0,
) -> System:
    """Assemble the equilibrium of pieces on contacts and joints.

    Parameters
    ----------
    centre_m : (n, 3) centres of volume
    contacts : Contacts; those between pieces that a joint unites are left out, since the joint
        carries everything between them until it breaks
    fixed : (n,) bool, default none
    friction_factor : on every coefficient
    """
    centre = np.asarray(centre_m, dtype=np.float64).reshape(-1, 3)
    count = len(centre)
    free = np.ones(count, np.bool_) if fixed is None else ~np.asarray(fixed, np.bool_)
    row = np.where(free, 6 * (np.cumsum(free) - 1), -1).astype(np.int64)
    if friction_factor != 1.0:
        contacts = with_friction(contacts, contacts.mu * friction_factor)
    used = _carrying(contacts, free, joints)
    rough = np.flatnonzero(used & (contacts.mu > FRICTIONLESS))
    smooth = np.flatnonzero(used & (contacts.mu <= FRICTIONLESS))
    frame = contact_frames(contacts.normal)
    length = _length(contacts, centre, used)
    sides = _Sides(centre, free, row, length)
    contact_part = sides.of_contacts(contacts, frame, rough, smooth)
    joint_part = sides.of_joints(joints, 3 * len(rough) + len(smooth))
    rows, columns, values = (np.concatenate(part) for part in zip(contact_part, joint_part, strict=True))
    shape = (6 * int(free.sum()), 3 * len(rough) + len(smooth) + 6 * len(joints))
    matrix = sp.csr_matrix((values, (rows, columns)), shape=shape)
    unlimited = np.zeros(0)
    return System(centre, free, row, contacts, frame, rough, smooth, tuple(joints), matrix, length, unlimited)


def limit_joints(system: System) -> System:
    """The same system with joints that carry no more than their design strength.

    Each joint's six columns become ``(s, Vx, Vy)`` and ``(r, T)`` in second-order cones, ``N, Mx,
    My`` free, and one slack per corner and one more, not negative, in rows that say

        N/A + Mx y/Ix - My x/Iy + s/A + r R/J + slack = f_d   at every corner (x, y)
        s/A + r R/J + slack = f_d                             (pressure is not credited)

    multiplied by A. Signs are those of forces on piece a, so tension is -N.
    """
    if not system.joints or system.limited:
        return system
    parts = [_strength_rows(joint, system.length_m) for joint in system.joints]
    strength = [np.full(slacks_of(j), j.design_strength_pa * j.patch.area_m2) for j in system.joints]
    start = system.joint_start
    limits = sp.csr_matrix(block_diag(*(rows for rows, _ in parts)))
    spread = sp.csr_matrix(block_diag(*(spread for _, spread in parts)))
    equilibrium = sp.hstack([system.matrix[:, :start], system.matrix[:, start:] @ spread], format="csr")
    beneath = sp.hstack([sp.csr_matrix((limits.shape[0], start)), limits], format="csr")
    matrix = sp.csr_matrix(sp.vstack([equilibrium, beneath], format="csr"))
    matrix.sort_indices()
    return replace(system, matrix=matrix, strength_n=np.concatenate(strength))


def slacks_of(joint: Joint) -> int:
    """Rows of strength that a limited joint has."""
    return len(joint.patch.corners_m) + 1


def _strength_rows(joint: Joint, length_m: float) -> tuple[Floats, Floats]:
    """Rows of strength (m + 1, 8 + m + 1), and the map (6, 8 + m + 1) from new columns to the wrench."""
    patch = joint.patch
    area, slacks = patch.area_m2, slacks_of(joint)
    x, y = patch.corners_m.T
    rows = np.zeros((slacks, 8 + slacks))
    rows[:, 0] = 1.0
    rows[:, 3] = length_m * area * patch.reach_m / patch.j_m4
    rows[:-1, 5] = -1.0
    rows[:-1, 6] = -length_m * area * y / patch.ix_m4
    rows[:-1, 7] = length_m * area * x / patch.iy_m4
    rows[:, 8:] = np.eye(slacks)
    spread = np.zeros((6, 8 + slacks))
    for wrench, column in enumerate((1, 2, 5, 6, 7, 4)):
        spread[wrench, column] = 1.0
    return rows, spread


def with_friction(contacts: Contacts, mu: Floats) -> Contacts:
    """The same contacts with other coefficients (k,)."""
    return replace(contacts, mu=np.asarray(mu, dtype=np.float64))


def contact_frames(normal: Floats) -> Floats:
    """Right-handed frames (k, 3, 3): rows are the normal and two tangents."""
    seed = np.where(np.abs(normal[:, :1]) < 0.7, [[1.0, 0.0, 0.0]], [[0.0, 1.0, 0.0]])
    first = np.cross(normal, seed)
    first /= np.linalg.norm(first, axis=1, keepdims=True)
    return np.stack([normal, first, np.cross(normal, first)], axis=1)


def grounded(contacts: Contacts, free: Bools) -> tuple[Ints, Ints]:
    """Whether each side stands on the ground: -1 for planes and fixed pieces, else the piece."""
    index = np.concatenate([np.arange(len(free)), [-1]])
    index[:-1][~free] = -1
    return index[np.where(contacts.a < 0, -1, contacts.a)], index[np.where(contacts.b < 0, -1, contacts.b)]


def _carrying(contacts: Contacts, free: Bools, joints: tuple[Joint, ...]) -> Bools:
    a, b = grounded(contacts, free)
    used: Bools = (a >= 0) | (b >= 0)
    for joint in joints:
        used &= ~((contacts.a == joint.a) & (contacts.b == joint.b))
        used &= ~((contacts.a == joint.b) & (contacts.b == joint.a))
    return used


def _length(contacts: Contacts, centre: Floats, used: Bools) -> float:
    """Mean arm of the contacts about their pieces' centres."""
    if not used.any():
        return 1.0
    arm = np.linalg.norm(contacts.point_m[used] - centre[contacts.a[used]], axis=1)
    return float(arm.mean()) or 1.0


_Triplets = tuple[Ints, Ints, Floats]


@dataclass(frozen=True, slots=True, eq=False)
class _Sides:
    """Writes what a force on a joint face does to the pieces on its two sides."""

    centre: Floats
    free: Bools
    row: Ints
    length: float

    def of_contacts(self, contacts: Contacts, frame: Floats, rough: Ints, smooth: Ints) -> _Triplets:
        order = np.concatenate([np.repeat(rough, 3), smooth])
        axis = np.concatenate([np.tile([0, 1, 2], len(rough)), np.zeros(len(smooth), np.int64)])
        force = frame[order, axis]
        scale = np.where((axis == 0) & (np.arange(len(order)) < 3 * len(rough)), contacts.mu[order], 1.0)
        force = force / scale[:, None]
        return self._both(contacts.a[order], contacts.b[order], contacts.point_m[order], force, np.zeros_like(force), 0)

    def of_joints(self, joints: tuple[Joint, ...], start: int) -> _Triplets:
        if not joints:
            return np.zeros(0, np.int64), np.zeros(0, np.int64), np.zeros(0)
        a = np.repeat([joint.a for joint in joints], 6)
        b = np.repeat([joint.b for joint in joints], 6)
        point = np.repeat([joint.patch.centroid_m for joint in joints], 6, axis=0)
        axes = np.stack([joint.patch.axes for joint in joints])
        none = np.zeros_like(axes)
        force = np.concatenate([axes, none], axis=1).reshape(-1, 3)
        couple = np.concatenate([none, axes], axis=1).reshape(-1, 3)
        return self._both(a, b, point, force, couple, start)

    def _both(self, a: Ints, b: Ints, point: Floats, force: Floats, couple: Floats, start: int) -> _Triplets:
        """Triplets of unit columns: `force` (c, 3) at `point` and `couple` on a, their opposites on b."""
        rows, columns, values = [], [], []
        for sign, piece in ((1.0, a), (-1.0, b)):
            column = np.flatnonzero((piece >= 0) & self.free[np.maximum(piece, 0)]) if len(self.free) else a[:0]
            which = piece[column]
            moment = np.cross(point[column] - self.centre[which], force[column]) / self.length + couple[column]
            values.append((sign * np.hstack([force[column], moment])).ravel())
            rows.append((self.row[which][:, None] + np.arange(6)).ravel())
            columns.append(np.repeat(column + start, 6))
        return np.concatenate(rows), np.concatenate(columns), np.concatenate(values)
