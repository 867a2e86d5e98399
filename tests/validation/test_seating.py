"""Stones set down on others: whatever is called at rest lies clear, bears within 20 um and balances.

A small seeded slice of tests/benchmarks/bench_seating.py, whose whole table is kept beside it. Overlap is
checked twice: by the project's own signed distances, and by the volume that manifold3d finds in common.
The definition of "over real support" stands in tests/benchmarks/real_support.py.
"""

from __future__ import annotations

from pathlib import Path

import bench_seating
import numpy as np
import pytest
import real_support
import trimesh

from sim.contact import Rest
from sim.statics import Feasible

BEARS_M = 2.0e-5
SHARED_M = 2.0e-5
REST_SHARE = 0.8  # of the few placements here that are over real support; the whole table is the measure
REASONS = {Rest.SLID, Rest.UNEASY, Rest.OVERLAPS, Rest.TOO_FEW, Rest.NO_ROOM}


def check(stones: object, wanted: int, seed: int) -> None:
    found = bench_seating.placements(stones, wanted, seed)
    still = [one for one in found if one.seated.rest is Rest.AT_REST]
    over = [one for one in found if one.supported]
    assert sum(one.seated.rest is Rest.AT_REST for one in over) >= REST_SHARE * len(over)
    for one in still:
        assert one.seated.gap_m <= BEARS_M
        assert one.overlap_um * 1e-6 <= SHARED_M
        assert one.lens_um * 1e-6 <= SHARED_M
        assert one.stands is Feasible.YES, one.piece
    assert {one.seated.rest for one in found} - {Rest.AT_REST} <= REASONS


def test_generated_stones() -> None:
    check(bench_seating.quarry(1, None, 2000, ("slab", "block", "cobble", "shard")), 12, seed=3)


def test_scanned_stones(scans: Path) -> None:
    check(bench_seating.quarry(1, scans, 2000, ("slab", "block", "cobble", "shard")), 12, seed=4)


MU = 0.55


def slab_at(x_m: float, tilt_deg: float = 0.0, ground_deg: float = 0.0) -> tuple[bool, float]:
    """Whether a slab 80 mm wide has real support on a block 100 mm wide, and how far inside its centre is."""
    ground = trimesh.creation.box((0.1, 0.1, 0.1))
    slab = trimesh.creation.box((0.08, 0.08, 0.02))
    for mesh, turn_deg in ((ground, ground_deg), (slab, tilt_deg)):
        mesh.apply_transform(trimesh.transformations.rotation_matrix(np.radians(turn_deg), [0, 1, 0]))
    field = real_support.gap_field(slab, np.array([x_m, 0.0]), ground, floor_m=-0.2)
    return real_support.has_real_support(field, MU, 20.0), real_support.enclosed_m(field, MU)


class TestRealSupport:
    def test_a_slab_needs_ground_a_tenth_of_its_width_beyond_its_centre(self) -> None:
        """The block ends 50 mm from its middle; 2 mm at its rim are too steep for the slope that is measured there."""
        assert slab_at(0.0) == (True, pytest.approx(0.040, abs=1e-3))
        assert slab_at(0.038)[0]
        assert not slab_at(0.045)[0]
        assert slab_at(0.045)[1] == pytest.approx(0.003, abs=1.5e-3)

    def test_a_tilted_slab_finds_support_only_within_the_gap_that_it_may_close(self) -> None:
        """5 mm at 10 degrees are 28.4 mm from the edge that touches, which lies 39.4 - 1.7 mm from the centre."""
        assert slab_at(0.0, tilt_deg=3.0)[0]
        assert not slab_at(0.0, tilt_deg=10.0)[0]
        assert slab_at(0.0, tilt_deg=10.0)[1] == pytest.approx(0.0284 - 0.0377, abs=1.5e-3)

    def test_ground_steeper_than_the_friction_angle_is_none(self) -> None:
        """arctan 0.55 is 28.8 degrees."""
        assert slab_at(0.0, tilt_deg=28.0, ground_deg=28.0)[0]
        assert not slab_at(0.0, tilt_deg=30.0, ground_deg=30.0)[0]

    def test_a_way_to_lie_that_the_hand_misses_is_no_support(self) -> None:
        slab, ground = trimesh.creation.box((0.08, 0.08, 0.02)), trimesh.creation.box((0.1, 0.1, 0.1))
        field = real_support.gap_field(slab, np.zeros(2), ground, floor_m=-0.2)
        assert not real_support.has_real_support(field, MU, -0.5)


def test_older_definition() -> None:
    """A plank 100 mm wide: 9 mm inside its edge is too near, 11 mm is not; a steep one is no support."""
    plank = trimesh.creation.box((0.1, 0.1, 0.02))
    near, far = (real_support.over_a_spot(plank, np.array([0.05 - inside, 0.0]), MU)[0] for inside in (0.009, 0.011))
    assert (near, far) == (False, True)
    plank.apply_transform(trimesh.transformations.rotation_matrix(np.radians(28.0), [0, 1, 0]))
    assert real_support.over_a_spot(plank, np.zeros(2), MU) == (True, pytest.approx(28.0))
    assert not real_support.over_a_spot(plank, np.zeros(2), 0.53)[0]  # arctan 0.53 is 27.9 degrees
