"""The strict judge: does the stack stand without living on dilatancy or preload?

The equilibrium programme lets sliding contacts part as they slide (its friction is
associative), so a stone wedged between two walls 'stands' for any friction, pressed by forces
that nothing put there. Here contacts have a compliance and slide without parting:

    minimise 1/2 r'Cr + sum_k mu_k s_k n_k   subject to  A r + w = 0,  |t| <= mu n
    s_k <- |slip_k|, and again

If the slips settle, contact forces exist that arise by loading alone. If they grow without
end, the stack falls.

References
----------
Acary, V., Cadoux, F., Lemarechal, C. & Malick, J. (2011). A formulation of the linear discrete
Coulomb friction problem via convex optimization. ZAMM 91(2), 155-175.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from sim.contact import PANES, Contacts
from sim.joints import SHEAR_TO_NORMAL_STIFFNESS, Joint
from sim.materials import BED_STIFFNESS_PA_M
from sim.statics.cones import Answer, Claim, Cones, Repeated
from sim.statics.elastic import Springs
from sim.statics.loads import Loads
from sim.statics.programme import BALANCE, mean_weight, outside, unbalanced, unit_motion
from sim.statics.system import System

Floats = NDArray[np.float64]

ROUNDS = 80
EARLIEST = 5  # rounds before growth means anything
GROWING = 0.999  # ratio of successive increments; a keystone of taper a has 1 / (1 + tan(a) / mu)
GROWN = 3  # rounds in a row
SETTLED = 1.0e-3  # of the contact's own squeeze
RETRY = 6  # rounds between attempts of the springs
NOISE = 1.0e-6  # slip that the solver cannot tell from none, scaled
LEAST_AREA_SHARE = 0.02  # of the mean: corners of lines and points count as so much
LEAST_AREA_M2 = 1.0e-6  # where no contact has an area


class Strict(Enum):
    """Verdict of the strict judge."""

    STANDS = "stands"
    FALLS = "falls"
    UNKNOWN = "undetermined"


@dataclass(frozen=True, slots=True, eq=False)
class StrictAnswer:
    """The strict verdict, with the forces of loading alone when it stands."""

    verdict: Strict
    forces_n: Floats  # (k, 3) on piece a along the contact frames; zeros unless it stands
    joints_n: Floats  # (j, 6) wrenches, in the patches' axes, tension positive
    rounds: int  # of the fixed point; 0 when the springs came to rest at once
    ratio: float  # of the last increments; nan when there were too few
    pane_thrust_n: float  # sum of normal forces on panes
    motion: Floats  # (n, 6) how it sets out where it falls, largest 1; else zeros
    note: str = ""


def strict_check(system: System, loads: Loads, sprung: bool = False) -> StrictAnswer:
    """Judge a stack that the equilibrium programme finds feasible.

    Of one that is not the answer is 'undetermined' at best.

    Parameters
    ----------
    sprung : `rests` has been tried already, in vain

    Returns
    -------
    StrictAnswer
        'falls' when the slips grow without end, 'undetermined' when they neither grow nor settle.
    """
    unit = mean_weight(loads, system)
    w = system.scaled(loads.wrench, unit)
    if system.rows == 0 or not np.any(w):
        return _answer(system, Strict.STANDS, np.zeros(system.columns), unit, 0, np.nan)
    if system.columns == 0:
        return _answer(system, Strict.FALLS, np.zeros(0), unit, 0, np.nan, "nothing holds it")
    rest = None if sprung else _at_rest(system, w, unit, None)
    return rest or _fixed_point(system, w, unit)


def rests(system: System, loads: Loads) -> StrictAnswer | None:
    """The strict check's quick half: 'stands' when the springs come to rest, None when they do not.

    It needs no feasible stack: forces at rest are forces that balance.
    """
    unit = mean_weight(loads, system)
    w = system.scaled(loads.wrench, unit)
    if system.rows == 0 or not np.any(w):
        return _answer(system, Strict.STANDS, np.zeros(system.columns), unit, 0, np.nan)
    return _at_rest(system, w, unit, None) if system.columns and np.isfinite(w).all() else None


def _at_rest(
    system: System, w: Floats, unit: float, start: Floats | None, rounds: int = 0, ratio: float = np.nan
) -> StrictAnswer | None:
    springs = Springs(system, contact_compliance(system.contacts), joint_compliance(system))
    arrived, variables, _ = springs.rest(w, start)
    if arrived and unbalanced(system, w, variables) < BALANCE and outside(system, variables) < BALANCE:
        return _answer(system, Strict.STANDS, variables, unit, rounds, ratio)
    return None


def contact_compliance(contacts: Contacts) -> Floats:
    """Compliance (k,) of contact points by their share of area; its mean area gives 1."""
    area = contacts.area_m2
    mean = _mean_area(contacts)
    compliance: Floats = mean / np.maximum(area, LEAST_AREA_SHARE * mean)
    if not np.any(area > 0.0):
        compliance = np.ones(len(area))
    return compliance


def joint_compliance(system: System) -> Floats:
    """Compliance (j, 6) of glued patches on the scale of the contacts'."""
    return np.array([_of_joint(joint, system) for joint in system.joints]).reshape(-1, 6)


def _of_joint(joint: Joint, system: System) -> Floats:
    patch, length = joint.patch, system.length_m
    stiffness = joint.stiffness_pa_m * np.array(
        [
            SHEAR_TO_NORMAL_STIFFNESS * patch.area_m2,
            SHEAR_TO_NORMAL_STIFFNESS * patch.area_m2,
            patch.area_m2,
            patch.ix_m4 / length**2,
            patch.iy_m4 / length**2,
            SHEAR_TO_NORMAL_STIFFNESS * patch.j_m4 / length**2,
        ]
    )
    return BED_STIFFNESS_PA_M.default * _mean_area(system.contacts) / stiffness


def _mean_area(contacts: Contacts) -> float:
    positive = contacts.area_m2[contacts.area_m2 > 0.0]
    return float(positive.mean()) if len(positive) else LEAST_AREA_M2


def variable_compliance(system: System) -> Floats:
    """Compliance of every cone variable of the system's columns."""
    contacts = contact_compliance(system.contacts)
    mu = system.contacts.mu[system.rough]
    rough = np.stack([contacts[system.rough] / mu**2, contacts[system.rough], contacts[system.rough]], axis=1)
    return np.concatenate([rough.ravel(), contacts[system.smooth], joint_compliance(system).ravel()])


def energy_programme(system: System, w: Floats) -> Repeated:
    """The programme of least complementary energy, for one set of slips after another."""
    compliance = variable_compliance(system)
    inner = sp.eye_array(system.columns, format="csr")[: system.joint_start]
    g = sp.vstack([system.matrix, -inner], format="csc")
    h = np.concatenate([-w, np.zeros(system.joint_start)])
    cones = Cones(len(system.rough), len(system.smooth), 0, balanced=system.rows).listed()
    return Repeated(sp.csc_matrix(sp.diags_array(compliance)), np.zeros(system.columns), sp.csc_matrix(g), h, cones)


def energy_is_sound(system: System, w: Floats, answer: Answer) -> bool:
    """Whether forces of least energy balance and lie in their cones."""
    optimal = answer.claim is Claim.OPTIMAL
    return optimal and unbalanced(system, w, answer.x) < BALANCE and outside(system, answer.x) < BALANCE


class _Slips:
    """Slips of the fixed point, round after round."""

    def __init__(self, count: int) -> None:
        self.now = np.zeros(count)
        self.increment = np.zeros(count)
        self.ratio = np.nan
        self.growing = 0

    def take(self, new: Floats, squeeze: Floats, round_: int) -> Strict | None:
        """Move on to the new slips; a verdict once there is one."""
        increment = new - self.now
        size, last = float(np.abs(increment).max(initial=0.0)), float(np.abs(self.increment).max(initial=0.0))
        self.ratio = size / last if last > 0.0 else np.nan
        if np.all(np.abs(increment) <= SETTLED * squeeze + NOISE):
            return Strict.STANDS
        self.growing = self.growing + 1 if round_ > EARLIEST and self.ratio >= GROWING else 0
        self.now, self.increment = new, increment
        return Strict.FALLS if self.growing >= GROWN else None


def _fixed_point(system: System, w: Floats, unit: float) -> StrictAnswer:
    programme = energy_programme(system, w)
    compliance = variable_compliance(system)
    rough = len(system.rough)
    slips = _Slips(rough)
    last = np.zeros(system.rows)

    def accept(answer: Answer) -> bool:
        return energy_is_sound(system, w, answer)

    for round_ in range(1, ROUNDS + 1):
        q = np.zeros(system.columns)
        q[: 3 * rough : 3] = slips.now
        answer = programme.solve(accept, q=q)
        if answer.claim is Claim.NOTHING:
            note = f"the solver gave no sound answer ({answer.status})"
            return _answer(system, Strict.UNKNOWN, answer.x, unit, round_, slips.ratio, note)
        moved = system.matrix.T @ answer.z[: system.rows] + compliance * answer.x
        blocks = moved[: 3 * rough].reshape(-1, 3)
        squeeze = (compliance * np.abs(answer.x))[: 3 * rough].reshape(-1, 3).max(axis=1)
        verdict = slips.take(np.hypot(blocks[:, 1], blocks[:, 2]), squeeze, round_)
        if verdict is Strict.FALLS or (verdict is None and round_ % RETRY == 0):
            # a better start for the springs; where they come to rest, growth was but a phase
            rest = _at_rest(system, w, unit, answer.z[: system.rows], round_, slips.ratio)
            if rest is not None:
                return rest
        if verdict is not None:
            note = "held only by wedging" if verdict is Strict.FALLS else ""
            growth = answer.z[: system.rows] - last if verdict is Strict.FALLS else None
            return _answer(system, verdict, answer.x, unit, round_, slips.ratio, note, growth)
        last = answer.z[: system.rows]
    return _answer(system, Strict.UNKNOWN, answer.x, unit, ROUNDS, slips.ratio, "its slips neither settle nor grow")


def not_judged(system: System) -> StrictAnswer:
    """What stands in for an answer where no forces balance anyway."""
    return _answer(system, Strict.UNKNOWN, np.zeros(system.columns), 1.0, 0, np.nan, "not judged")


def _answer(
    system: System,
    verdict: Strict,
    variables: Floats,
    unit: float,
    rounds: int,
    ratio: float,
    note: str = "",
    growth: Floats | None = None,
) -> StrictAnswer:
    stands = verdict is Strict.STANDS
    held = variables if stands else np.zeros(system.columns)
    forces = system.forces(held, unit)
    return StrictAnswer(
        verdict=verdict,
        forces_n=forces,
        joints_n=system.joint_wrenches(held, unit),
        rounds=rounds,
        ratio=ratio,
        pane_thrust_n=pane_thrust(system, forces),
        motion=np.zeros((len(system.free), 6)) if growth is None else unit_motion(system.velocities(growth)),
        note=note,
    )


def pane_thrust(system: System, forces_n: Floats) -> float:
    """Sum of normal forces on panes, N."""
    on_pane = np.isin(system.contacts.b, PANES) | np.isin(system.contacts.a, PANES)
    return float(forces_n[on_pane, 0].sum())
