"""What comes down, and how: the collapse motion in a builder's terms."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from sim.errors import SolverError
from sim.statics.cones import Answer, Claim, solve
from sim.statics.loads import Loads
from sim.statics.programme import BALANCE, WEIGHTLESS, cones_of, mean_weight, outside, unit_motion
from sim.statics.system import System

Floats = NDArray[np.float64]

MOVING = 0.02  # of the fastest piece: slower ones count as still
LEAST_INERTIA = 1.0e-3  # of the mean weight
TURNING = 0.05  # turn times reach over speed: less is plain sliding


@dataclass(frozen=True, slots=True, eq=False)
class Motion:
    """How one piece moves in a mechanism; speeds relative to the fastest piece."""

    piece: int
    speed: float
    direction: Floats  # (3,) unit, of its centre
    turns: bool  # about a hinge; else it slides
    hinge_m: Floats  # (3,) point of the axis nearest to the centre; nan when it slides
    axis: Floats  # (3,) unit; nan when it slides


def motions(velocity: Floats, centre_m: Floats, reach_m: float) -> tuple[Motion, ...]:
    """Describe the moving pieces of a mechanism, the fastest first.

    Parameters
    ----------
    velocity : (n, 6) from `Feasibility.mechanism` and the like
    centre_m : (n, 3)
    reach_m : size of a piece, to weigh turning against moving along
    """
    size = np.maximum(np.linalg.norm(velocity[:, :3], axis=1), np.linalg.norm(velocity[:, 3:], axis=1) * reach_m)
    if not size.max(initial=0.0) > 0.0:
        return ()
    order = np.argsort(-size, kind="stable")
    chosen = order[size[order] > MOVING * size.max()]
    return tuple(_motion(int(i), velocity[i], centre_m[i], reach_m, float(size[i] / size.max())) for i in chosen)


def _motion(piece: int, velocity: Floats, centre: Floats, reach_m: float, relative: float) -> Motion:
    along, turn = velocity[:3], velocity[3:]
    speed, spin = float(np.linalg.norm(along)), float(np.linalg.norm(turn))
    nothing = np.full(3, np.nan)
    direction = along / speed if speed > 0.0 else nothing
    if spin * reach_m <= TURNING * max(speed, spin * reach_m):
        return Motion(piece, relative, direction, False, nothing, nothing)
    hinge = centre + np.cross(turn, along) / spin**2
    return Motion(piece, relative, direction, True, hinge, turn / spin)


@dataclass(frozen=True, slots=True, eq=False)
class Lacking:
    """What the best admissible forces leave unbalanced."""

    force_n: Floats  # (n, 3)
    moment_nm: Floats  # (n, 3)
    share: Floats  # (n,) unbalanced force (and moment over the stack's arm) per own weight


def lacking_support(system: System, loads: Loads) -> Lacking:
    """Balance an unstable stack as well as contact forces can, and say what is left on each piece.

    Notes
    -----
    Minimises ``|A r + w|^2``, which always has a solution: its multipliers are the leftover itself.

    Raises
    ------
    SolverError
        When the solver gives no sound answer all the same.
    """
    unit = mean_weight(loads, system)
    left = _least_residual(system, system.scaled(loads.wrench, unit), np.ones(system.matrix.shape[0]))
    if left is None:
        raise SolverError("statics: no answer to what lacks support. Judge the stack as undetermined.")
    wrench = np.zeros((len(system.free), 6))
    wrench[system.free] = left[: system.rows].reshape(-1, 6) * unit
    size = np.linalg.norm(wrench[:, :3], axis=1) + np.linalg.norm(wrench[:, 3:], axis=1)
    weight = np.linalg.norm(loads.force_n, axis=1)
    share = np.divide(size, weight, out=np.zeros(len(weight)), where=weight > WEIGHTLESS)
    wrench[:, 3:] *= system.length_m
    return Lacking(wrench[:, :3], wrench[:, 3:], share)


def collapse_motion(system: System, loads: Loads) -> Floats | None:
    """How an unstable stack sets out: velocities (n, 6), largest 1; None without a sound answer.

    Of all motions that its contacts allow, the one nearest to free fall with each piece's weight as
    its inertia (Gauss's principle of least constraint); unlike a mechanism that merely proves
    collapse it is unique.
    """
    unit = mean_weight(loads, system)
    inertia = np.maximum(np.linalg.norm(loads.force_n[system.free], axis=1) / unit, LEAST_INERTIA)
    inertia = np.concatenate([np.repeat(inertia, 6), np.ones(system.matrix.shape[0] - system.rows)])
    left = _least_residual(system, system.scaled(loads.wrench, unit), inertia)
    return None if left is None else unit_motion(system.velocities(left / inertia))


def _least_residual(system: System, w: Floats, inertia: Floats) -> Floats | None:
    """What is left of ``A z + w`` where its square over `inertia` (per row) is least."""
    if system.columns == 0:
        return w

    def accept(answer: Answer) -> bool:
        left = system.matrix @ answer.z + w
        close = float(np.abs(left + inertia * answer.x).max(initial=0.0)) < BALANCE
        return answer.claim is Claim.OPTIMAL and close and outside(system, answer.z) < BALANCE

    weighted = sp.csc_matrix(sp.diags_array(inertia))
    answer = solve(weighted, w, system.matrix.T, np.zeros(system.columns), cones_of(system).listed(), accept)
    return None if answer.claim is Claim.NOTHING else -inertia * answer.x
