"""Time of the quick judges on seated walls of irregular stones, beside our own trial of the same walls in each engine.

Run: PYTHONPATH=tests/support:tests/benchmarks python tests/benchmarks/bench_check.py [LARGEST] [--no-bullet]
One wall of 15 to 30 stones is seated with care and let go; larger scenes repeat it side by side: the walls do not
touch, but everything is looked for and solved as one scene. Judged: contacts, equilibrium, the strict check and the
critical tilt over 16 azimuths. The trial is 3 s of simulated time with nothing stopped early, convex parts made before.
Ratios are of the same run; the second time of two is taken, so that nothing compiles.
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace

import numpy as np
from quarry import quarry
from stacks import build

from sim.contact import Assembly, Poses, assemble, find_contacts, tank_planes
from sim.pieces.placing import PlacedPiece, moved
from sim.scene import Scene, parse_scene
from sim.statics import Verdict, judge, weights
from sim.trial import TrialRules, engine, engines_installed, run, stage

SIZES = (30, 100, 300, 1000)
FRICTION = 0.55
CARE_DEG = 2.0
SHIFT = 0.0
APART_M = 0.08
ACROSS = 5  # walls side by side before the next row
TRIED_UP_TO = 100  # stones: the engines take minutes beyond
SIMULATED_S = 3.0


def wall() -> list[PlacedPiece]:
    """Fifteen to thirty irregular stones that stand."""
    stones = quarry(1, None, 3000, ("slab", "block"))
    for seed in range(1, 20):
        made = build(stones, "wall", seed, SHIFT, 30, seated=True, relaxed=True, care_deg=CARE_DEG)
        contacts = find_contacts(made.assembly, made.poses)
        if (
            judge(made.assembly, made.poses, contacts, weights(made.assembly.mass_kg), quick=True).verdict
            is Verdict.STANDS
        ):
            return made.pieces
    raise SystemExit("no wall stood: try other seeds")


def repeated(pieces: list[PlacedPiece], count: int) -> list[PlacedPiece]:
    """The wall so often that there are about `count` stones."""
    points = np.concatenate([piece.vertices_m() for piece in pieces])
    size, low = np.ptp(points, axis=0)[:2] + APART_M, points.min(axis=0)
    times = max(1, round(count / len(pieces)))
    result = []
    for k in range(times):
        offset = np.array([(k % ACROSS) * size[0] - low[0] + APART_M, (k // ACROSS) * size[1] - low[1] + APART_M, 0.0])
        result += [replace(moved(p, p.rotation, p.position_m + offset), id=f"{p.id}_{k}") for p in pieces]
    return result


def stand(pieces: list[PlacedPiece], scene: Scene) -> tuple[Assembly, Poses]:
    """Assembly and poses of pieces in the tank of a scene."""
    friction = np.full((len(pieces), len(pieces) + 5), FRICTION)
    floor_m = (scene.tank.under_stones.thickness_mm or 0.0) / 1000.0
    planes = tank_planes(np.array(scene.tank.inner_mm) / 1000.0, floor_m)
    assembly = assemble([p.body for p in pieces], np.array([p.mass_kg for p in pieces]), friction, planes)
    return assembly, Poses(np.array([p.rotation for p in pieces]), np.array([p.position_m for p in pieces]))


def judged_s(assembly: Assembly, poses: Poses) -> tuple[float, float, str, int]:
    """Seconds for contacts and for the judges, the verdict, and how many contacts."""
    start = time.perf_counter()
    contacts = find_contacts(assembly, poses)
    middle = time.perf_counter()
    found = judge(assembly, poses, contacts, weights(assembly.mass_kg), quick=True)
    tilt = "" if found.margins is None else f" {found.margins.critical_tilt_deg:.2f} deg"
    return middle - start, time.perf_counter() - middle, found.verdict.value + tilt, len(contacts.a)


def tried_s(name: str, scene: Scene, pieces: list[PlacedPiece], assembly: Assembly, poses: Poses) -> tuple[float, str]:
    """Seconds of one trial as given, and how it ended."""
    friction = np.full((len(pieces), len(pieces) + 5), FRICTION)
    staged = stage(scene, pieces, friction, contacts=find_contacts(assembly, poses))
    start = time.perf_counter()
    made = run(engine(name), staged.setup, duration_s=SIMULATED_S, step_s=TrialRules().step_s, early_stop=False)
    return time.perf_counter() - start, made.reason


def main() -> None:
    """Print one row per size."""
    numbers = [int(word) for word in sys.argv[1:] if word.isdigit()]
    largest = numbers[0] if numbers else SIZES[-1]
    engines = [name for name in engines_installed() if name != "bullet" or "--no-bullet" not in sys.argv]
    one = wall()
    print(
        f"{'stones':>7}{'contacts':>10}{'find s':>8}{'judge s':>9}{'sum s':>8}  verdict, tilt; trials and their ratio"
    )
    for size in [size for size in SIZES if size <= largest]:
        pieces = repeated(one, size)
        points = np.concatenate([piece.vertices_m() for piece in pieces])
        inner = [max(200.0, float(side) * 1000.0 + 100.0) for side in points.max(axis=0)]
        tank = (
            f"inner_mm = {inner}\nbase_mm = 12\nside_mm = 12\nunder_stones = {{ kind = 'sheet', thickness_mm = 4 }}\n"
        )
        scene = parse_scene(f"format = 1\n[tank]\n{tank}")
        assembly, poses = stand(pieces, scene)
        judged_s(assembly, poses)
        find_s, judge_s, words, count = judged_s(assembly, poses)
        row = f"{len(pieces):>7}{count:>10}{find_s:>8.2f}{judge_s:>9.2f}{find_s + judge_s:>8.2f}  {words}"
        for name in engines if len(pieces) <= TRIED_UP_TO + 10 else []:
            seconds, ending = tried_s(name, scene, pieces, assembly, poses)
            row += f"; {name} {seconds:.1f} s = {seconds / (find_s + judge_s):.0f} times ({ending})"
        print(row, flush=True)


if __name__ == "__main__":
    main()
