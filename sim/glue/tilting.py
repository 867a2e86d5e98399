"""Does a choice of joints hold a stack while the tank is tilted, in every water?

A tilted tank turns the weights, and the base is taken as rough: whether the whole stack slides on it no joint
between stones changes, and it is told apart. Level, the base has the friction that it has.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from sim.joints import Joint
from sim.states import Stage, Water
from sim.statics import Feasible, Loads, Strict, System, assemble_system, critical_tilt, limit_joints, unsliding
from sim.statics.glued import fall_motion, glued
from sim.units import MM_PER_M

Floats = NDArray[np.float64]

ENOUGH = 3  # failures of one choice that are looked for: more tell little more
STILL = 1.0e-3  # of the fastest piece


@dataclass(frozen=True, slots=True, eq=False)
class Failure:
    """One load under which a choice of joints does not hold."""

    water: Water
    azimuth_deg: float | None  # towards which the tank is tilted; None: level
    known: bool  # False: a solver gave no sound answer
    motion: Floats  # (n, 6) how the pieces set out, largest 1; zeros where not known
    broken: tuple[int, ...]  # joints of the choice that break, in the order in which they do
    note: str

    def words(self, names: Sequence[str], tilt_deg: float) -> str:
        """The failure in a builder's words."""
        water = self.water.filling.value
        if self.water.level_m is not None:
            water += f" at {self.water.level_m * MM_PER_M:.0f} mm"
        how = "level" if self.azimuth_deg is None else f"tilted {tilt_deg:g} degrees towards {self.azimuth_deg:.0f}"
        if not self.known:
            return f"{water}, {how}: no sound answer ({self.note})"
        speed = np.abs(self.motion).max(axis=1)
        first = names[int(speed.argmax())] if speed.size and speed.max() > 0.0 else "the stack"
        return f"{water}, {how}: {first} moves first"


class Tilts:
    """The loads that a choice of joints has to bear: every water, level and tilted to each azimuth."""

    def __init__(self, stage: Stage, waters: Sequence[Water], tilt_deg: float, azimuths: int) -> None:
        self.stage, self.tilt_deg = stage, tilt_deg
        around = [None, *(360.0 * k / azimuths for k in range(azimuths))] if tilt_deg > 0.0 else [None]
        self.cases = [(water, azimuth) for water in waters for azimuth in around]
        self.failed = np.zeros(len(self.cases))
        self._loads = {water: stage.loads_in(water) for water in waters}
        self.judged = 0

    def failures(self, joints: Sequence[Joint], most: int = ENOUGH) -> list[Failure]:
        """Loads under which these joints do not hold the stack, at most so many; none: it holds."""
        system_in = cache(lambda water, rough_base: self._system(water, joints, rough_base))
        found: list[Failure] = []
        for k in np.argsort(-self.failed, kind="stable"):
            water, azimuth = self.cases[k]
            failure = self._failure(system_in(water, azimuth is not None), water, azimuth)
            if failure is not None:
                self.failed[k] += 1.0
                found.append(failure)
                if len(found) == most:
                    break
        return found

    def utilisation(self, joints: Sequence[Joint]) -> Floats:
        """Largest share of its design strength that each joint (j,) takes over all loads; nan where unknown."""
        system_in = cache(lambda water, rough_base: self._system(water, joints, rough_base))
        worst = np.zeros(len(joints))
        for water, azimuth in self.cases:
            held = glued(system_in(water, azimuth is not None), self._loaded(water, azimuth))
            worst = np.maximum(worst, held.utilisation)
        return worst

    def _system(self, water: Water, joints: Sequence[Joint], rough_base: bool) -> System:
        system = system_in(self.stage, water, joints)
        return unsliding(system) if rough_base else system

    def _loaded(self, water: Water, azimuth_deg: float | None) -> Loads:
        loads = self._loads[water]
        return loads if azimuth_deg is None else tilted(loads, self.tilt_deg, azimuth_deg)

    def _failure(self, system: System, water: Water, azimuth_deg: float | None) -> Failure | None:
        loads = self._loaded(water, azimuth_deg)
        self.judged += 1
        held = glued(system, loads)
        if held.verdict is Strict.STANDS:
            return None
        still = np.zeros((len(system.free), 6))
        if held.verdict is Strict.UNKNOWN:
            return Failure(water, azimuth_deg, False, still, held.broken, held.note)
        return Failure(water, azimuth_deg, True, fall_motion(held, loads), held.broken, held.note)


def system_in(stage: Stage, water: Water, joints: Sequence[Joint] = ()) -> System:
    """Statics of a stage in one water, on the base as it is."""
    return assemble_system(stage.poses.position_m, stage.contacts_in(water), stage.dry.fixed, tuple(joints))


def goes_at(stage: Stage, waters: Sequence[Water], joints: Sequence[Joint]) -> float | None:
    """Least tilt over the waters at which something goes, with the base's own friction; None without an answer.

    It may lie below the tilt that joints hold: a part of the stack that leans on the rest can slide away under it.
    """
    found = []
    for water in waters:
        answer = critical_tilt(limit_joints(system_in(stage, water, joints)), stage.loads_in(water))
        if answer.status is not Feasible.YES:
            return None
        found.append(answer.least_deg)
    return min(found, default=None)


def tilted(loads: Loads, tilt_deg: float, azimuth_deg: float) -> Loads:
    """Loads in a tank that is tilted towards an azimuth (from x towards y); buoyancy turns with gravity."""
    tilt, azimuth = np.radians(tilt_deg), np.radians(azimuth_deg)
    side = loads.sideways(azimuth)
    return replace(
        loads,
        force_n=np.cos(tilt) * loads.force_n + np.sin(tilt) * side[:, :3],
        moment_nm=np.cos(tilt) * loads.moment_nm + np.sin(tilt) * side[:, 3:],
        lift_n=np.cos(tilt) * loads.lift_n,
    )
