"""The dynamic trial: what each engine gets right and what it costs, side by side in the same run.

    python tests/benchmarks/bench_trial.py [STONES]

STONES (default 20) is the number of irregular generated stones of the last table, laid in columns of four.
Takes about seven minutes with both engines, nearly all of them in pybullet, whose solver makes every iteration.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterable, Sequence
from typing import Any

import numpy as np
import trimesh

from sim.pieces.convex import convex_parts
from sim.pieces.generate import generate
from sim.trial import TrialBody, TrialBox, TrialRun, TrialSetup, engine, engines_installed, run, trial
from sim.units import STANDARD_GRAVITY_M_S2

MM = 1000.0
DENSITY_KG_M3 = 2700.0
BASE = TrialBox("base", np.array([-2.0, -2.0, -0.05]), np.array([2.0, 2.0, 0.0]), (2, 1))


def block(name: str, size_m: Sequence[float], at_m: Sequence[float], seam: bool = False) -> TrialBody:
    """A block of stone; with a seam, of two convex parts."""
    size = np.array(size_m)
    mass_kg = DENSITY_KG_M3 * float(size.prod())
    solids = [trimesh.creation.box(size)]
    if seam:
        half, away = size * [1.0, 0.5, 1.0], np.array([0.0, size[1] / 4.0, 0.0])
        solids = [trimesh.creation.box(half).apply_translation(way * away) for way in (-1.0, 1.0)]
    parts = tuple((np.array(solid.vertices), np.array(solid.faces, dtype=np.int32)) for solid in solids)
    inertia = mass_kg / 12.0 * np.diag((size**2).sum() - size**2)
    return TrialBody(name, parts, mass_kg, inertia, np.eye(3), np.array(at_m, dtype=np.float64))


def setup(bodies: Iterable[TrialBody], friction: float = 0.7, tilt_deg: float = 0.0) -> TrialSetup:
    """Bodies on a wide base, tilted with it."""
    bodies, tilt = tuple(bodies), np.radians(tilt_deg)
    gravity = STANDARD_GRAVITY_M_S2 * np.array([np.sin(tilt), 0.0, -np.cos(tilt)])
    return TrialSetup(bodies, (BASE,), np.full((len(bodies), len(bodies) + 1), friction), gravity)


def onset_deg(name: str, step_s: float) -> float:
    """Tilt at which a block of 5 x 15 cm tips; 18.435 by its geometry."""
    stands, falls = 16.0, 21.0
    while falls - stands > 0.02:
        middle = (stands + falls) / 2.0
        slender = setup([block("block", (0.05, 0.05, 0.15), (0, 0, 0.075))], tilt_deg=middle)
        stands, falls = (middle, falls) if run(engine(name), slender, step_s=step_s).survived else (stands, middle)
    return (stands + falls) / 2.0


def cubes(count: int, seam: bool) -> TrialSetup:
    """A stack of cubes of 100 mm."""
    return setup(block(f"cube_{i}", (0.1, 0.1, 0.1), (0.0, 0.0, 0.05 + 0.1 * i), seam) for i in range(count))


def columns(count: int) -> TrialSetup:
    """Irregular slabs in columns of four, each laid just clear of the one below."""
    bodies, top_m = [], 0.0
    for i in range(count):
        column, level = divmod(i, 4)
        stone = generate("slab", i, (140, 120, 40))
        top_m = 0.0 if level == 0 else top_m
        low_m, high_m = stone.vertices_m[:, 2].min(), stone.vertices_m[:, 2].max()
        at_m = np.array([0.2 * (column % 8) - 0.7, 0.2 * (column // 8) - 0.7, top_m - low_m])
        top_m += high_m - low_m
        mass_kg = DENSITY_KG_M3 * stone.volume_m3
        inertia = DENSITY_KG_M3 * stone.inertia_m5
        bodies.append(TrialBody(f"slab_{i}", convex_parts(stone).parts, mass_kg, inertia, np.eye(3), at_m))
    return setup(bodies)


def timed(work: Callable[[], Any]) -> tuple[float, Any]:
    """Seconds on the wall, and the result."""
    start = time.perf_counter()
    result = work()
    return time.perf_counter() - start, result


def row(label: str, name: str, seconds: float, result: TrialRun) -> None:
    """One line of the table."""
    print(
        f"{label:32} {name:8} {seconds:7.2f} {result.time_s:7.2f} {MM * result.settled_m.max(initial=0.0):10.3f} "
        f"{MM * result.drift_m.max(initial=0.0):9.4f}  {result.reason}",
        flush=True,
    )


def main() -> None:
    """Print onset angles, then runs, then a trial of irregular stones."""
    stones = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    for name in engines_installed():
        for step_s in (0.001, 0.0005):
            print(f"{name}: 5 x 15 cm tips at {onset_deg(name, step_s):.2f} degrees (step {MM * step_s:g} ms)")
    print(f"\n{'stack':32} {'engine':8} {'s':>7} {'sim. s':>7} {'settled mm':>10} {'drift mm':>9}")
    irregular = columns(stones)
    parts = sum(len(body.parts) for body in irregular.bodies)
    for name in engines_installed():
        heavy = setup([block("light", [0.02] * 3, (0, 0, 0.01)), block("heavy", [0.15] * 3, (0, 0, 0.095))])
        row("mass ratio 422", name, *timed(lambda: run(engine(name), heavy)))  # noqa: B023 - called at once
        for seam, what in ((False, "20 cubes"), (True, "20 cubes in two parts")):
            stack = cubes(20, seam)
            whole = timed(lambda: run(engine(name), stack, duration_s=30.0, early_stop=False))  # noqa: B023
            row(f"{what}, 30 s", name, *whole)
        row(f"{stones} slabs, {parts} parts", name, *timed(lambda: run(engine(name), irregular)))  # noqa: B023
        whole = timed(lambda: run(engine(name), irregular, early_stop=False))  # noqa: B023
        row(f"{stones} slabs, all of 3 s", name, *whole)
    seconds, made = timed(lambda: trial(irregular, repeats=5))
    for one in made:
        print(f"\ntrial: {one.engine} {one.survivals} of {len(one.runs)} stand, drift {one.worst_drift_mm:.3f} mm")
    print(f"both together in {seconds:.1f} s")


if __name__ == "__main__":
    main()
