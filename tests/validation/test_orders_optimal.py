"""The order found against every order there is, and against a thousand drawn at random."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from boxes import FLOOR_MM, box_entry
from orders import all_merits, merit_of, problem_of_boxes, search

from sim.order import Merit, PartialStacks, Problem, bits, may_be_set
from sim.order import search as search_within

CLOSE_DEG = 1.0e-5
GLUES = ("epoxy putty", "cyanoacrylate gel", "cement C2")


def _heap(
    folder: Path, seed: int, count: int, joints: int, plots: int = 2, step: float = 0.45, hand_mm: float = 10.0
) -> Problem:
    """Boxes thrown onto each other: each on the base or level on one that lies there, often over its edge.

    Joints between some of those that lie on each other, in glues that cure at different speeds.
    """
    rng = np.random.default_rng([seed, count])
    laid: list[tuple[str, np.ndarray, np.ndarray]] = []
    beds: list[tuple[str, str]] = []
    k = -1
    while len(laid) < count:
        k += 1
        size = np.array([*rng.uniform(40, 70, 2), rng.uniform(15, 30)]).round(1)
        if k < plots:
            at = np.array([130.0 + 340.0 * k / max(plots - 1, 1), 200.0, FLOOR_MM])
        else:
            under = int(rng.integers(len(laid)))
            name, low, wide = laid[under]
            out = rng.uniform(-step, step, 2) * (wide[:2] + size[:2]) / 2.0
            at = np.array([*(low[:2] + out), low[2] + wide[2]])
        if any(_meet(at, size, there, wide) for _, there, wide in laid):
            continue
        if k >= plots:
            beds.append((name, f"b{k}"))
        laid.append((f"b{k}", at.round(1), size))
    entries = [box_entry(folder, name, tuple(size.tolist()), tuple(at.tolist())) for name, at, size in laid]
    chosen = rng.permutation(len(beds))[:joints]
    for k in sorted(chosen):
        lower, upper = beds[k]
        glue = GLUES[int(rng.integers(len(GLUES)))]
        entries.append(f'[[joint]]\nbetween = ["{lower}", "{upper}"]\nglue = "{glue}"\nfit = "sawn"\n')
    return problem_of_boxes(folder, *entries, f"[check]\nhand_mm = {hand_mm}\n")


def _meet(at: np.ndarray, size: np.ndarray, there: np.ndarray, wide: np.ndarray) -> bool:
    """Whether two boxes would overlap, or touch side by side: each has air around it."""
    apart = np.abs(at[:2] - there[:2]) - (size[:2] + wide[:2]) / 2.0
    over = at[2] >= there[2] + wide[2] - 0.05 or there[2] >= at[2] + size[2] - 0.05
    return bool(not over and (apart < 1.0).all())


def _as_good(found: Merit, best: Merit) -> bool:
    """Whether a merit is no worse than another; margins within the solver's noise are equal."""
    if found.holds != best.holds:
        return found.holds < best.holds
    if abs(found.minus_margin_deg - best.minus_margin_deg) > CLOSE_DEG:
        return found.minus_margin_deg < best.minus_margin_deg
    return (found.waits, found.wait_h) <= (best.waits, best.wait_h + 1e-9)


@pytest.mark.parametrize("seed", range(12))
def test_against_every_order_with_every_choice_of_waits(tmp_path: Path, seed: int) -> None:
    problem = _heap(tmp_path, seed, 5 + seed % 4, 1 + seed % 3)
    assert len(problem.units) >= 3
    stacks = PartialStacks(problem)
    found = search(stacks)
    assert found.proved
    merits = list(all_merits(stacks))
    if not merits:
        assert found.moves is None
        return
    assert found.merit is not None
    best = min(merits, key=lambda one: (one.holds, round(one.minus_margin_deg / CLOSE_DEG), one.waits, one.wait_h))
    assert _as_good(found.merit, best)
    assert _as_good(best, found.merit), "better than everything there is"


@pytest.mark.parametrize(("seed", "holds", "waits"), [(1, 0, 0), (4, 2, 0), (5, 0, 1), (9, 2, 1)])
def test_the_small_problems_are_not_all_alike(tmp_path: Path, seed: int, holds: int, waits: int) -> None:
    """Holds and waits, and both, occur among them, or the test above shows little; regression numbers."""
    found = search(PartialStacks(_heap(tmp_path, seed, 5 + seed % 4, 1 + seed % 3)))
    assert found.merit is not None
    assert (found.merit.holds, found.merit.waits) == (holds, waits)


def _random_orders(problem: Problem, count: int, rng: np.random.Generator) -> Iterator[tuple[int, ...]]:
    """Legal orders, each step drawn from what can be set next; one that gets stuck is drawn again."""
    made = 0
    while made < count:
        order: list[int] = []
        units = 0
        while units != problem.everything:
            ready = [k for k in bits(problem.everything & ~units) if may_be_set(problem, k, units)]
            if not ready:
                break
            order.append(ready[int(rng.integers(len(ready)))])
            units |= 1 << order[-1]
        else:
            made += 1
            yield tuple(order)


@pytest.mark.slow
@pytest.mark.parametrize(("seed", "count", "joints"), [(3, 15, 2), (8, 18, 4), (5, 20, 3), (6, 25, 4)])
def test_against_a_thousand_random_orders(tmp_path: Path, seed: int, count: int, joints: int) -> None:
    problem = _heap(tmp_path, seed, count, joints, plots=4, step=0.3)
    assert len(problem.units) == count
    rng = np.random.default_rng(seed)
    stacks = PartialStacks(problem)
    found = search_within(stacks, 20.0)
    assert found.merit is not None
    better = 0
    for order in _random_orders(problem, 1000, rng):
        pending = [bool(rng.integers(2)) if joints else False for _ in order]
        merit = _walked(stacks, order, pending)
        if merit is not None:
            assert _as_good(found.merit, merit), (merit, found.merit, order)
            better += not _as_good(merit, found.merit)
    assert better > 0, "every random order is as good: nothing was shown"


def _walked(stacks: PartialStacks, order: tuple[int, ...], waits: list[bool]) -> Merit | None:
    """Merit of a random order; a wait with nothing to wait for is none."""
    problem, units, cured, real = stacks.problem, 0, stacks.problem.made_outside, []
    for unit, wait in zip(order, waits, strict=True):
        joints = problem.joints_in(units)
        real.append(wait and joints != cured)
        cured = joints if real[-1] else cured
        units |= 1 << unit
    return merit_of(stacks, order, tuple(real))
