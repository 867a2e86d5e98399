"""What each contact carries: one plausible answer, and the range of all admissible ones.

The forces between rigid stones are not determined by equilibrium. The nominal answer gives
every contact point a compliance inverse to its share of bearing area and takes the forces that
arise by loading alone. The bracket holds for any stones: it minimises and maximises a force
over everything that balances.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.contact import BASE, PANES, chosen_contacts
from sim.statics.cones import Answer, Claim, solve
from sim.statics.loads import Loads
from sim.statics.programme import BALANCE, GAP, cones_of, mean_weight, outside, unbalanced
from sim.statics.strict import Strict, energy_is_sound, energy_programme, strict_check
from sim.statics.system import System, assemble_system, limit_joints

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Bracket:
    """Least and most of a force over all admissible states; nan where the solver gave no answer."""

    least: float
    most: float  # inf where nothing bounds it


@dataclass(frozen=True, slots=True, eq=False)
class Footprint:
    """Where a piece presses on the base."""

    piece: int
    patch: int  # index into the contacts' patches
    nominal_n: float
    least_n: float
    most_n: float


def nominal_forces(system: System, loads: Loads) -> Floats | None:
    """Forces (k, 3) that arise by loading alone on contacts of equal stiffness per area.

    Of a stack that stands only by wedging, the forces of least energy; None when nothing balances.
    """
    strict = strict_check(system, loads)
    if strict.verdict is Strict.STANDS:
        return strict.forces_n
    unit = mean_weight(loads, system)
    w = system.scaled(loads.wrench, unit)
    if system.columns == 0:
        return None

    answer = energy_programme(system, w).solve(lambda found: energy_is_sound(system, w, found))
    return None if answer.claim is Claim.NOTHING else system.forces(answer.x, unit)


def bracket(system: System, loads: Loads, objective: Floats, pinned_n: Floats | None = None) -> Bracket:
    """Least and most of a linear figure of the contact forces over all admissible states.

    Parameters
    ----------
    objective : (k, 3) weight of each force component (normal, tangents); the figure is their sum
    pinned_n : (k, 3) forces; those on panes are held at these values, so that no preload between
        panes counts
    """
    if pinned_n is not None:
        fixed_part = float((objective * pinned_n)[_on_panes(system)].sum())
        system, loads, objective = _with_panes_pinned(system, loads, objective, pinned_n)
        free_part = bracket(system, loads, objective)
        return Bracket(free_part.least + fixed_part, free_part.most + fixed_part)
    if system.columns == 0:
        return Bracket(0.0, 0.0)
    cost = _cost(system, objective)
    return Bracket(-_most(system, loads, -cost), _most(system, loads, cost))


def footprints(system: System, loads: Loads, nominal_n: Floats, ranges: bool = True) -> tuple[Footprint, ...]:
    """Forces on the base, patch by patch; `ranges` false leaves least and most out (nan)."""
    contacts = system.contacts
    on_base = contacts.b == BASE
    pinned = nominal_n if _on_panes(system).any() else None
    found = []
    for patch in np.unique(contacts.patch[on_base]):
        chosen = on_base & (contacts.patch == patch)
        objective = np.zeros((len(contacts.a), 3))
        objective[chosen, 0] = 1.0
        span = bracket(system, loads, objective, pinned) if ranges else Bracket(np.nan, np.nan)
        piece = int(contacts.a[np.argmax(chosen)])
        found.append(Footprint(piece, int(patch), float(nominal_n[chosen, 0].sum()), span.least, span.most))
    return tuple(found)


def peak_pressure(load_n_m: float, width_m: float, eccentricity_m: float) -> float:
    """Peak pressure in Pa under a rigid strip that presses on ground without tension.

    Parameters
    ----------
    load_n_m : per metre of strip
    width_m : positive
    eccentricity_m : of the load from the middle, under half the width

    References
    ----------
    Textbook: ``W/b (1 + 6 e/b)`` within the middle third, ``2 W / (3 (b/2 - e))`` outside.
    """
    offset = abs(eccentricity_m)
    if offset <= width_m / 6.0:
        return load_n_m / width_m * (1.0 + 6.0 * offset / width_m)
    return np.inf if offset >= width_m / 2.0 else 2.0 * load_n_m / (3.0 * (width_m / 2.0 - offset))


def _cost(system: System, objective: Floats) -> Floats:
    """The objective on the system's columns."""
    rough = objective[system.rough].copy()
    rough[:, 0] /= system.contacts.mu[system.rough]
    rest = system.columns - system.joint_start
    return np.concatenate([rough.ravel(), objective[system.smooth, 0], np.zeros(rest)])


def _most(system: System, loads: Loads, cost: Floats) -> float:
    """Greatest value of cost . z; inf where unbounded, nan without a sound answer."""
    unit = mean_weight(loads, system)
    w = system.scaled(loads.wrench, unit)
    size = float(np.abs(cost).max(initial=0.0))
    if size == 0.0:
        return 0.0
    cost = cost / size

    def accept(answer: Answer) -> bool:
        if answer.claim is Claim.NO_MOTION:
            gain = float(cost @ answer.z)
            ray = answer.z / max(gain, 1e-12)
            zero = np.zeros_like(w)
            return gain > 0.0 and unbalanced(system, zero, ray) < BALANCE and outside(system, ray) < BALANCE
        value = float(cost @ answer.z)
        scale = max(1.0, abs(value))
        balanced = unbalanced(system, w, answer.z) < BALANCE * scale and outside(system, answer.z) < BALANCE * scale
        return answer.claim is Claim.OPTIMAL and balanced and abs(-float(w @ answer.x) + value) < GAP * scale * 10.0

    answer = solve(None, w, system.matrix.T, -cost, cones_of(system).listed(), accept)
    if answer.claim is Claim.NO_MOTION:
        return np.inf
    return np.nan if answer.claim is not Claim.OPTIMAL else float(cost @ answer.z) * size * unit


def _on_panes(system: System) -> NDArray[np.bool_]:
    return np.isin(system.contacts.b, PANES) | np.isin(system.contacts.a, PANES)


def _with_panes_pinned(
    system: System, loads: Loads, objective: Floats, pinned_n: Floats
) -> tuple[System, Loads, Floats]:
    """The system without its pane contacts, their forces among the loads instead."""
    on_pane = _on_panes(system)
    contacts = system.contacts
    force = np.einsum("kc,kcx->kx", pinned_n, system.frame)
    for sign, piece in ((1.0, contacts.a), (-1.0, contacts.b)):
        for k in np.flatnonzero(on_pane & (piece >= 0)):
            arm = contacts.point_m[k] - system.centre_m[piece[k]]
            loads = loads.with_extra(int(piece[k]), sign * force[k], arm)
    kept = without(system, on_pane)
    return kept, loads, objective[~on_pane]


def without(system: System, dropped: NDArray[np.bool_]) -> System:
    """The system without some of its contacts (k,)."""
    contacts = chosen_contacts(system.contacts, ~dropped)
    less = assemble_system(system.centre_m, contacts, ~system.free, system.joints)
    return limit_joints(less) if system.limited else less
