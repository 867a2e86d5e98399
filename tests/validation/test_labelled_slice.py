"""The judges agree on seeded stacks of irregular stones: a slice of tests/benchmarks/bench_labelled.py.

Stacks on shapes that are exactly what the engine collides, and on generated stones with pads, stable and
unstable ones. The labels are defined in tests/benchmarks/labelled.md, where the whole table is kept.
"""

from __future__ import annotations

import importlib
import sys
from dataclasses import replace
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

BENCHMARKS = Path(__file__).resolve().parents[1] / "benchmarks"
EXACT = (0, 1, 12, 14)  # numbers of stacks
GENERATED = (15, 17)


def neighbour(name: str) -> ModuleType:
    """A script among its neighbours, and no part of a package."""
    sys.path.insert(0, str(BENCHMARKS))
    try:
        return importlib.import_module(name)
    finally:
        sys.path.remove(str(BENCHMARKS))


@pytest.fixture(scope="module")
def bench() -> ModuleType:
    """The benchmark with few and plain stones."""
    module = neighbour("bench_labelled")
    module.PER_SHAPE, module.FACES, module.ONLY_SMALL_FROM = 1, 1500, 0
    return module


@pytest.fixture(scope="module")
def cases(bench: ModuleType) -> list[Any]:
    return [bench.judged(number, None) for number in (*EXACT, *GENERATED)]


def test_all_labels_occur(cases: list[Any]) -> None:
    assert {case.label for case in cases} >= {"stable", "unstable"}


def test_no_verdict_of_standing_is_contradicted_on_exact_shapes(cases: list[Any]) -> None:
    """Double duration at half the step, to the end."""
    standing = [case for case in cases if case.source == "exact" and case.verdict == "stands"]
    assert len(standing) >= 3
    for case in standing:
        assert case.audit == "stood", case


def test_what_falls_by_statics_falls_in_the_trial(cases: list[Any]) -> None:
    falling = [case for case in cases if case.label == "unstable"]
    assert falling
    for case in falling:
        assert case.fell, case


def test_a_wide_margin_is_not_doubted(cases: list[Any]) -> None:
    stable = [case for case in cases if case.label == "stable"]
    assert len(stable) >= 3
    for case in stable:
        assert case.verdict == "stands", case


def test_numbers_are_asked_for_in_words() -> None:
    numbers_of = neighbour("bench_labelled").numbers_of
    assert numbers_of("5,0-2,400-407/3") == [5, 0, 1, 2, 400, 403, 406]


def test_the_table_tells_of_contradictions(cases: list[Any]) -> None:
    """A case of standing that the audit lets fall is counted in every row and written out."""
    table = neighbour("labelled_table").table
    one = next(case for case in cases if case.source == "exact" and case.verdict == "stands")
    words = "\n".join(table([replace(one, audit="fell", audit_reason="stone_2 moved")]))
    assert words.count("   0    1    0") == 3
    assert "audit: stone_2 moved" in words
    doubted = "\n".join(table([replace(one, tilt_deg=9.0, robust_deg=0.0, fell=1, survivals=4)]))
    assert "doubtful among 1 stable: 1 (100.0 %); by copies 0, trial 0, both 1" in doubted
