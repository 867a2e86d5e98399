"""Stacking orders: every step of the order found stands in a dynamic replay, and how fast parts are judged.

    PYTHONPATH=tests/support python tests/benchmarks/bench_order.py replay [--engine E] [--keep FOLDER] [--only NAME]
    PYTHONPATH=tests/support python tests/benchmarks/bench_order.py speed

Glossary
--------
replay   each step of the order found, run in the engine: bodies settle, drift counts from there
rate     partial stacks per second, two processes, each stack judged for the first time: by processor time (what an
         idle machine with two cores does) and by the clock on the wall (what this one did)
memo     parts remembered between states: the ratio is the time without it over the time with it

Ten generated stacks and three of scans (left out where there are none, see BEDJOINT_SCANS).
"""

from __future__ import annotations

import argparse
import os
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import Executor, ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import numpy as np
from boxes import FLOOR_MM, box_entry
from orders import problem_of_boxes
from quarry import quarry
from replay import replay
from stacks import build

from sim.order import PartialStacks, Problem, Reseating, best_order, bits, may_be_set, problem_of, search
from sim.order.judging import Part, fall_of, margin_of
from sim.pieces.placing import place_pieces
from sim.scene import read_scene
from sim.states import set_stage

STACKS = (  # kind, seed, shift, stones that the builder starts with, of scans
    ("wall", 1, 0.1, 20, False),
    ("bridge", 2, 0.2, 13, False),
    ("pier", 3, 0.1, 12, False),
    ("heap", 4, 0.3, 16, False),
    ("wall", 5, 0.2, 24, False),
    ("heap", 6, 0.2, 24, False),
    ("cantilever", 7, 0.3, 12, False),
    ("leaning", 8, 0.3, 12, False),
    ("wall", 9, 0.0, 14, False),
    ("bridge", 10, 0.1, 17, False),
    ("wall", 5, 0.2, 24, True),
    ("heap", 6, 0.2, 24, True),
    ("wall", 9, 0.0, 14, True),
)
CARE_DEG = 2.0  # least tilt that the builder lets pass
NO_HAND = "[check]\nhand_mm = 0\n"
JUDGED, WITH_MARGIN = 400, 60  # parts
MOST_S = 20.0


def scans() -> Path:
    """Where the scanned stones are."""
    return Path(os.environ.get("BEDJOINT_SCANS", Path(__file__).resolve().parents[3] / "shared" / "scans"))


def scene_files(keep: Path, only: str) -> list[Path]:
    """The stacks as scene files, built where they are not there yet."""
    files = []
    for kind, seed, shift, count, scanned in STACKS:
        name = f"{'scan' if scanned else 'gen'}_{kind}_{seed}"
        if only not in name or (scanned and not scans().is_dir()):
            continue
        file = keep / f"{name}.toml"
        if not file.exists():
            stones = quarry(4, scans() if scanned else None)
            file.write_text(build(stones, kind, seed, shift, count, scanned, relaxed=True, care_deg=CARE_DEG).text)
        files.append(file)
    return files


def replayed(file: Path, engine: str) -> str:
    """One row: the order found, and what the engine says of its steps."""
    scene = read_scene(file)
    stage = set_stage(scene, place_pieces(scene))
    problem = problem_of(stage)
    started = time.process_time()
    order = best_order(problem, MOST_S, reseat=Reseating(stage, problem))
    seconds = time.process_time() - started
    margin = "-" if order.worst_margin_deg is None else f"{order.worst_margin_deg:.1f}"
    row = f"| {file.stem} | {len(problem.units)} | {order.verdict} | {order.holds} | {margin} | {order.states} "
    row += f"| {'yes' if order.proved else 'no'} | {seconds:.1f} "
    if not order.steps:
        return row + f"| - | - | {order.reason} |"
    steps = list(replay(stage, order, engine))
    tried = [one for one in steps if one.run is not None]
    stood = [one for one in tried if one.run is not None and one.run.survived]
    worst = max((one.drift_mm for one in tried), default=0.0)
    fallen = [f"{one.number} {one.unit}: {one.run.reason}" for one in tried if one.run and not one.run.survived]
    return row + f"| {len(stood)}/{len(tried)} | {worst:.3f} | {'; '.join(fallen)} |"


def bricks(folder: Path, rows: int, each: int) -> Problem:
    """A brick wall: every other row a quarter brick aside, so that it hangs together as one part."""
    entries = [
        box_entry(folder, f"r{row}_{k}", (50, 40, 20), (70 + 52 * k + (13 if row % 2 else 0), 200, FLOOR_MM + 20 * row))
        for row in range(rows)
        for k in range(each)
    ]
    return problem_of_boxes(folder, *entries, NO_HAND)


def some_parts(problem: Problem, count: int, least: int, seed: int) -> list[Part]:
    """Partial stacks of so many pieces or more, each once, at random."""
    rng = np.random.default_rng(seed)
    found: dict[Part, None] = {}
    for _ in range(50 * count):
        units = 0
        size = int(rng.integers(least, len(problem.units) + 1))
        while units.bit_count() < size:
            ready = [k for k in bits(problem.everything & ~units) if may_be_set(problem, k, units)]
            units |= 1 << ready[int(rng.integers(len(ready)))]
        found[problem.pieces_in(units), 0] = None
        if len(found) == count:
            break
    return list(found)


def _judge(problem: Problem, parts: list[Part]) -> float:
    started = time.process_time()
    for part in parts:
        fall_of(problem, part)
    return time.process_time() - started


def _margins(problem: Problem, parts: list[Part]) -> float:
    started = time.process_time()
    for part in parts:
        margin_of(problem, part)
    return time.process_time() - started


def rate(
    executor: Executor, work: Callable[[Problem, list[Part]], float], problem: Problem, parts: list[Part]
) -> tuple[float, float]:
    """Parts per second over two warm processes: by processor time, and by the clock on the wall."""
    list(executor.map(work, [problem] * 12, [parts[:20]] * 12))  # more than one process does while the other starts
    started = time.perf_counter()
    used = list(executor.map(work, [problem] * 2, [parts[0::2], parts[1::2]]))
    return 2.0 * len(parts) / sum(used), len(parts) / (time.perf_counter() - started)


def memo(problem: Problem) -> tuple[float, int, int]:
    """Time without the memo over the time with it, for the states that a search looks at; states and parts."""
    stacks = PartialStacks(problem)
    search(stacks, MOST_S)
    states = list(stacks._parts)
    started = time.process_time()
    PartialStacks(problem).prepare(states)
    with_memo = time.process_time() - started
    sample = states[:: max(1, len(states) // 200)]
    started = time.process_time()
    for state in sample:
        PartialStacks(problem).prepare([state])
    without = (time.process_time() - started) * len(states) / len(sample)
    return without / with_memo, len(states), len(stacks.standing)


def speed() -> None:
    """Rates, the memo's worth, and the time for forty pieces."""
    with tempfile.TemporaryDirectory() as name:
        problem = bricks(Path(name), 4, 6)
        contacts = len(problem.contacts.a)
        parts = some_parts(problem, JUDGED, 18, 1)
        mean = np.mean([part[0].bit_count() for part in parts])
        with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as executor:
            judged = rate(executor, _judge, problem, parts)
            margins = rate(executor, _margins, problem, parts[:WITH_MARGIN])
        print(f"{len(parts)} partial stacks of {mean:.1f} bricks ({contacts} contacts in the whole)")
        for what, (by_cpu, by_clock) in (("feasibility and strict check", judged), ("margins", margins)):
            print(f"{what}: {by_cpu:.0f} per second by processor time, {by_clock:.0f} by the clock")
        ratio, states, count = memo(bricks(Path(name), 3, 4))
        print(f"memo: {states} states, {count} parts, {ratio:.1f} times as fast as without")
        forty = bricks(Path(name), 4, 10)
        started, clock = time.process_time(), time.perf_counter()
        order = best_order(forty, MOST_S)
        print(
            f"{len(forty.units)} bricks: {order.verdict}, margin {order.worst_margin_deg}, proved {order.proved}, "
            f"{order.states} parts, {time.process_time() - started:.1f} s of processor time in one process, "
            f"{time.perf_counter() - clock:.1f} s by the clock"
        )


def main() -> None:
    """Print a table, or the rates."""
    parser = argparse.ArgumentParser()
    parser.add_argument("what", choices=("replay", "speed"))
    parser.add_argument("--engine", default="bullet")
    parser.add_argument("--keep", type=Path, help="Folder for the scene files of the stacks.")
    parser.add_argument("--only", default="")
    options = parser.parse_args()
    if options.what == "speed":
        speed()
        return
    keep = options.keep or Path(tempfile.mkdtemp(prefix="orders-"))
    print(
        "| stack | pieces | order | holds | margin, deg | parts | proved | s | steps that stand | drift, mm | falls |"
    )
    print("|---|---|---|---|---|---|---|---|---|---|---|")
    for file in scene_files(keep, options.only):
        print(replayed(file, options.engine), flush=True)


if __name__ == "__main__":
    main()
