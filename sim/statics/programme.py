"""The fast judge: is there any set of contact forces that holds the stack, and how much more would it bear?

    maximise lambda  subject to  A r + w + lambda e = 0,  |t| <= mu n

The multipliers of the equilibrium rows are velocities: where no forces balance, or at the
greatest lambda, they are the motion by which the stack comes down.

References
----------
Livesley, R. K. (1978). Limit analysis of structures formed from rigid blocks. Int. J. Numer.
Meth. Eng. 12, 1853-1871.
Casapulla, C., Cascini, L. & Portioli, F. (2014): as a second-order cone programme.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from sim.statics.cones import Answer, Claim, Cones, Repeated, solve
from sim.statics.loads import Loads
from sim.statics.system import System, slacks_of

Floats = NDArray[np.float64]

BALANCE = 1.0e-6  # of the mean weight: forces that leave more unbalanced are no solution
LARGEST_FORCE = 1.0e4  # mean weights: a mechanism proves collapse when forces up to here cannot stop it
WEIGHTLESS = 1.0e-9  # newtons: less counts as no weight
GAP = 1.0e-4  # between the load that forces carry and the load that the mechanism bears


class Feasible(Enum):
    """Whether forces exist that hold everything."""

    YES = "feasible"
    NO = "infeasible"
    UNKNOWN = "undetermined"


@dataclass(frozen=True, slots=True, eq=False)
class Feasibility:
    """Answer of the equilibrium programme."""

    status: Feasible
    forces_n: Floats  # (k, 3) on piece a along the contact frames; zeros unless feasible
    unbalanced: float  # largest leftover of a row, in mean weights
    mechanism: Floats  # (n, 6) velocities of the collapse, largest 1; zeros unless infeasible
    note: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class LoadFactor:
    """Greatest multiple of a further load."""

    status: Feasible  # NO: nothing holds even without it
    factor: float  # inf when no multiple brings it down; nan unless status is YES
    mechanism: Floats  # (n, 6)
    forces_n: Floats  # (k, 3) at that multiple
    resisting_n: float = np.nan  # power that weights and glue take from the mechanism as it is scaled here
    note: str = ""


def mean_weight(loads: Loads, system: System) -> float:
    """Mean size of the effective weights of the free pieces, or 1 N where there is none."""
    size = np.linalg.norm(loads.force_n[system.free], axis=1)
    mean = float(size.mean()) if len(size) else 0.0
    return mean if mean > WEIGHTLESS else 1.0


def feasible(system: System, loads: Loads) -> Feasibility:
    """Say whether any admissible forces hold the stack.

    Parameters
    ----------
    system : System
    loads : Loads of its n pieces

    Returns
    -------
    Feasibility
        'feasible' with forces whose balance was recomputed, 'infeasible' with a mechanism whose
        power was recomputed, else 'undetermined' with a note.
    """
    unit = mean_weight(loads, system)
    w = system.scaled(loads.wrench, unit)
    none = np.zeros((len(system.contacts.a), 3))
    still = np.zeros((len(system.free), 6))
    if not np.isfinite(w).all() or not np.isfinite(system.matrix.data).all():
        return Feasibility(Feasible.UNKNOWN, none, np.inf, still, "weights or contacts are no finite numbers")
    if system.rows == 0 or not np.any(w):
        return Feasibility(Feasible.YES, none, 0.0, still)
    if system.columns == 0:
        return Feasibility(Feasible.NO, none, np.inf, unit_motion(system.velocities(w)))

    def accept(answer: Answer) -> bool:
        if answer.claim is Claim.OPTIMAL:
            return unbalanced(system, w, answer.z) < BALANCE and outside(system, answer.z) < BALANCE
        return answer.claim is Claim.NO_FORCES and proves_collapse(system, w, -answer.x)

    answer = solve(None, w, system.matrix.T, np.zeros(system.columns), cones_of(system).listed(), accept)
    if answer.claim is Claim.OPTIMAL:
        leftover = unbalanced(system, w, answer.z)
        return Feasibility(Feasible.YES, system.forces(answer.z, unit), leftover, still)
    if answer.claim is Claim.NO_FORCES:
        motion = unit_motion(system.velocities(-answer.x))
        return Feasibility(Feasible.NO, none, np.inf, motion)
    return Feasibility(Feasible.UNKNOWN, none, np.inf, still, f"the solver gave no sound answer ({answer.status})")


def load_factor(system: System, loads: Loads, further: Floats) -> LoadFactor:
    """Find the greatest multiple of a further load that the stack bears.

    Call it for stacks that stand without the further load: one that needs it gets a factor too.

    Parameters
    ----------
    further : (n, 6) wrenches about the pieces' centres, N and N m

    Returns
    -------
    LoadFactor
        `factor` is inf when no multiple brings the stack down.
    """
    return Further(system, loads).greatest(further)


class Further:
    """The programme of the greatest further load, for one further load after another.

    Set up once: only one row changes with the load. Not for two threads at once.
    """

    def __init__(self, system: System, loads: Loads) -> None:
        self.system, self.loads = system, loads
        self.unit = mean_weight(loads, system)
        self.w = system.scaled(loads.wrench, self.unit)
        self.programme: Repeated | None = None
        self.last_row = np.zeros(0, np.uint64)  # places of its entries among those of the whole matrix

    def greatest(self, further: Floats) -> LoadFactor:
        """See `load_factor`."""
        system, unit, w = self.system, self.unit, self.w
        e = system.scaled(further, unit, dead=False)
        none, still = np.zeros((len(system.contacts.a), 3)), np.zeros((len(system.free), 6))
        if system.columns == 0 or not np.any(e):
            known = feasible(system, self.loads)
            factor = np.nan if known.status is not Feasible.YES else (np.inf if not np.any(e) else 0.0)
            return LoadFactor(known.status, factor, known.mechanism, known.forces_n, note=known.note)
        size = float(np.abs(e).max())
        answer = self._solved(e / size)
        if answer.claim is Claim.NOTHING:
            note = f"the solver gave no sound answer ({answer.status})"
            return LoadFactor(Feasible.UNKNOWN, np.nan, still, none, note=note)
        motion = system.velocities(-answer.x)
        fastest = speed(motion)
        motion = unit_motion(motion)
        if answer.claim is Claim.NO_FORCES:
            return LoadFactor(Feasible.NO, np.nan, motion, none)
        if answer.claim is Claim.NO_MOTION:
            return LoadFactor(Feasible.YES, np.inf, still, none)
        forces = system.forces(answer.z[:-1], unit)
        resisting = float(w @ answer.x) * unit / fastest if fastest > 0.0 else np.nan
        return LoadFactor(Feasible.YES, max(float(answer.z[-1]), 0.0) / size, motion, forces, resisting)

    def _solved(self, e: Floats) -> Answer:
        def accept(answer: Answer) -> bool:
            return _sound(self.system, self.w, e, answer)

        if self.programme is not None:
            return self.programme.solve(accept, entries=(self.last_row, e))
        rows = with_row(self.system, e)
        self.last_row = rows.indptr[1:].astype(np.uint64) - np.uint64(1)
        h = np.zeros(self.system.columns + 1)
        h[-1] = -1.0
        self.programme = Repeated(None, self.w, rows, h, cones_of(self.system).listed(more=1))
        return self.programme.solve(accept)


def unbalanced(system: System, w: Floats, z: Floats) -> float:
    """Largest leftover of the equilibrium rows, scaled."""
    return float(np.abs(system.matrix @ z[: system.columns] + w).max(initial=0.0))


def outside(system: System, z: Floats) -> float:
    """How far forces lie outside their cones, scaled."""
    worst = _outside_contacts(system, z)
    for part in _limited_parts(system, z):
        worst = max(worst, np.hypot(part[1], part[2]) - part[0], abs(part[4]) - part[3], -part[8:].min())
    return float(worst)


def _outside_contacts(system: System, z: Floats) -> float:
    blocks = z[: 3 * len(system.rough)].reshape(-1, 3)
    rough = (np.hypot(blocks[:, 1], blocks[:, 2]) - blocks[:, 0]).max(initial=0.0)
    return float(max(rough, -z[3 * len(system.rough) : system.joint_start].min(initial=0.0)))


def _limited_parts(system: System, z: Floats) -> list[Floats]:
    """Columns of each joint of limited strength."""
    if not system.limited:
        return []
    widths = [8 + slacks_of(joint) for joint in system.joints]
    return np.split(z[system.joint_start : system.columns], np.cumsum(widths)[:-1])


def proves_collapse(system: System, w: Floats, velocity: Floats) -> bool:
    """Whether a motion gains power from the loads faster than any contact forces could take it.

    Contacts that open or slide as their cones allow take none; what the motion violates, forces
    of `LARGEST_FORCE` could feed on, and the loads must still win.
    """
    power = float(w @ velocity)
    return power > LARGEST_FORCE * _violation(system, velocity) and power > 0.0


def _violation(system: System, velocity: Floats) -> float:
    parting = system.matrix.T @ velocity
    if not system.limited:
        return max(outside(system, parting), float(np.abs(parting[system.joint_start :]).max(initial=0.0)))
    free = max(float(np.abs(part[5:8]).max()) for part in _limited_parts(system, parting))
    return max(outside(system, parting), free)


def _sound(system: System, w: Floats, e: Floats, answer: Answer) -> bool:
    velocity = -answer.x
    if answer.claim is Claim.NO_FORCES:
        return proves_collapse(system, w, velocity)
    factor = float(answer.z[-1])
    size = max(1.0, abs(factor))
    if answer.claim is Claim.NO_MOTION:
        # a ray of forces that carries the further load alone
        scale = max(factor, 1e-12)
        ray = answer.z / scale
        return factor > 0.0 and unbalanced(system, e, ray) < BALANCE and outside(system, ray) < BALANCE
    if unbalanced(system, w + factor * e, answer.z) > BALANCE * size or outside(system, answer.z) > BALANCE * size:
        return False
    # the mechanism bears no less: weak duality closes the bracket
    works = float(e @ velocity)
    return works > 0.0 and abs(-float(w @ velocity) / works - factor) < GAP * size


def cones_of(system: System) -> Cones:
    """Cones of a system's columns."""
    if system.limited:
        return Cones(len(system.rough), len(system.smooth), 0, tuple(slacks_of(joint) for joint in system.joints))
    return Cones(len(system.rough), len(system.smooth), 6 * len(system.joints))


def with_row(system: System, e: Floats) -> sp.csc_matrix:
    """The system's columns as rows (velocities as columns), and one more row beneath them."""
    matrix = system.matrix
    ends = matrix.indptr[1:]
    data = np.insert(matrix.data, ends, e)
    indices = np.insert(matrix.indices, ends, system.columns)
    pointers = matrix.indptr + np.arange(matrix.shape[0] + 1, dtype=matrix.indptr.dtype)
    # the row indices of a row-wise matrix's transpose are its own column indices
    return sp.csc_matrix((data, indices, pointers), shape=(system.columns + 1, matrix.shape[0]))  # type: ignore[arg-type]  # the stubs lack this form


def speed(velocity: Floats) -> float:
    """Speed (of the fastest piece, or turn where nothing moves along) by which motions are scaled."""
    fastest = float(np.linalg.norm(velocity[:, :3], axis=1).max(initial=0.0))
    turning = float(np.linalg.norm(velocity[:, 3:], axis=1).max(initial=0.0))
    return fastest if fastest > 1e-9 * turning else turning


def unit_motion(velocity: Floats) -> Floats:
    """Velocities scaled so that the fastest piece moves at 1."""
    size = speed(velocity)
    return velocity / size if size > 0.0 else velocity
