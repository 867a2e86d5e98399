"""Scenes made ready for the search of orders, and searches by brute force beside it."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Executor
from itertools import permutations, product
from pathlib import Path

from boxes import FLOOR_MM, HEAD, box_entry, scene_of

import sim.order
from sim.order import Found, Merit, Order, PartialStacks, Problem, Reseating, bits, may_be_set, problem_of
from sim.pieces.placing import place_pieces
from sim.scene import Scene
from sim.states import Stage, misplaced, set_stage

DRY = HEAD.replace("level_mm = 300", "level_mm = 0")
PATIENCE_S = 3600.0  # a busy machine is no reason for another order


def best_order(problem: Problem, executor: Executor | None = None, reseat: Reseating | None = None) -> Order:
    """The best order, however long it takes."""
    return sim.order.best_order(problem, PATIENCE_S, executor, reseat=reseat)


def search(stacks: PartialStacks) -> Found:
    """A search that ends when it has proved its answer."""
    return sim.order.search(stacks, PATIENCE_S)


def ready(scene: Scene) -> tuple[Stage, Problem]:
    """A scene as a problem; its pieces must be where stones can be."""
    stage = set_stage(scene, place_pieces(scene))
    assert misplaced(stage) == ()
    return stage, problem_of(stage)


def column(
    folder: Path, name: str, count: int, x_mm: float, y_mm: float, side_mm: float = 40.0, more: str = 'rock = "granite"'
) -> list[str]:
    """Entries of cubes on each other."""
    size = (side_mm, side_mm, side_mm)
    return [
        box_entry(folder, f"{name}_{k + 1}", size, (x_mm, y_mm, FLOOR_MM + side_mm * k), more) for k in range(count)
    ]


def overhang(folder: Path) -> list[str]:
    """Entries of a beam over a foot, level by itself; a tip on its outer end and a counterweight on its inner one."""
    return [
        box_entry(folder, "foot", (80, 80, 80), (300, 200, FLOOR_MM)),
        box_entry(folder, "beam", (300, 60, 20), (310, 200, FLOOR_MM + 80)),
        box_entry(folder, "tip", (50, 50, 50), (430, 200, FLOOR_MM + 100)),
        box_entry(folder, "counterweight", (70, 60, 50), (200, 200, FLOOR_MM + 100)),
    ]


def write_dry(folder: Path, *entries: str) -> str:
    """A scene file of entries in a dry tank."""
    file = folder / "scene.toml"
    file.write_text(DRY + "".join(entries))
    return str(file)


def problem_of_boxes(folder: Path, *entries: str, head: str = DRY) -> Problem:
    """The problem of box entries."""
    return ready(scene_of(folder, *entries, head=head))[1]


def legal_orders(problem: Problem) -> Iterator[tuple[int, ...]]:
    """Every order of the units that needs, ways in and room for the hand allow."""
    for order in permutations(range(len(problem.units))):
        units = 0
        for unit in order:
            if not may_be_set(problem, unit, units):
                break
            units |= 1 << unit
        else:
            yield order


def ideals(problem: Problem) -> set[int]:
    """Masks of all sets of units that hold whatever their members need, the empty one too, by trying every set."""
    return {
        units
        for units in range(1 << len(problem.units))
        if all(problem.needs[unit] & ~units == 0 for unit in bits(units))
    }


def merit_of(stacks: PartialStacks, order: tuple[int, ...], waits: tuple[bool, ...]) -> Merit | None:
    """Merit of one order with one choice of waits (before each step), walked step by step; None where it falls.

    Written anew from the words of the order of merit, and not from the search.
    """
    problem = stacks.problem
    units, cured = 0, problem.made_outside
    holds, worst_deg, wait_count, wait_h = 0, 90.0, 0, 0.0
    held: set[int] = set()
    for unit, wait in zip(order, waits, strict=True):
        if wait:
            pending = [k for k in bits(problem.joints_in(units)) if not cured >> k & 1]
            if not pending:
                return None  # the same as not waiting
            wait_count += 1
            wait_h += max(problem.times[k].cure_h for k in pending)
            cured = problem.joints_in(units)
            held &= {hold.piece for one in stacks.judged(units, cured) for hold in one.holds}
        units |= 1 << unit
        answers = stacks.judged(units, cured)
        if not all(one.held for one in answers):
            return None
        now = {hold.piece for one in answers for hold in one.holds}
        holds += len(now - held)
        held = now
        worst_deg = min(worst_deg, stacks.margin_deg(units, cured))
    return Merit(holds, -worst_deg, wait_count, wait_h)


def all_merits(stacks: PartialStacks) -> Iterator[Merit]:
    """Merits of every legal order with every choice of waits."""
    count = len(stacks.problem.units)
    for order in legal_orders(stacks.problem):
        for waits in product((False, True), repeat=count - 1):
            merit = merit_of(stacks, order, (False, *waits))
            if merit is not None:
                yield merit
