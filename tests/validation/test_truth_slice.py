"""Our tilts against MuJoCo's on stacks whose shapes both share exactly: single hulls and unions of convex parts.

A small seeded slice of tests/benchmarks/bench_truth.py, whose whole table is kept beside it; the settings of the
engine are those of `sim.trial`, with half its step. Two and three stones, one rest on an edge among them.

References
----------
Todorov, E. (2014). Convex and analytically-invertible dynamics with contacts and constraints:
theory and implementation in MuJoCo. IEEE ICRA, 6054-6061.
"""

from __future__ import annotations

import importlib
import sys
from pathlib import Path
from types import ModuleType

import pytest

BENCHMARKS = Path(__file__).resolve().parents[1] / "benchmarks"
UNSAFE_DEG = 0.5
NEAR_DEG = 1.0  # in these stacks, in which the first movement is the one that is asked for


@pytest.fixture(scope="module")
def bench() -> ModuleType:
    """The benchmark, which is a script among its neighbours and no part of a package."""
    sys.path.insert(0, str(BENCHMARKS))
    try:
        return importlib.import_module("bench_truth")
    finally:
        sys.path.remove(str(BENCHMARKS))


@pytest.mark.parametrize("seed", [3, 13, 14])
def test_no_tilt_is_called_safe_that_the_engine_does_not_bear(bench: ModuleType, seed: int) -> None:
    row = bench.compare(seed)
    assert row["verdict"] == "stands"
    assert "trouble" not in row
    assert row["unknown"] == ""
    # the engine keeps what we call at rest, within what its own contacts give
    assert max(row["settled_um"]) < 500.0
    assert 0.0 < row["robust"] <= row["least_onset"] + UNSAFE_DEG
    # nor is the margin low for no reason: something moves at about that tilt
    assert row["robust"] == pytest.approx(row["stirs"], abs=NEAR_DEG)


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
