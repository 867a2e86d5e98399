"""A glued stack: which joints break, one after the other, and whether it then stands.

Glue is brittle: a joint that is asked for more than its strength is gone at once, and what it
carried goes elsewhere. So the load is shared by stiffness (least complementary energy), never
as would suit the joints best; the most used joint over its strength is taken out, the dry
contacts of its pieces come back, and everything is solved again.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.joints import Joint, utilisation
from sim.statics.loads import Loads
from sim.statics.mechanism import collapse_motion
from sim.statics.programme import Feasibility, Feasible, feasible
from sim.statics.strict import Strict, StrictAnswer, not_judged, rests, strict_check
from sim.statics.system import System, assemble_system

Floats = NDArray[np.float64]

TIE = 1.0e-6  # joints this near to the most used break with it: symmetric stacks break symmetrically


@dataclass(frozen=True, slots=True, eq=False)
class Glued:
    """What becomes of a glued stack."""

    verdict: Strict
    utilisation: Floats  # (j,) in the state that holds, or when each broke (over 1); nan if never known
    wrench_n: Floats  # (j, 6) alike
    broken: tuple[int, ...]  # joints in the order in which they break
    left: System  # with the joints that hold; strength unlimited
    feasibility: Feasibility  # of what is left
    strict: StrictAnswer
    note: str = ""


def glued(system: System, loads: Loads) -> Glued:
    """Break joints until those that are left hold.

    Parameters
    ----------
    system : System with joints of unlimited strength
    loads : Loads

    Returns
    -------
    Glued
        'falls' when what is left after the last break does; 'undetermined' when a step was.
    """
    joints = system.joints
    used, wrench = np.full(len(joints), np.nan), np.full((len(joints), 6), np.nan)
    holding: list[int] = list(range(len(joints)))
    broken: list[int] = []
    left = system
    while True:
        found, strict = feasible_and_strict(left, loads)
        if found.status is not Feasible.YES or strict.verdict is not Strict.STANDS:
            verdict = Strict.UNKNOWN if _unknown(found, strict) else Strict.FALLS
            note = found.note if found.status is Feasible.UNKNOWN else strict.note
            return Glued(verdict, used, wrench, tuple(broken), left, found, strict, note)
        now = np.array([utilisation(w, j.patch, j.design_strength_pa) for w, j in _pairs(strict, left.joints)])
        used[holding], wrench[holding] = now, strict.joints_n
        if not np.any(now > 1.0):
            return Glued(Strict.STANDS, used, wrench, tuple(broken), left, found, strict)
        gone = np.flatnonzero(now >= now.max() * (1.0 - TIE))
        broken += [holding[k] for k in gone]
        holding = [k for i, k in enumerate(holding) if i not in gone]
        still = tuple(joints[k] for k in holding)
        left = assemble_system(system.centre_m, system.contacts, ~system.free, still)


def fall_motion(held: Glued, loads: Loads) -> Floats:
    """How a stack that falls sets out: velocities (n, 6), largest 1.

    By its wedging where forces hold it on paper; else the motion nearest to free fall, or the mechanism that proves it.
    """
    if held.feasibility.status is Feasible.YES:
        return held.strict.motion
    motion = collapse_motion(held.left, loads) if held.feasibility.status is Feasible.NO else None
    return held.feasibility.mechanism if motion is None else motion


def _pairs(strict: StrictAnswer, joints: tuple[Joint, ...]) -> list[tuple[Floats, Joint]]:
    return list(zip(strict.joints_n, joints, strict=True))


def feasible_and_strict(system: System, loads: Loads) -> tuple[Feasibility, StrictAnswer]:
    """Both answers in the order that is quickest.

    Forces that arise by loading are forces that balance: only where the springs find none does
    the programme decide, and only what it finds feasible is looked at more strictly.
    """
    rest = rests(system, loads)
    if rest is not None:
        return Feasibility(Feasible.YES, rest.forces_n, 0.0, np.zeros((len(system.free), 6))), rest
    found = feasible(system, loads)
    if found.status is Feasible.YES:
        return found, strict_check(system, loads, sprung=True)
    return found, not_judged(system)


def _unknown(found: Feasibility, strict: StrictAnswer) -> bool:
    if found.status is Feasible.UNKNOWN:
        return True
    return found.status is Feasible.YES and strict.verdict is Strict.UNKNOWN
