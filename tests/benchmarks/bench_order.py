"""Stacking orders: every step of the order found stands in a dynamic replay, and how fast parts are judged.

    PYTHONPATH=tests/support python tests/benchmarks/bench_order.py replay [--engine E] [--keep FOLDER] [--only NAME]
    PYTHONPATH=tests/support python tests/benchmarks/bench_order.py speed

Glossary
--------
replay   each step of the order found, run in the engine: bodies settle, drift counts from there
rate     partial stacks per second, two processes, each stack judged for the first time: by processor time (what an
         idle machine with two cores does) and by the clock on the wall (what this one did)
memo     parts remembered between states: the ratio is the time without it over the time with it

Eleven generated scenes and three of scans (left out where there are none, see BEDJOINT_SCANS).
"""

from __future__ import annotations

import argparse
import json
import os
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import Executor, ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import numpy as np
from boxes import FLOOR_MM, box_entry
from numpy.typing import NDArray
from orders import problem_of_boxes
from quarry import quarry
from replay import replay
from stacks import HEAD, Stack, build

from sim.order import PartialStacks, Problem, Reseating, best_order, bits, may_be_set, problem_of, search
from sim.order.judging import Part, fall_of, margin_of
from sim.pieces.placing import place_pieces
from sim.scene import read_scene
from sim.states import set_stage
from sim.units import MM_PER_M

Floats = NDArray[np.float64]
Build = tuple[str, int, float, int]  # kind, seed, shift, stones that the builder starts with
SCENES: tuple[tuple[str, bool, tuple[Build, ...]], ...] = (  # name, of scans, what stands in it from left to right
    ("wall_1", False, (("wall", 1, 0.1, 36),)),
    ("wall_5", False, (("wall", 5, 0.2, 36),)),
    ("wall_9", False, (("wall", 9, 0.0, 36),)),
    ("heap_4", False, (("heap", 4, 0.3, 36),)),
    ("heap_6", False, (("heap", 6, 0.2, 36),)),
    ("wall_and_pier", False, (("wall", 21, 0.1, 24), ("pier", 33, 0.1, 20))),
    ("bridge_and_piers", False, (("pier", 3, 0.1, 30), ("bridge", 2, 0.2, 31), ("pier", 13, 0.1, 20))),
    ("two_bridges", False, (("bridge", 10, 0.1, 25), ("bridge", 14, 0.1, 25))),
    ("cantilever_and_piers", False, (("cantilever", 7, 0.3, 30), ("pier", 23, 0.1, 20), ("leaning", 8, 0.3, 30))),
    ("wall_and_bridge", False, (("wall", 11, 0.1, 20), ("bridge", 20, 0.1, 21))),
    ("two_cantilevers", False, (("cantilever", 17, 0.2, 30), ("cantilever", 27, 0.2, 30))),
    ("wall_5", True, (("wall", 5, 0.2, 24),)),
    ("heap_6", True, (("heap", 6, 0.2, 40),)),
    ("wall_9", True, (("wall", 9, 0.0, 34),)),
)
MOST = 22  # stones of one stack
AISLE_MM = 60.0  # between stacks
TANK_MM = 1200.0
CARE_DEG = 4.0  # least tilt that the builder lets pass
NO_HAND = "[check]\nhand_mm = 0\n"
JUDGED, WITH_MARGIN = 400, 60  # parts
MOST_S = 20.0


def scans() -> Path:
    """Where the scanned stones are."""
    return Path(os.environ.get("BEDJOINT_SCANS", Path(__file__).resolve().parents[3] / "shared" / "scans"))


def scene_files(keep: Path, only: str) -> list[Path]:
    """The scene files, made where they are not there yet."""
    files = []
    for what, scanned, builds in SCENES:
        name = f"{'scan' if scanned else 'gen'}_{what}"
        if only not in name or (scanned and not scans().is_dir()):
            continue
        file = keep / f"{name}.toml"
        if not file.exists():
            stones = quarry(4, scans() if scanned else None)
            stacks = [
                build(stones, *one, scanned, relaxed=True, care_deg=CARE_DEG, most=MOST // len(builds) + 4)
                for one in builds
            ]
            file.write_text(side_by_side(stacks))
        files.append(file)
    return files


def side_by_side(stacks: list[Stack]) -> str:
    """One scene of several stacks, their stones named s1_stone_1 and so on."""
    spans = []
    for stack in stacks:
        points = [x @ r.T + at for x, r, at in _placed(stack)]
        spans.append((min(p[:, 0].min() for p in points) * MM_PER_M, max(p[:, 0].max() for p in points) * MM_PER_M))
    left_mm = (TANK_MM - sum(high - low for low, high in spans) - AISLE_MM * (len(spans) - 1)) / 2.0
    assert left_mm > 0.0, "the stacks do not fit side by side"
    text = HEAD
    for k, (stack, (low_mm, high_mm)) in enumerate(zip(stacks, spans, strict=True), 1):
        shift_mm = left_mm - low_mm if len(stacks) > 1 else 0.0
        for entry in stack.text.removeprefix(HEAD).split("[[piece]]")[1:]:
            lines = [_shifted(line, shift_mm) for line in entry.replace('id = "', f'id = "s{k}_').splitlines()]
            text += "[[piece]]" + "\n".join(lines) + "\n"
        left_mm += high_mm - low_mm + AISLE_MM
    return text


def _placed(stack: Stack) -> list[tuple[Floats, Floats, Floats]]:
    return [(one.body.vertices_m, one.rotation, one.position_m) for one in stack.pieces]


def _shifted(line: str, by_mm: float) -> str:
    """An entry's line, its place moved to the right."""
    if not line.startswith("at_mm"):
        return line
    x, y, z = json.loads(line.split("=")[1])
    return f"at_mm = {[float(x + by_mm), y, z]}"


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
