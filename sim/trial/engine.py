"""What a trial hands to an engine, what an engine must be able to do, and what comes back."""

from __future__ import annotations

import importlib
import importlib.util
from collections.abc import Sequence
from dataclasses import dataclass, field
from types import TracebackType
from typing import NamedTuple, Protocol, Self

import numpy as np
from numpy.typing import NDArray

from sim.errors import SolverError
from sim.units import STANDARD_GRAVITY_M_S2

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

ENGINES = {"mujoco": "mujoco", "bullet": "pybullet"}  # our module: the library that it needs
SETTLES_M = 0.010  # convex parts bulge: a stone on them comes to rest a few millimetres away
WALL_M = 0.05  # thickness of base and panes in a trial, where nothing bends


class EngineTrouble(SolverError):
    """An engine that could not carry a run through; the run is 'undetermined'."""


@dataclass(frozen=True, slots=True, eq=False)
class TrialBody:
    """A piece as an engine sees it; its frame has the centre of mass as origin."""

    name: str
    parts: tuple[tuple[Floats, NDArray[np.int32]], ...]  # convex: vertices (n, 3) in metres, faces (m, 3)
    mass_kg: float
    inertia_kg_m2: Floats  # (3, 3) about the centre of mass, along the body's axes
    rotation: Floats  # (3, 3) of the body's axes in the tank
    position_m: Floats  # (3,) of the centre of mass
    fixed: bool = False
    forces_n: Floats = field(default_factory=lambda: np.zeros((0, 3)))  # (k, 3) such as buoyancy, constant in the tank
    forces_at_m: Floats = field(default_factory=lambda: np.zeros((0, 3)))  # (k, 3) in the body's frame
    error_m: float | None = None  # by which the parts stick out of the true surface at most, where that is known


@dataclass(frozen=True, slots=True, eq=False)
class TrialBox:
    """An immovable box along the tank's axes: base, pane, wall of a test."""

    name: str
    low_m: Floats  # (3,)
    high_m: Floats  # (3,)
    face: tuple[int, int] | None = (
        None  # axis and side (1 or -1) of the only face that pieces can meet, if there is one
    )


@dataclass(frozen=True, slots=True, eq=False)
class TrialSetup:
    """n bodies and p boxes; the first box is the base."""

    bodies: tuple[TrialBody, ...]
    boxes: tuple[TrialBox, ...]
    friction: Floats  # (n, n + p) coefficient of each pair: bodies, then boxes
    gravity_m_s2: Floats = field(default_factory=lambda: np.array([0.0, 0.0, -STANDARD_GRAVITY_M_S2]))
    glued: tuple[tuple[int, int], ...] = ()  # pairs that move as one; an index of n and more is a box
    trouble: str | None = None  # why no run of it can say anything
    settles_m: float = SETTLES_M  # a piece that settles farther, beyond what it was lifted, has fallen


@dataclass(frozen=True, slots=True, eq=False)
class TrialRun:
    """One run of one engine. Neither survived nor fallen when `undetermined` says why."""

    engine: str
    survived: bool
    undetermined: str | None
    reason: str  # in words, whatever the answer
    drift_m: Floats  # (n,) from the settled pose, of the corner that moved farthest; where it fell, until then
    tilt_deg: Floats  # (n,) turned since the settled pose
    settled_m: Floats  # (n,) movement of the centre from the given to the settled pose
    base_force_n: Floats  # (n, 3) on the base, mean over the run after settling
    time_s: float  # simulated after settling
    at_rest: bool  # ended early because nothing moved any more
    notes: tuple[str, ...] = ()  # where the engine could not take the setup as it is


class Overlaps(NamedTuple):
    """Places where two bodies, or a body and a box, are in each other."""

    a: Ints  # (k,) body
    b: Ints  # (k,) body, or n and more: box
    normal: Floats  # (k, 3) from b to a
    depth_m: Floats  # (k,) positive


class Pressing(NamedTuple):
    """Contact forces of bodies on the base."""

    body: Ints  # (k,)
    point_m: Floats  # (k, 3)
    force_n: Floats  # (k, 3) on the base


class World(Protocol):
    """A setup loaded into an engine. Used in a `with` block, which frees it."""

    notes: tuple[str, ...]

    def __enter__(self) -> Self: ...

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None: ...

    def place(self, rotation: Floats, position_m: Floats) -> None:
        """Put every free body there (n, 3, 3), (n, 3), without speed."""

    def calm(self) -> None:
        """Take away every speed, and leave the bodies where they are."""

    def poses(self) -> tuple[Floats, Floats]:
        """Rotations (n, 3, 3) and positions (n, 3)."""

    def advance(self, steps: int) -> None:
        """Let time pass. Raises EngineTrouble when the engine loses the thread."""

    def overlaps(self) -> Overlaps:
        """What overlaps where the bodies are now."""

    def pressing(self) -> Pressing:
        """Forces on the base in the last step."""


class Engine(Protocol):
    """A rigid-body engine."""

    name: str

    def open(self, setup: TrialSetup, step_s: float) -> World:
        """Load a setup without glue. Raises EngineTrouble when the engine refuses it."""


def engines_installed() -> tuple[str, ...]:
    """Names of the engines that can run here, the one to prefer first."""
    return tuple(name for name, library in ENGINES.items() if importlib.util.find_spec(library) is not None)


def engine(name: str) -> Engine:
    """Load an engine by its name.

    Raises
    ------
    EngineTrouble
        When there is none of that name or its library is not installed.
    """
    if name not in engines_installed():
        known = ", ".join(engines_installed()) or "none"
        raise EngineTrouble(f"engine {name!r} is not installed. Installed: {known}.")
    found: Engine = importlib.import_module(f"sim.trial.{name}").ENGINE
    return found


def tank_boxes(inner_m: Sequence[float]) -> tuple[TrialBox, ...]:
    """Base and panes of a tank, in the order base, left, right, front, back.

    Parameters
    ----------
    inner_m : inner length (x), depth (y), height (z)
    """
    length, depth, height = (float(value) for value in inner_m)
    spans = {
        "base": ((-WALL_M, -WALL_M, -WALL_M), (length + WALL_M, depth + WALL_M, 0.0), (2, 1)),
        "left pane": ((-WALL_M, -WALL_M, 0.0), (0.0, depth + WALL_M, height), (0, 1)),
        "right pane": ((length, -WALL_M, 0.0), (length + WALL_M, depth + WALL_M, height), (0, -1)),
        "front pane": ((0.0, -WALL_M, 0.0), (length, 0.0, height), (1, 1)),
        "back pane": ((0.0, depth, 0.0), (length, depth + WALL_M, height), (1, -1)),
    }
    return tuple(TrialBox(name, np.array(low), np.array(high), face) for name, (low, high, face) in spans.items())
