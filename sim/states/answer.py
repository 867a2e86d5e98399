"""What is said about one state, in the units of a report: N, mm, degrees, kPa. None: unknown or not asked for."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Verdict = Literal["stands", "stands (quick)", "falls", "doubtful", "undetermined"]
Laid = Literal["dry", "glued"]
Filled = Literal["air", "partial", "flooded", "drained"]

# best first; a scene's verdict is the worst of its states
ORDER: tuple[Verdict, ...] = ("stands", "stands (quick)", "doubtful", "undetermined", "falls")

RESERVE_CAP = 100.0  # a friction reserve of 100 means 100 or more
PUSH_CAP_N = 1.0e6  # a push of 1e6 N means that no push within reason moves anything


def worst(verdicts: list[Verdict]) -> Verdict:
    """The worst of some verdicts; 'undetermined' of none."""
    return max(verdicts, key=ORDER.index) if verdicts else "undetermined"


def plain(value: float, cap: float | None = None) -> float | None:
    """A plain number: None for nan and for infinity without a cap."""
    value = float(value)
    if cap is not None and value > cap:
        return cap
    return value if math.isfinite(value) else None


def triple(values: NDArray[np.float64]) -> tuple[float, float, float]:
    """Three values (3,) as plain numbers."""
    return (float(values[0]), float(values[1]), float(values[2]))


@dataclass(frozen=True, slots=True)
class EquilibriumAnswer:
    """Answer of the equilibrium programme, with the margins of what it finds feasible."""

    feasible: bool | None
    critical_tilt_deg: float | None = None  # least tilt of the tank that brings anything down, sliding included
    critical_azimuth_deg: float | None = None  # towards which, from x (right) towards y (back)
    stack_tilt_deg: float | None = None  # the same on a base that the stack cannot slide on
    sliding_tilt_deg: float | None = None  # at which the whole stack slides on the base
    least_push_n: float | None = None  # least horizontal push at a piece's top that moves anything
    least_push_piece: str | None = None
    friction_reserve: float | None = None  # friction over friction needed


@dataclass(frozen=True, slots=True)
class StrictAnswer:
    """Answer of the strict check: does it stand without wedging and dilatancy?"""

    verdict: Literal["stands", "falls", "undetermined", "not asked"]


@dataclass(frozen=True, slots=True)
class RobustAnswer:
    """The least critical tilt over copies with every piece shifted and turned a little."""

    least_tilt_deg: float | None
    copies: int  # that gave an answer
    reason: str = ""  # where one gave none


@dataclass(frozen=True, slots=True)
class TrialAnswer:
    """What the dynamic trial saw in one engine."""

    engine: str
    survived: bool | None  # None: no answer
    runs: int
    survivals: int
    worst_drift_mm: float
    reason: str


@dataclass(frozen=True, slots=True)
class MotionAnswer:
    """How one piece sets out when the state fails, or at the critical tilt of one that stands."""

    piece: str
    speed: float  # relative to the fastest
    direction: tuple[float, float, float]  # unit, of its centre
    turns: bool  # about a hinge; else it slides
    hinge_mm: tuple[float, float, float] | None


@dataclass(frozen=True, slots=True)
class PushAnswer:
    """Least horizontal push at the top of one piece that moves anything."""

    piece: str
    push_n: float | None
    azimuth_deg: float | None


@dataclass(frozen=True, slots=True)
class ForceRange:
    """One force by three views: of equal compliance, and least and most of all admissible states."""

    nominal: float
    least: float | None
    most: float | None


@dataclass(frozen=True, slots=True)
class FootprintAnswer:
    """Where a piece presses on the base."""

    piece: str
    area_mm2: float
    force_n: ForceRange
    pressure_kpa: float | None  # None where it stands on a point or a line
    centre_mm: tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class JointUse:
    """How hard a joint works in one state."""

    between: tuple[str, str]
    utilisation: float | None  # over 1: it broke
    broken: bool


@dataclass(frozen=True, slots=True)
class BaseAnswer:
    """What one state does to the base pane."""

    verdict: Literal["within limits", "marginal", "over the limit", "bare stone on glass", "undetermined"]
    reason: str
    support: Literal["rim", "mat"]
    max_tension_mpa: float | None  # over all admissible forces
    nominal_tension_mpa: float
    limit_mpa: float | None  # None: this glass gets no verdict
    utilisation: float | None
    deflection_mm: float
    at_mm: tuple[float, float]  # where the tension is largest


@dataclass(frozen=True, slots=True)
class LevelAnswer:
    """The quick verdict at one partial fill."""

    level_mm: float
    verdict: Verdict
    critical_tilt_deg: float | None


@dataclass(frozen=True, slots=True)
class StateAnswer:
    """Everything about one state."""

    laid: Laid
    water: Filled
    level_mm: float | None  # of the surface above the base glass; None without water
    as_built: bool  # counts for the scene's verdict; otherwise shown for information
    verdict: Verdict
    reason: str
    equilibrium: EquilibriumAnswer
    strict: StrictAnswer
    robust: RobustAnswer | None
    trial: tuple[TrialAnswer, ...]
    pane_thrust_n: float | None  # sum over all side panes
    moving: tuple[str, ...]  # pieces of the collapse, or of the motion at the critical tilt
    motions: tuple[MotionAnswer, ...]
    pushes: tuple[PushAnswer, ...]
    footprints: tuple[FootprintAnswer, ...]
    joints: tuple[JointUse, ...]
    levels: tuple[LevelAnswer, ...] = ()  # all partial fills, where this state is the worst of them
    base: BaseAnswer | None = None  # None where it does not stand
