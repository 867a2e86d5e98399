"""Stones set down on others: whatever is called at rest lies clear, bears within 20 um and balances.

A small seeded slice of tests/benchmarks/bench_seating.py, whose whole table is kept beside it. Overlap is
checked twice: by the project's own signed distances, and by the volume that manifold3d finds in common.
The definition of "over real support" stands in tests/benchmarks/seating.md.
"""

from __future__ import annotations

from pathlib import Path

import bench_seating
import numpy as np
import pytest

from sim.contact import Rest
from sim.statics import Feasible

BEARS_M = 2.0e-5
REASONS = {Rest.SLID, Rest.UNEASY, Rest.OVERLAPS, Rest.TOO_FEW, Rest.NO_ROOM}


def check(stones: object, wanted: int, seed: int) -> None:
    found = bench_seating.placements(stones, wanted, seed)
    still = [one for one in found if one.seated.rest is Rest.AT_REST]
    assert len(still) >= wanted // 2
    for one in still:
        assert one.seated.gap_m <= BEARS_M
        assert one.overlap_um <= 20.0  # the depth that seating leaves alone
        assert one.lens_um <= 20.0
        assert one.stands is Feasible.YES, one.piece
    assert {one.seated.rest for one in found} - {Rest.AT_REST} <= REASONS


def test_generated_stones() -> None:
    check(bench_seating.quarry(1, None, 2000, ("slab", "block", "cobble", "shard")), 12, seed=3)


def test_scanned_stones(scans: Path) -> None:
    check(bench_seating.quarry(1, scans, 2000, ("slab", "block", "cobble", "shard")), 12, seed=4)


def test_what_counts_as_over_support() -> None:
    """A plank 100 mm wide: 9 mm inside its edge is too near, 11 mm is not; a steep one is no support."""
    import trimesh

    plank = trimesh.creation.box((0.1, 0.1, 0.02))
    near, far = (
        bench_seating.over_support(plank, np.array([0.05 - inside, 0.0]), 0.55)[0] for inside in (0.009, 0.011)
    )
    assert (near, far) == (False, True)
    plank.apply_transform(trimesh.transformations.rotation_matrix(np.radians(28.0), [0, 1, 0]))
    assert bench_seating.over_support(plank, np.zeros(2), 0.55) == (True, pytest.approx(28.0))
    assert not bench_seating.over_support(plank, np.zeros(2), 0.53)[0]  # arctan 0.53 is 27.9 degrees
