"""One run: clear, settle, leave alone, and say what moved."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sim.errors import SolverError
from sim.trial.clearing import clear
from sim.trial.engine import Engine, EngineTrouble, Floats, TrialRun, TrialSetup, World
from sim.trial.lumps import Lumps, lumped

MM = 1000.0
DURATION_S = 3.0
STEP_S = 0.001
DRIFT_LIMIT_M = 0.003

CHUNK_S = 0.01  # between two looks at the poses
SETTLE_S = 3.0  # at most; bodies lose their speed after every chunk, so nothing lands hard
SETTLED_M = 2.0e-6  # movement in a chunk under which a body rests,
SETTLED_CHUNKS = 8  # so many times in a row
WINDOW_S = 0.25  # over which rest is sought
REST_SHARE = 0.1  # of the drift limit that the speed of the last window would use up in the time that is left
STILL_M = 1.0e-7  # in a window: the engine's own noise


@dataclass(frozen=True, slots=True)
class _Ending:
    survived: bool
    reason: str
    undetermined: bool = False
    at_rest: bool = False


@dataclass(slots=True, eq=False)
class _Record:
    """What is known of a run so far; replaced as the run goes on."""

    drift_m: Floats
    tilt_deg: Floats
    settled_m: Floats
    base_force_n: Floats
    time_s: float = 0.0


def run(
    engine: Engine,
    setup: TrialSetup,
    *,
    duration_s: float = DURATION_S,
    step_s: float = STEP_S,
    drift_limit_m: float = DRIFT_LIMIT_M,
    early_stop: bool = True,
) -> TrialRun:
    """Leave a stack alone in an engine and see whether it stays.

    Overlaps are cleared first and the bodies settle without speed; drift counts from there. A
    body that moves by more than the setup allows beyond its lift while settling has fallen.

    Parameters
    ----------
    duration_s : simulated time after settling
    step_s : time step; 0.001 for a verdict, 0.0005 for an audit, 0.002 for a preview
    drift_limit_m : movement of any corner of a piece's bounding box that counts as falling
    early_stop : end once nothing moves: the last quarter second's movement is not larger than the one
        before and would use up less than a tenth of the limit in the time that is left

    Returns
    -------
    TrialRun
        Never 'survived' where an overlap could not be cleared or the engine lost the thread:
        then `undetermined` says why.
    """
    count = len(setup.bodies)
    record = _Record(np.zeros(count), np.zeros(count), np.zeros(count), np.zeros((count, 3)))
    notes: tuple[str, ...] = ()
    fault = _faults(setup)
    try:
        if fault:
            raise EngineTrouble(fault)
        lumps = lumped(setup)
        if all(body.fixed for body in lumps.setup.bodies):
            ending = _Ending(True, "nothing is free to move", at_rest=True)
        else:
            with engine.open(lumps.setup, step_s) as world:
                notes = world.notes
                steps = max(1, round(CHUNK_S / step_s))
                watch = _Watch(world, lumps, record, steps, steps * step_s, drift_limit_m)
                ending = watch.whole(duration_s, early_stop)
    except SolverError as trouble:
        ending = _Ending(False, str(trouble), undetermined=True)
    return TrialRun(
        engine=engine.name,
        survived=ending.survived,
        undetermined=ending.reason if ending.undetermined else None,
        reason=ending.reason,
        drift_m=record.drift_m,
        tilt_deg=record.tilt_deg,
        settled_m=record.settled_m,
        base_force_n=record.base_force_n,
        time_s=record.time_s,
        at_rest=ending.at_rest,
        notes=notes,
    )


@dataclass(slots=True, eq=False)
class _Watch:
    """An engine at work on a stack, looked at after every chunk of steps."""

    world: World
    lumps: Lumps
    record: _Record
    steps: int
    chunk_s: float
    limit_m: float

    def whole(self, duration_s: float, early_stop: bool) -> _Ending:
        given = self.world.poses()
        cleared = clear(self.world, self.lumps.setup)
        if cleared.trouble:
            return _Ending(False, f"the pieces as the engine sees them {cleared.trouble}", undetermined=True)
        lift_m = np.linalg.norm(cleared.position_m - given[1], axis=1)[self.lumps.lump]
        return self._settle(given, lift_m) or self._leave_alone(duration_s, early_stop)

    def _settle(self, given: tuple[Floats, Floats], lift_m: Floats) -> _Ending | None:
        """Let the bodies down without speed; an ending only when something fell."""
        start = self.lumps.corners(*given)
        before, quiet = self._corners(), 0
        for _ in range(round(SETTLE_S / self.chunk_s)):
            self.world.advance(self.steps)
            rotation, position_m = self.world.poses()
            self.world.calm()
            now = self.lumps.corners(rotation, position_m)
            self.record.settled_m = np.linalg.norm((now - start).mean(axis=1), axis=1)
            moved_m = _farthest(now, start)
            beyond = moved_m - lift_m
            if beyond.max() > self.lumps.setup.settles_m:
                self.record.drift_m = moved_m
                worst = int(beyond.argmax())
                floats = (now - start)[worst, :, 2].mean() - lift_m[worst] > self.lumps.setup.settles_m / 2.0
                return _Ending(False, f"{self._name(worst)} {'floats off' if floats else 'fell'} at once")
            quiet = quiet + 1 if _farthest(now, before).max() < SETTLED_M else 0
            if quiet >= SETTLED_CHUNKS:
                break
            before = now
        return None

    def _leave_alone(self, duration_s: float, early_stop: bool) -> _Ending:
        rotation, position_m = self.world.poses()
        start, turned = self.lumps.corners(rotation, position_m), self.lumps.pieces(rotation, position_m)[0]
        window = max(1, round(WINDOW_S / self.chunk_s))
        before, earlier_m, forces = start, np.inf, np.zeros_like(self.record.base_force_n)
        for chunk in range(1, max(1, round(duration_s / self.chunk_s)) + 1):
            self.world.advance(self.steps)
            pose = self.world.poses()
            now = self.lumps.corners(*pose)
            forces += self.lumps.base_forces(self.world.pressing(), *pose)
            self._note(_farthest(now, start), _turned_deg(turned, self.lumps.pieces(*pose)[0]), forces / chunk, chunk)
            worst = int(self.record.drift_m.argmax())
            if self.record.drift_m[worst] > self.limit_m:
                moved = f"moved {MM * self.record.drift_m[worst]:.1f} mm within {self.record.time_s:.2f} s"
                return _Ending(False, f"{self._name(worst)} {moved}")
            if early_stop and chunk % window == 0:
                moved_m = float(_farthest(now, before).max())
                left_s = max(duration_s - self.record.time_s, 0.0)
                calm = moved_m <= earlier_m or moved_m < STILL_M
                if calm and moved_m * left_s / WINDOW_S < REST_SHARE * self.limit_m and chunk >= 2 * window:
                    return _Ending(True, f"at rest after {self.record.time_s:.2f} s", at_rest=True)
                before, earlier_m = now, moved_m
        return _Ending(True, f"stood for {self.record.time_s:.2f} s")

    def _note(self, drift_m: Floats, tilt_deg: Floats, base_force_n: Floats, chunk: int) -> None:
        self.record.drift_m = np.maximum(drift_m, self.record.drift_m)
        self.record.tilt_deg = np.maximum(tilt_deg, self.record.tilt_deg)
        self.record.base_force_n = base_force_n
        self.record.time_s = chunk * self.chunk_s

    def _corners(self) -> Floats:
        return self.lumps.corners(*self.world.poses())

    def _name(self, piece: int) -> str:
        """Name of a piece; a glued one by its lump, since all of it moves."""
        name: str = self.lumps.setup.bodies[self.lumps.lump[piece]].name
        return name


def _farthest(now: Floats, then: Floats) -> Floats:
    """Largest movement (n,) of any corner of each piece."""
    return np.asarray(np.linalg.norm(now - then, axis=2).max(axis=1), dtype=np.float64)


def _turned_deg(then: Floats, now: Floats) -> Floats:
    """Angles (n,) between rotations; from the skew part, which is exact for small turns."""
    turn = now @ then.transpose(0, 2, 1)
    skew = np.stack(
        [turn[:, 2, 1] - turn[:, 1, 2], turn[:, 0, 2] - turn[:, 2, 0], turn[:, 1, 0] - turn[:, 0, 1]], axis=1
    )
    angle = np.arctan2(np.linalg.norm(skew, axis=1), np.trace(turn, axis1=1, axis2=2) - 1.0)
    return np.asarray(np.degrees(angle), dtype=np.float64)


def _faults(setup: TrialSetup) -> str | None:
    """What no engine could make sense of."""
    if setup.trouble:
        return setup.trouble
    count = len(setup.bodies)
    if setup.friction.shape != (count, count + len(setup.boxes)) or not np.all(setup.friction >= 0.0):
        return "friction: give one number of zero or more for every body against every body and box"
    for body in setup.bodies:
        values = (body.rotation, body.position_m, body.inertia_kg_m2, body.forces_n, body.forces_at_m)
        if not body.parts or not all(np.isfinite(value).all() for value in values):
            return f"{body.name}: it has no convex parts, or its pose or inertia is not a number"
        if not body.fixed and not (np.isfinite(body.mass_kg) and body.mass_kg > 0.0):
            return f"{body.name}: a free piece of {body.mass_kg:g} kg cannot be tried; give it a mass"
    return None
