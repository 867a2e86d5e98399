"""Our tilts against MuJoCo's on stacks whose shapes both share exactly: single hulls and unions of convex parts.

A small seeded slice of tests/benchmarks/bench_truth.py, whose whole table is kept beside it; the settings of the
engine are those of `sim.trial`, with half its step. Two and three stones, one rest on an edge among them.

What must hold is that no stack is called safe beyond what the engine bears. On the careful side single stacks may lie
far off, an edge rest most of all: a copy whose stones lie a little off may all but fall where the stack as given bears
a degree. In the whole table (truth.md beside the benchmark) the robust margin less the tilt at which something first
moves has a median of -0.07 degrees and a deviation of 1.9, so the median is what is held here, and no stack's own.

References
----------
Todorov, E. (2014). Convex and analytically-invertible dynamics with contacts and constraints:
theory and implementation in MuJoCo. IEEE ICRA, 6054-6061.
"""

from __future__ import annotations

import importlib
import statistics
import sys
from collections.abc import Callable
from functools import cache
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

BENCHMARKS = Path(__file__).resolve().parents[1] / "benchmarks"
UNSAFE_DEG = 0.5
NEAR_DEG = 0.5  # of the median over the stacks, on the careful side
# an edge rest; two stones whose nominal tilt is unsafe; three stones; one that slides off another stone and the base
SEEDS = (3, 13, 14, 18)


@pytest.fixture(scope="module")
def bench() -> ModuleType:
    """The benchmark, which is a script among its neighbours and no part of a package."""
    sys.path.insert(0, str(BENCHMARKS))
    try:
        return importlib.import_module("bench_truth")
    finally:
        sys.path.remove(str(BENCHMARKS))


@pytest.fixture(scope="module")
def row_of(bench: ModuleType) -> Callable[[int], dict[str, Any]]:
    """Each stack's row, compared once."""
    return cache(bench.compare)


@pytest.mark.parametrize("seed", SEEDS)
def test_no_tilt_is_called_safe_that_the_engine_does_not_bear(
    row_of: Callable[[int], dict[str, Any]], seed: int
) -> None:
    row = row_of(seed)
    assert row["verdict"] == "stands"
    assert "trouble" not in row
    assert row["unknown"] == ""
    # the engine keeps what we call at rest, within what its own contacts give
    assert max(row["settled_um"]) < 500.0
    assert 0.0 < row["robust"] <= row["least_onset"] + UNSAFE_DEG


def test_margins_are_not_low_for_no_reason(row_of: Callable[[int], dict[str, Any]]) -> None:
    """In most of the stacks something moves at about the tilt that we give."""
    below_deg = [row_of(seed)["stirs"] - row_of(seed)["robust"] for seed in SEEDS]
    assert statistics.median(below_deg) <= NEAR_DEG


def test_a_block_tips_where_geometry_says(bench: ModuleType) -> None:
    """A block 50 mm wide and 150 mm high tips at arctan(50 / 150), 18.43 degrees, by both."""
    import numpy as np
    import trimesh
    from shared_stacks import INNER_M, Shared, Stack, nominal, stand

    from sim.contact import Poses
    from sim.pieces.mass import make_body

    mesh = trimesh.creation.box((0.05, 0.05, 0.15))
    body = make_body(np.asarray(mesh.vertices), np.asarray(mesh.faces))
    stones = (Shared(body, ((body.vertices_m, body.faces),)),)
    poses = Poses(np.eye(3)[None], np.array([[*(INNER_M[:2] / 2.0), 0.075]]))
    stack = Stack(stones, stand(stones, 0.6), poses, "hull", False)
    margins = nominal(stack)[1].margins
    assert margins is not None
    expected_deg = float(np.degrees(np.arctan(50.0 / 150.0)))
    assert margins.critical_tilt_deg == pytest.approx(expected_deg, abs=0.1)
    with bench.tilting(stack) as tilted:
        assert tilted.onset_deg(0.0, 18.0) == pytest.approx(expected_deg, abs=0.4)
