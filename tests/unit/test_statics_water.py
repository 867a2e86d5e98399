"""A water level needs the density of the water: without it there would be no buoyancy, silently."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from sim.contact import Poses
from sim.errors import SolverError
from sim.pieces.mass import make_body
from sim.statics import loads_at

CUBE = trimesh.creation.box((0.1, 0.1, 0.1))
BODY = make_body(np.asarray(CUBE.vertices), np.asarray(CUBE.faces))
POSES = Poses(np.eye(3)[None], np.array([[0.3, 0.2, 0.05]]))


@pytest.mark.parametrize("density", [0.0, -1.0, float("nan")])
def test_a_level_without_a_density_is_refused(density: float) -> None:
    with pytest.raises(SolverError, match="density"):
        loads_at([BODY], POSES, np.array([2.7]), 0.4, density)


def test_with_a_density_it_is_lighter() -> None:
    # Archimedes: one litre displaced
    loads = loads_at([BODY], POSES, np.array([2.7]), 0.4, 998.0)
    assert loads.weight_n[0] == pytest.approx((2.7 - 0.998) * 9.80665)
