"""The same stack several times with small changes, and once more in the other engine."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import as_completed
from dataclasses import dataclass, replace

import numpy as np

from sim.threads import threads
from sim.trial.engine import Engine, Floats, TrialRun, TrialSetup, engine, engines_installed
from sim.trial.lumps import lumped
from sim.trial.running import DRIFT_LIMIT_M, DURATION_S, MM, STEP_S, run


@dataclass(frozen=True, slots=True)
class Spread:
    """How far repeats differ from the stack as given; uniform, both ways."""

    shift_m: float = 0.0002  # along each axis
    turn_deg: float = 0.06  # about a random axis
    friction: float = 0.1  # share, one for the whole stack: it is the same water and the same algae everywhere
    density: float = 0.03  # share, each piece its own


@dataclass(frozen=True, slots=True)
class TrialRules:
    """How long and how strictly a run is watched."""

    duration_s: float = DURATION_S
    step_s: float = STEP_S
    drift_limit_m: float = DRIFT_LIMIT_M
    early_stop: bool = True


@dataclass(frozen=True, slots=True, eq=False)
class Trial:
    """What the runs of one engine say together.

    One fall is enough: the stack did not survive. Without a fall, one run without an answer leaves
    the trial without an answer.
    """

    engine: str
    runs: tuple[TrialRun, ...]  # the first is the stack as given

    @property
    def survivals(self) -> int:
        return sum(one.survived for one in self.runs)

    @property
    def fallen(self) -> bool:
        return any(not one.survived and one.undetermined is None for one in self.runs)

    @property
    def survived(self) -> bool:
        """True only when every run survived."""
        return bool(self.runs) and self.survivals == len(self.runs)

    @property
    def undetermined(self) -> str | None:
        """Why there is no answer; None when all survived or one fell."""
        if self.survived or self.fallen:
            return None
        return next((one.undetermined for one in self.runs if one.undetermined), "no run was made")

    @property
    def worst_drift_mm(self) -> float:
        """Largest drift of any piece in any run, mm."""
        return max((MM * float(one.drift_m.max(initial=0.0)) for one in self.runs), default=0.0)

    @property
    def reason(self) -> str:
        """The first fall in words, or why there is no answer, or how the stack as given ended."""
        for one in self.runs:
            if not one.survived and one.undetermined is None:
                return one.reason
        return self.undetermined or (self.runs[0].reason if self.runs else "no run was made")


def trial(
    setup: TrialSetup,
    repeats: int = 5,
    seed: int = 1,
    spread: Spread | None = None,
    rules: TrialRules | None = None,
    engines: Sequence[str] | None = None,
    workers: int | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> tuple[Trial, ...]:
    """Try a stack: as given and with small changes in the first engine, as given in each other one.

    Parameters
    ----------
    setup : the stack as given
    repeats : runs in the first engine, the unchanged one included; at least 1
    seed : of the changes; repeat k is the same whatever the number of repeats
    engines : names, the first makes the repeats; None: MuJoCo, then pybullet where installed
    workers : threads; None: one per core. MuJoCo runs outside Python's lock
    progress : called with (runs done, runs in all) in this thread

    Returns
    -------
    tuple of Trial
        One per engine. Compare them with `difference`.

    Raises
    ------
    EngineTrouble
        When an engine named here is not installed.
    """
    spread, rules = spread or Spread(), rules or TrialRules()
    loaded = [engine(name) for name in (engines_installed() if engines is None else engines)]
    jobs: list[tuple[int, int, Engine, TrialSetup]] = []
    for place, one in enumerate(loaded):
        for repeat in range(max(1, repeats) if place == 0 else 1):
            changed = varied(setup, spread, np.random.default_rng([seed, repeat])) if repeat else setup
            jobs.append((place, repeat, one, changed))
    made: dict[tuple[int, int], TrialRun] = {}
    with threads(workers) as pool:
        # the second engine holds Python's lock and takes longest: it goes first
        waiting = {pool.submit(_run, one, what, rules): (place, repeat) for place, repeat, one, what in reversed(jobs)}
        for finished in as_completed(waiting):
            made[waiting[finished]] = finished.result()
            if progress is not None:
                progress(len(made), len(jobs))
    return tuple(
        Trial(one.name, tuple(made[place, repeat] for p, repeat, _, _ in jobs if p == place))
        for place, one in enumerate(loaded)
    )


def difference(trials: Sequence[Trial]) -> str | None:
    """Where two engines disagree about the stack as given, in words; None where they agree."""
    words = {"survived": "it stands", "fell": "it falls", "open": "no answer"}
    first = {one.engine: _answer(one.runs[0]) for one in trials if one.runs}
    if len(set(first.values())) < 2:
        return None
    return ", ".join(f"{name}: {words[answer]}" for name, answer in first.items())


def varied(setup: TrialSetup, spread: Spread, rng: np.random.Generator) -> TrialSetup:
    """A copy with each lump of pieces shifted and turned about its centre, and other friction and density.

    Fixed pieces stay. Forces such as buoyancy stay as they are: the volume does not change.
    """
    lumps = lumped(setup)
    count = len(lumps.setup.bodies)
    shift_m = rng.uniform(-spread.shift_m, spread.shift_m, (count, 3))
    axis = rng.normal(size=(count, 3))
    angle = np.radians(rng.uniform(-spread.turn_deg, spread.turn_deg, count))
    density = 1.0 + rng.uniform(-spread.density, spread.density, len(setup.bodies))
    friction = 1.0 + float(rng.uniform(-spread.friction, spread.friction))
    bodies = []
    for body, lump, share in zip(setup.bodies, lumps.lump, density, strict=True):
        if lumps.setup.bodies[lump].fixed:
            bodies.append(body)
            continue
        turn = _turn(axis[lump], float(angle[lump]))
        centre = lumps.setup.bodies[lump].position_m
        bodies.append(
            replace(
                body,
                rotation=turn @ body.rotation,
                position_m=centre + turn @ (body.position_m - centre) + shift_m[lump],
                mass_kg=body.mass_kg * float(share),
                inertia_kg_m2=body.inertia_kg_m2 * float(share),
            )
        )
    return replace(setup, bodies=tuple(bodies), friction=setup.friction * friction)


def _run(one: Engine, setup: TrialSetup, rules: TrialRules) -> TrialRun:
    return run(
        one,
        setup,
        duration_s=rules.duration_s,
        step_s=rules.step_s,
        drift_limit_m=rules.drift_limit_m,
        early_stop=rules.early_stop,
    )


def _answer(one: TrialRun) -> str:
    return "survived" if one.survived else "open" if one.undetermined is not None else "fell"


def _turn(axis: Floats, angle: float) -> Floats:
    """Rotation by an angle about an axis (Rodrigues)."""
    x, y, z = axis / np.linalg.norm(axis)
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    return np.asarray(np.eye(3) + np.sin(angle) * cross + (1.0 - np.cos(angle)) * cross @ cross, dtype=np.float64)
