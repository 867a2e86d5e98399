"""The cone programme against an independent linear programme on plane stacks (scipy's HiGHS)."""

from __future__ import annotations

import numpy as np
import pytest
from handmade import Bearing, contacts_of
from scipy.optimize import linprog

from sim.statics import Feasible, assemble_system, feasible, load_factor, weights

DEPTH_M = 0.4


def _plane_stack(seed: int) -> tuple[list[Bearing], np.ndarray, np.ndarray]:
    """Blocks in courses, each on one or two below, joints a little out of level."""
    rng = np.random.default_rng(seed)
    courses, per_course = 3, 3
    left = np.array([[c + 0.45 * (r % 2) + rng.uniform(0.0, 0.1) for c in range(per_course)] for r in range(courses)])
    bearings, centre = [], []
    for r in range(courses):
        for c in range(per_course):
            i = r * per_course + c
            centre.append([left[r, c] + 0.45, DEPTH_M / 2.0, 0.5 * r + 0.25])
            below = [(-1, left[r, c], left[r, c] + 0.9)] if r == 0 else []
            for d in range(per_course) if r else ():
                low, high = max(left[r, c], left[r - 1, d]), min(left[r, c], left[r - 1, d]) + 0.9
                if high - low > 0.02:
                    below.append(((r - 1) * per_course + d, low, high))
            for j, low, high in below:
                slope = rng.normal(0.0, 0.08)
                corners = np.array([[x, y, 0.5 * r + slope * (x - low)] for x in (low, high) for y in (0.0, DEPTH_M)])
                normal = np.array([-slope, 0.0, 1.0])
                bearings.append(Bearing(i, j, corners, normal, float(rng.uniform(0.3, 0.8))))
    return bearings, np.array(centre), rng.uniform(0.5, 2.0, len(centre))


def _linear(bearings: list[Bearing], centre: np.ndarray, mass: np.ndarray, sideways: float) -> float:
    """Greatest factor of the sideways load by a plane linear programme; nan where none balances."""
    count, columns = len(centre), []
    mu = []
    for bearing in bearings:
        n = bearing.normal / np.linalg.norm(bearing.normal)
        for corner in (bearing.corners_m[0], bearing.corners_m[2]):
            for force in ((n[0], n[2]), (n[2], -n[0])):
                column = np.zeros(3 * count)
                for sign, piece in ((1.0, bearing.a), (-1.0, bearing.b)):
                    if piece >= 0:
                        x, z = corner[0] - centre[piece, 0], corner[2] - centre[piece, 2]
                        column[3 * piece : 3 * piece + 3] += sign * np.array([*force, x * force[1] - z * force[0]])
                columns.append(column)
            mu.append(bearing.mu)
    balance = np.array(columns).T
    push = np.zeros((3 * count, 1))
    push[0::3, 0] = mass * sideways
    weight = np.zeros(3 * count)
    weight[1::3] = mass
    friction = np.zeros((2 * len(mu), 2 * len(mu) + 1))
    for k, m in enumerate(mu):
        friction[2 * k : 2 * k + 2, 2 * k : 2 * k + 2] = [[-m, 1.0], [-m, -1.0]]
    cost = np.zeros(2 * len(mu) + 1)
    cost[-1] = -1.0
    bounds = [b for _ in mu for b in ((0, None), (None, None))] + [(0, None)]
    found = linprog(
        cost, A_ub=friction, b_ub=np.zeros(2 * len(mu)), A_eq=np.hstack([balance, push]), b_eq=weight, bounds=bounds
    )
    return float(found.x[-1]) if found.status == 0 else np.nan


@pytest.mark.parametrize("seed", range(25))
def test_same_factor_as_the_linear_programme(seed: int) -> None:
    bearings, centre, mass = _plane_stack(seed)
    system, loads = assemble_system(centre, contacts_of(bearings)), weights(mass)
    for azimuth, sideways in ((0.0, 1.0), (np.pi, -1.0)):
        found = load_factor(system, loads, loads.sideways(azimuth))
        assert found.status is not Feasible.UNKNOWN
        expected = _linear(bearings, centre, mass, sideways)
        assert found.factor == pytest.approx(expected, rel=1e-4, abs=1e-5, nan_ok=True)
    assert feasible(system, loads).status is not Feasible.UNKNOWN


def test_the_plane_stacks_include_both_kinds() -> None:
    status = []
    for seed in range(25):
        bearings, centre, mass = _plane_stack(seed)
        status.append(feasible(assemble_system(centre, contacts_of(bearings)), weights(mass)).status)
    assert {Feasible.YES, Feasible.NO} <= set(status)
