"""Time of the fast judges on walls, beside a linear programme and beside our own trial in the same run.

Run: PYTHONPATH=tests/support:tests/benchmarks python tests/benchmarks/bench_statics.py [crooked] [seated] [--bullet]

crooked: walls of blocks on made-up contacts. The peer is scipy's HiGHS on the same equilibrium with eight-sided
cones (which lose up to 7.6 % of friction besides), asked only whether the wall stands.
seated: the walls of irregular stones of bench_check.py, contacts looked for; the peer is the trial, 3 s of
simulated time, in MuJoCo (and pybullet). Of some passes the least wall-clock and the least processor time of all
threads: the one depends on what else the machine does, the other much less.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from typing import Any

import bench_check
import numpy as np
import scipy.sparse as sp
from handmade import Bearing, contacts_of, rectangle
from scipy.optimize import linprog

from sim.contact import Contacts, find_contacts
from sim.scene import parse_scene
from sim.statics import System, assemble_system, critical_tilt, feasible, judge, judge_system, strict_check, weights
from sim.trial import TrialRules, engine, engines_installed, run, stage

SIZES = ((2, 5), (3, 10), (10, 10), (10, 30), (20, 50))
PEER_UP_TO = 100
PASSES = 3
TANK = """format = 1
[tank]
inner_mm = {}
base_mm = 12
side_mm = 12
under_stones = {{ kind = "sheet", thickness_mm = 4 }}
"""


def wall(courses: int, length: int, seed: int = 0) -> tuple[np.ndarray, Contacts, np.ndarray]:
    """Blocks in running bond, courses growing shorter, on joints a little out of level."""
    rng = np.random.default_rng(seed)
    bearings, centre, below = [], [], []
    for course in range(courses):
        lefts = 0.5 * course * 0.2 + np.arange(max(length - course // 3, 1)) + 0.3 * (course % 2)
        here = []
        for left in lefts:
            spans = [(-1, left, left + 0.95)] if course == 0 else []
            spans += [(j, max(left, other), min(left, other) + 0.95) for j, other in below]
            spans = [span for span in spans if span[2] - span[1] > 0.05]
            if not spans or min(s[1] for s in spans) > left + 0.4 or max(s[2] for s in spans) < left + 0.55:
                continue
            index = len(centre)
            centre.append([left + 0.475, 0.3, course * 0.5 + 0.25])
            for j, low, high in spans:
                jitter = np.column_stack([rng.normal(0.0, 0.004, (4, 2)), np.zeros(4)])
                corners = rectangle(low, high, 0.0, 0.6, course * 0.5) + jitter
                normal = np.array([*rng.normal(0.0, 0.01, 2), 1.0])
                bearings.append(Bearing(index, j, corners, normal, 0.6, (high - low) * 0.6))
            here.append((index, left))
        below = here
    return np.array(centre), contacts_of(bearings), rng.uniform(0.5, 2.0, len(centre))


def _peer(system: System, w: np.ndarray) -> bool:
    """Feasibility with eight-sided cones by a linear programme."""
    rough = len(system.rough)
    angle = np.arange(8) * np.pi / 4.0
    facet = np.column_stack([-np.ones(8) * np.cos(np.pi / 8), np.cos(angle), np.sin(angle)])
    found = linprog(
        np.zeros(system.columns),
        A_ub=sp.kron(sp.eye_array(rough), facet, format="csr"),
        b_ub=np.zeros(8 * rough),
        A_eq=system.matrix,
        b_eq=-w,
        bounds=(None, None),
    )
    return found.status == 0


def _timed(work) -> tuple[float, object]:  # type: ignore[no-untyped-def]
    start = time.perf_counter()
    result = work()
    return time.perf_counter() - start, result


def _both(work: Callable[[], Any], passes: int = PASSES) -> tuple[float, float]:
    """Least wall-clock and least processor seconds of some passes."""
    found = []
    for _ in range(passes):
        wall_s, processor_s = time.perf_counter(), time.process_time()
        work()
        found.append((time.perf_counter() - wall_s, time.process_time() - processor_s))
    return min(wall_s for wall_s, _ in found), min(processor_s for _, processor_s in found)


def seated(engines: list[str]) -> None:
    """Print one row per seated wall: seconds on the clock and, in brackets, of the processor."""
    one = bench_check.wall()
    print("stones contacts    find (cpu)     judge (cpu)     together (cpu)   verdict; trial and how many times longer")
    for size in bench_check.SIZES:
        pieces = bench_check.repeated(one, size)
        inner = np.concatenate([piece.vertices_m() for piece in pieces]).max(axis=0) * 1000.0 + 100.0
        scene = parse_scene(TANK.format([max(200.0, float(side)) for side in inner]))
        assembly, poses = bench_check.stand(pieces, scene)
        contacts, loads = find_contacts(assembly, poses), weights(assembly.mass_kg)
        found = judge(assembly, poses, contacts, loads, quick=True)
        finding = _both(lambda a=assembly, p=poses: find_contacts(a, p))
        judging = _both(lambda a=assembly, p=poses, c=contacts, w=loads: judge(a, p, c, w, quick=True))
        whole = finding[0] + judging[0], finding[1] + judging[1]
        row = f"{len(pieces):6d} {len(contacts.a):8d}" + "".join(
            f"  {clock:6.3f} ({processor:6.3f})" for clock, processor in (finding, judging, whole)
        )
        row += f"  {found.verdict.value} {found.margins.critical_tilt_deg:.2f} deg" if found.margins else "  falls"
        for name in engines if len(pieces) <= PEER_UP_TO + 10 else []:
            setup = stage(scene, pieces, assembly.friction, contacts=contacts).setup
            tried = _both(
                lambda n=name, s=setup: run(
                    engine(n), s, duration_s=bench_check.SIMULATED_S, step_s=TrialRules().step_s, early_stop=False
                ),
                1,
            )
            row += f"; {name} {tried[0]:.1f} s ({tried[1]:.1f}): {tried[0] / whole[0]:.0f} ({tried[1] / whole[1]:.0f})"
        print(row, flush=True)


def crooked() -> None:
    """Print one row per wall, times in seconds."""
    centre, contacts, mass = wall(2, 3)
    judge_system(assemble_system(centre, contacts), weights(mass))  # compiles once
    print("pieces contacts assemble feasible   tilt (solved) strict whole quick judgement   peer peer/feasible verdict")
    for courses, length in SIZES:
        centre, contacts, mass = wall(courses, length)
        loads = weights(mass)
        assembling, system = _timed(lambda c=centre, k=contacts: assemble_system(c, k))
        balancing, _ = _timed(lambda s=system, w=loads: feasible(s, w))
        tilting, tilt = _timed(lambda s=system, w=loads: critical_tilt(s, w))
        stricter, _ = _timed(lambda s=system, w=loads: strict_check(s, w))
        whole, judged = _timed(lambda s=system, w=loads: judge_system(s, w, quick=True))
        peer = np.nan
        if len(mass) <= PEER_UP_TO:
            peer, _ = _timed(lambda s=system, w=loads: _peer(s, s.scaled(w.wrench, float(w.weight_n.mean()))))
        print(
            f"{len(mass):6d} {len(contacts.a):8d} {assembling:8.4f} {balancing:8.4f} {tilting:6.3f} "
            f"({tilt.solved.sum():6d}) {stricter:6.3f} {whole:21.3f} {peer:6.3f} {peer / balancing:13.1f} "
            f"{judged.verdict.value} {tilt.least_deg:.2f} deg"
        )


def main() -> None:
    """Print the tables asked for."""
    asked = [word for word in sys.argv[1:] if not word.startswith("-")] or ["crooked", "seated"]
    if "crooked" in asked:
        crooked()
    if "seated" in asked:
        seated([name for name in engines_installed() if name != "bullet" or "--bullet" in sys.argv])


if __name__ == "__main__":
    main()
