"""Contact points as small springs with Coulomb friction, and Newton's method for where they come to rest.

With compliance c at a contact and relative displacement u of its two sides:

    n = max(0, -u_n / c)         it presses as it is pressed, and never pulls
    t = -u_t / c, |t| <= mu n    it sticks, or slides against full friction

A displacement whose forces balance the loads is a stack that stands without preload and without
dilatancy. Newton's steps are damped while the balance is bad; failing to arrive proves nothing.
"""

from __future__ import annotations

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.linalg.lapack import dgesv
from scipy.sparse.linalg import splu

from sim.compiling import compiled
from sim.statics.system import System

Floats = NDArray[np.float64]

NEWTON_STEPS = 25
ARRIVED = 1.0e-9  # of the mean weight, unbalanced
LEAST_DAMPING = 1.0e-10
DENSE_ROWS = 130


class Springs:
    """A system's contacts and joints as springs; `compliance` (k,) of contacts, (j, 6) of joints."""

    def __init__(self, system: System, compliance: Floats, joint_compliance: Floats) -> None:
        self.system, self.compliance = system, compliance
        chosen = np.concatenate([system.rough, system.smooth])
        contacts = system.contacts
        self.chosen = chosen
        self.mu = np.where(np.isin(chosen, system.smooth), 0.0, contacts.mu[chosen])
        self.arms = np.zeros((len(chosen), 2, 3, 6))
        self.block = np.full((len(chosen), 2), -1, np.int64)
        for side, sign, piece in ((0, 1.0, contacts.a[chosen]), (1, -1.0, contacts.b[chosen])):
            here = np.flatnonzero(piece >= 0)
            here = here[system.free[piece[here]]]
            which = piece[here]
            frame = sign * system.frame[chosen[here]]
            arm = contacts.point_m[chosen[here]] - system.centre_m[which]
            self.arms[here, side, :, :3] = frame
            self.arms[here, side, :, 3:] = np.cross(arm[:, None], frame) / system.length_m
            self.block[here, side] = system.row[which] // 6
        self._number_blocks()
        start = system.joint_start
        columns = system.matrix[:, start:]
        self.joint_columns = columns
        self.joint_stiffness = 1.0 / joint_compliance.ravel() if len(system.joints) else np.zeros(0)
        self.joint_matrix = (columns @ sp.diags_array(self.joint_stiffness) @ columns.T).tocsc()

    def _number_blocks(self) -> None:
        """Give every 6 x 6 block of the stiffness matrix its slot, row by row."""
        count = self.system.rows // 6
        a, b = self.block[:, 0], self.block[:, 1]
        both = (a >= 0) & (b >= 0)
        keys = np.concatenate([np.arange(count) * (count + 1), (a * count + b)[both], (b * count + a)[both]])
        slots = np.unique(keys)
        self.indices = slots % max(count, 1)
        self.pointers = np.searchsorted(slots, np.arange(count + 1) * count)
        self.slot = np.full((len(a), 2, 2), -1, np.int64)
        for i, p in enumerate((a, b)):
            for j, q in enumerate((a, b)):
                real = (p >= 0) & (q >= 0)
                self.slot[real, i, j] = np.searchsorted(slots, (p * count + q)[real])
        self.blocks = len(slots)

    def rest(self, w: Floats, start: Floats | None = None) -> tuple[bool, Floats, Floats]:
        """Look for the displacement at which everything balances.

        Parameters
        ----------
        w : (6 f,) scaled loads
        start : (6 f,) first guess; default that of contacts which pull as they press

        Returns
        -------
        arrived : bool
        variables : cone variables of the system at the last step
        displacement : (6 f,)
        """
        v = self._solve(self._state(np.zeros_like(w), True)[1], w, 1e-6) if start is None else start
        force, data, leftover = self._state(v, False, w)
        size = float(np.abs(leftover).max(initial=0.0))
        damping = 1e-3
        for _ in range(NEWTON_STEPS):
            if not np.isfinite(size) or size < ARRIVED:
                break
            step = self._solve(data, leftover, damping)
            for shrink in (1.0, 0.4, 0.1):
                trial = v + shrink * step
                new_force, new_data, new_leftover = self._state(trial, False, w)
                new_size = float(np.abs(new_leftover).max(initial=0.0))
                if new_size < size:
                    break
            damping = max(LEAST_DAMPING, damping * (0.1 if new_size < 0.5 * size else 1.0 if new_size < size else 5.0))
            v, force, data, leftover, size = trial, new_force, new_data, new_leftover, new_size
        return bool(size < ARRIVED), self._variables(force, v), v

    def _state(self, v: Floats, glued: bool, w: Floats | float = 0.0) -> tuple[Floats, Floats, Floats]:
        """Forces, stiffness blocks and what is left unbalanced at a displacement."""
        data = np.zeros((self.blocks, 6, 6))
        force = np.zeros((len(self.chosen), 3))
        out = np.zeros((self.system.rows // 6, 6))
        _forces_and_stiffness(
            v.reshape(-1, 6), self.arms, self.block, self.slot, self.mu, self.compliance[self.chosen], glued,
            force, data, out,
        )  # fmt: skip
        return force, data, out.ravel() - self.joint_matrix @ v + w

    def _solve(self, data: Floats, right: Floats, damping: float) -> Floats:
        size = len(right)
        matrix = sp.bsr_matrix((data, self.indices, self.pointers), shape=(size, size))
        if size <= DENSE_ROWS:
            dense = matrix.toarray() + self.joint_matrix.toarray()
            dense.flat[:: size + 1] += damping
            # what comes out is checked by its balance: an ill-conditioned step needs no warning
            _, _, solved, singular = dgesv(dense, right, overwrite_a=True)
            return np.full(size, np.nan) if singular else np.asarray(solved)
        sparse = matrix.tocsc() + self.joint_matrix + damping * sp.eye_array(size, format="csc")
        return splu(sp.csc_matrix(sparse), permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.1).solve(right)

    def _variables(self, force: Floats, v: Floats) -> Floats:
        rough = len(self.system.rough)
        blocks = force[:rough].copy()
        blocks[:, 0] *= self.mu[:rough]
        joints = -self.joint_stiffness * (self.joint_columns.T @ v)
        return np.concatenate([blocks.ravel(), force[rough:, 0], joints])


@compiled
def _forces_and_stiffness(v, arms, block, slot, mu, compliance, glued, force, data, out):  # type: ignore[no-untyped-def]
    """Forces (k, 3) and minus their derivative, as 6 x 6 blocks; `glued` contacts also pull and never slide."""
    d = np.zeros((3, 3))
    half = np.zeros((6, 3))
    for k in range(len(block)):
        u = np.zeros(3)
        for side in range(2):
            i = block[k, side]
            if i >= 0:
                for p in range(3):
                    for q in range(6):
                        u[p] += arms[k, side, p, q] * v[i, q]
        stiff = 1.0 / compliance[k]
        if not glued and u[0] >= 0.0:
            continue
        d[:] = 0.0
        d[0, 0] = stiff
        n = -u[0] * stiff
        t1, t2 = -u[1] * stiff, -u[2] * stiff
        size = np.sqrt(t1 * t1 + t2 * t2)
        if glued or size <= mu[k] * n:
            d[1, 1] = stiff
            d[2, 2] = stiff
        else:
            e1, e2 = t1 / size, t2 / size
            share = mu[k] * n / size
            t1, t2 = share * t1, share * t2
            d[1, 0] = mu[k] * e1 * stiff
            d[2, 0] = mu[k] * e2 * stiff
            d[1, 1] = share * stiff * (1.0 - e1 * e1)
            d[2, 2] = share * stiff * (1.0 - e2 * e2)
            d[1, 2] = -share * stiff * e1 * e2
            d[2, 1] = d[1, 2]
        if mu[k] <= 0.0:
            t1 = t2 = 0.0
            d[1:, :] = 0.0
        force[k, 0], force[k, 1], force[k, 2] = n, t1, t2
        for side in range(2):
            i = block[k, side]
            if i < 0:
                continue
            for q in range(6):
                out[i, q] += arms[k, side, 0, q] * n + arms[k, side, 1, q] * t1 + arms[k, side, 2, q] * t2
                for p in range(3):
                    half[q, p] = (
                        arms[k, side, 0, q] * d[0, p] + arms[k, side, 1, q] * d[1, p] + arms[k, side, 2, q] * d[2, p]
                    )
            for other in range(2):
                s = slot[k, side, other]
                if s < 0:
                    continue
                for q in range(6):
                    for r in range(6):
                        data[s, q, r] += (
                            half[q, 0] * arms[k, other, 0, r]
                            + half[q, 1] * arms[k, other, 1, r]
                            + half[q, 2] * arms[k, other, 2, r]
                        )
