"""How far a stack that stands is from coming down."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.statics.loads import Loads
from sim.statics.programme import Feasible, Further, LoadFactor, feasible
from sim.statics.system import System, assemble_system, limit_joints
from sim.statics.tilt import CriticalTilt, critical_tilt, sliding_tilt, unsliding

Floats = NDArray[np.float64]

PUSH_AZIMUTHS = 8
LEAST_FRICTION = 0.01  # of the stack's own: one that needs less needs none
RESERVE_STEP = 0.002  # relative; bisection ends there
SAME_POINT = 1.0e-9  # of the longest distance between points: closer ones count as one
MANY = 60  # pieces: beyond, only those that others do not rest on are pushed


@dataclass(frozen=True, slots=True, eq=False)
class Push:
    """Least horizontal push at a piece's top that moves anything."""

    piece: int
    force_n: float  # inf when no push within reason does; nan when unknown
    azimuth_deg: float
    mechanism: Floats  # (n, 6)


@dataclass(frozen=True, slots=True, eq=False)
class Equilibrium:
    """Margins of one state; nan where a figure is unknown or was left out."""

    feasible: Feasible
    critical_tilt_deg: float  # sliding on the base included
    critical_azimuth_deg: float
    stack_tilt_deg: float  # on a base that it cannot slide on
    sliding_tilt_deg: float  # of the stack as one body on its base
    least_push_n: float
    least_push_piece: int  # -1: none
    friction_reserve: float  # mu over mu required; inf when it needs none
    pushes: tuple[Push, ...]
    tilt: CriticalTilt | None
    topple_energy_j: Floats  # (n,) nan where a piece has no footing of its own


def equilibrium(
    system: System, loads: Loads, tops_m: Floats | None = None, quick: bool = False, pieces: list[int] | None = None
) -> Equilibrium:
    """Gather the margins of a stack that is feasible.

    Parameters
    ----------
    tops_m : (n, 3) where each piece is pushed; without them no pushes
    quick : leave pushes and friction reserve out
    pieces : those to push; default all free ones, in big stacks those that carry nothing
    """
    tilt = critical_tilt(system, loads)
    sliding = sliding_tilt(system, loads)
    stack = tilt.least_deg
    if tilt.status is Feasible.YES and sliding.status is Feasible.YES:
        slides_first = tilt.least_deg > 0.98 * sliding.least_deg
        if slides_first and not quick:
            stack = critical_tilt(unsliding(system), loads).least_deg
        elif slides_first:
            stack = np.nan
    pushed: tuple[Push, ...] = ()
    if tops_m is not None and not quick:
        pushed = least_pushes(system, loads, tops_m, pieces)
    known = [push for push in pushed if not np.isnan(push.force_n)]
    weakest = min(known, key=lambda push: push.force_n) if known else None
    return Equilibrium(
        feasible=Feasible.YES,
        critical_tilt_deg=tilt.least_deg,
        critical_azimuth_deg=tilt.azimuth_deg,
        stack_tilt_deg=stack,
        sliding_tilt_deg=sliding.least_deg,
        least_push_n=weakest.force_n if weakest and len(known) == len(pushed) else np.nan,
        least_push_piece=weakest.piece if weakest else -1,
        friction_reserve=np.nan if quick else friction_reserve(system, loads),
        pushes=pushed,
        tilt=tilt,
        topple_energy_j=topple_energies(system, loads),
    )


def least_pushes(
    system: System,
    loads: Loads,
    tops_m: Floats,
    pieces: list[int] | None = None,
    azimuths: int = PUSH_AZIMUTHS,
) -> tuple[Push, ...]:
    """Find for each piece the least horizontal push at its top that moves anything.

    Parameters
    ----------
    tops_m : (n, 3) points in the tank's frame, such as each piece's highest vertex
    """
    chosen = pushed_by_default(system) if pieces is None else pieces
    return tuple(_least_push(system, loads, piece, tops_m[piece], azimuths) for piece in chosen if system.free[piece])


def pushed_by_default(system: System) -> list[int]:
    """All free pieces, or in big stacks those that nothing rests on."""
    free = np.flatnonzero(system.free)
    if len(free) <= MANY:
        return [int(i) for i in free]
    contacts = system.contacts
    a_above = contacts.normal[:, 2] >= 0.0
    carrying = np.where(a_above, contacts.b, contacts.a)
    return [int(i) for i in np.setdiff1d(free, carrying)]


def _least_push(system: System, loads: Loads, piece: int, top_m: Floats, azimuths: int) -> Push:
    best: LoadFactor | None = None
    best_angle = np.nan
    arm = top_m - system.centre_m[piece]
    pushed = Further(system, loads)
    for angle in np.arange(azimuths) * 2.0 * np.pi / azimuths:
        further = np.zeros((len(system.free), 6))
        further[piece, :3] = np.cos(angle), np.sin(angle), 0.0
        further[piece, 3:] = np.cross(arm, further[piece, :3])
        found = pushed.greatest(further)
        if found.status is not Feasible.YES:
            return Push(piece, np.nan, np.nan, found.mechanism)
        if best is None or found.factor < best.factor:
            best, best_angle = found, angle
    if best is None:
        return Push(piece, np.nan, np.nan, np.zeros((len(system.free), 6)))
    return Push(piece, best.factor, float(np.degrees(best_angle)), best.mechanism)


def friction_reserve(system: System, loads: Loads) -> float:
    """Friction over the friction that the stack needs, all coefficients scaled alike.

    Over 1 it stands; inf when it needs (next to) none; nan when it does not stand.
    """

    def stands(share: float) -> bool:
        less = assemble_system(system.centre_m, system.contacts, ~system.free, system.joints, share)
        return feasible(limit_joints(less) if system.limited else less, loads).status is Feasible.YES

    if not stands(1.0):
        return np.nan
    if stands(LEAST_FRICTION):
        return np.inf
    low, high = LEAST_FRICTION, 1.0
    while high / low > 1.0 + RESERVE_STEP:
        middle = float(np.sqrt(low * high))
        low, high = (low, middle) if stands(middle) else (middle, high)
    return 1.0 / high


def topple_energies(system: System, loads: Loads) -> Floats:
    """Energy that tips each piece over the nearest edge of what it stands on, as if nothing leant on it.

    ``W (sqrt(a^2 + h^2) - h)`` with h the height of its centre over its footing and a the least
    distance from the centre to the footing's edge, in plan.
    """
    contacts, weight = system.contacts, loads.weight_n
    energy = np.full(len(system.free), np.nan)
    upwards = contacts.normal[:, 2]
    above = np.where(upwards > 0.0, contacts.a, np.where(upwards < 0.0, contacts.b, -1))
    order = np.argsort(above, kind="stable")
    starts = np.searchsorted(above[order], np.arange(len(energy) + 1))
    for piece in np.flatnonzero(system.free & (weight > 0.0)):
        points = contacts.point_m[order[starts[piece] : starts[piece + 1]]]
        centre = system.centre_m[piece]
        if len(points) < 3:
            continue
        height = float(centre[2] - points[:, 2].mean())
        edge = _least_edge_distance(points[:, :2] - centre[:2])
        if height > 0.0 and edge >= 0.0:
            energy[piece] = weight[piece] * (np.hypot(edge, height) - height)
    return energy


def _least_edge_distance(points: Floats) -> float:
    """Distance of the origin to the nearest edge of the points' hull; negative outside or on a line of points.

    The hull reaches least far across one of its edges, and across any other pair of points farther.
    """
    i, j = np.triu_indices(len(points), 1)
    along = points[j] - points[i]
    length = np.hypot(along[:, 0], along[:, 1])
    longest = float(length.max(initial=0.0))
    real = length > SAME_POINT * longest
    across = np.stack([along[real, 1], -along[real, 0]], axis=1) / length[real, None]
    reach = points @ across.T
    if not real.any() or np.ptp(reach, axis=0).min() < SAME_POINT * longest:
        return -1.0
    return float(min(reach.max(axis=0).min(), -reach.min(axis=0).max()))
