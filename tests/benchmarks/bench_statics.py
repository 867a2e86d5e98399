"""Time of the fast judges on walls of crooked blocks, beside a linear programme in the same run.

Run: PYTHONPATH=tests/support python tests/benchmarks/bench_statics.py
The peer is scipy's HiGHS on the same equilibrium with eight-sided cones (which lose up to 7.6 %
of friction besides), asked only whether the wall stands.
"""

from __future__ import annotations

import time

import numpy as np
import scipy.sparse as sp
from handmade import Bearing, contacts_of, rectangle
from scipy.optimize import linprog

from sim.contact import Contacts
from sim.statics import System, assemble_system, critical_tilt, feasible, judge_system, strict_check, weights

SIZES = ((2, 5), (3, 10), (10, 10), (10, 30), (20, 50))
PEER_UP_TO = 100


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


def main() -> None:
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


if __name__ == "__main__":
    main()
