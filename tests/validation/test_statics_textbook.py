"""Single blocks, towers and submersion: textbook statics, recomputed here by hand.

Values are those of any statics textbook (Coulomb friction, rigid bodies); none is tied to one source.
"""

from __future__ import annotations

import numpy as np
import pytest
from handmade import Bearing, contacts_of, rectangle, stacked_blocks

from sim.statics import (
    Feasible,
    Reason,
    System,
    Verdict,
    assemble_system,
    critical_tilt,
    feasible,
    judge_system,
    least_pushes,
    load_factor,
    loads_at,
    peak_pressure,
    sliding_tilt,
    unsliding,
    weights,
)

UP = np.array([0.0, 0.0, 1.0])


def _block(width: float, height: float, mu: float, depth: float = 1.0) -> System:
    bearing = Bearing(0, -1, rectangle(0.0, width, 0.0, depth, 0.0), UP, mu, width * depth)
    return assemble_system(np.array([[width / 2, depth / 2, height / 2]]), contacts_of([bearing]))


# A1: lambda = min(mu, b/h)
@pytest.mark.parametrize(
    ("width", "height", "mu", "degrees"),
    [(1.0, 1.0, 0.5, 26.565), (1.0, 2.0, 0.8, 26.565), (1.0, 3.0, 0.2, 11.310), (0.05, 0.15, 0.7, 18.435)],
)
def test_a_block_tips_or_slides(width: float, height: float, mu: float, degrees: float) -> None:
    tilt = critical_tilt(_block(width, height, mu, depth=width), weights(np.array([2.0])))
    assert tilt.least_deg == pytest.approx(degrees, abs=0.01)


def test_sliding_is_told_from_tipping() -> None:
    block, loads = _block(1.0, 3.0, 0.2), weights(np.array([2.0]))
    assert sliding_tilt(block, loads).least_deg == pytest.approx(11.310, abs=0.01)
    assert critical_tilt(unsliding(block), loads).least_deg == pytest.approx(18.435, abs=0.01)


# A2: P = min(mu W, W b / (2 y)) for a push at height y on a block 1 x 2 of weight 1, mu 0.8
@pytest.mark.parametrize(("y", "push"), [(0.2, 0.8), (0.5, 0.8), (1.0, 0.5), (2.0, 0.25)])
def test_a_push_slides_low_and_tips_high(y: float, push: float) -> None:
    loads = weights(np.array([3.0]))
    found = least_pushes(_block(1.0, 2.0, 0.8), loads, np.array([[0.5, 0.5, y]]), [0], azimuths=4)[0]
    assert found.force_n / loads.weight_n[0] == pytest.approx(push, rel=1e-4)


# A3: tan(theta) >= (1 - mu1 mu2) / (2 mu1)
@pytest.mark.parametrize(
    ("floor", "wall", "degrees"), [(0.5, 0.5, 36.870), (0.5, 0.0, 45.000), (0.3, 0.3, 56.602), (0.6, 0.2, 36.254)]
)
def test_a_ladder_stands_from_its_angle(floor: float, wall: float, degrees: float) -> None:
    def stands(angle_deg: float) -> Feasible:
        angle = np.radians(angle_deg)
        foot = np.array([[0.0, y, 0.0] for y in (0.0, 0.4)])
        top = np.array([[np.cos(angle), y, np.sin(angle)] for y in (0.0, 0.4)])
        bearings = [Bearing(0, -1, foot, UP, floor), Bearing(0, -3, top, np.array([-1.0, 0.0, 0.0]), wall)]
        centre = np.array([[np.cos(angle) / 2, 0.2, np.sin(angle) / 2]])
        return feasible(assemble_system(centre, contacts_of(bearings)), weights(np.ones(1))).status

    assert stands(degrees + 0.02) is Feasible.YES
    assert stands(degrees - 0.02) is Feasible.NO


# A6: gravity wall b 0.6, h 1.5, W 18 per metre, mu 0.6: overturning and sliding both at 10.8
@pytest.mark.parametrize(("mu", "push"), [(0.6, 10.8), (0.5, 9.0), (0.9, 10.8)])
def test_a_gravity_wall(mu: float, push: float) -> None:
    wall, loads = _block(0.6, 1.5, mu), weights(np.array([18.0]))
    further = np.zeros((1, 6))
    further[0, 0] = 1.0
    further[0, 4] = (0.5 - 0.75) * 1.0
    found = load_factor(wall, loads, further)
    assert found.factor / loads.weight_n[0] * 18.0 == pytest.approx(push, rel=1e-4)


# A7: linear pressure under a rigid base
@pytest.mark.parametrize(("eccentricity", "peak"), [(0.1, 1.6), (1 / 6, 2.0), (0.25, 2.667), (0.4, 6.667)])
def test_peak_pressure(eccentricity: float, peak: float) -> None:
    assert peak_pressure(7.0, 2.0, eccentricity * 2.0) * 2.0 / 7.0 == pytest.approx(peak, rel=2e-4)
    assert np.isinf(peak_pressure(1.0, 1.0, 0.5))


# A8: uniform submersion leaves tilts alone and scales forces by 1 - rho_w / rho_s
@pytest.mark.parametrize(("density", "share"), [(2700.0, 0.6296), (2650.0, 0.6226), (1200.0, 0.1667)])
def test_flooding_scales_pushes_and_leaves_tilts(density: float, share: float) -> None:
    from sim.contact import Poses
    from sim.pieces.mass import make_body

    corners = np.array([[x, y, z] for x in (0.0, 1.0) for y in (0.0, 1.0) for z in (0.0, 2.0)])
    faces = [[0, 2, 6, 4], [1, 5, 7, 3], [0, 4, 5, 1], [2, 3, 7, 6], [0, 1, 3, 2], [4, 6, 7, 5]]
    triangles = np.array([t for a, b, c, d in faces for t in ((a, b, c), (a, c, d))], dtype=np.int32)
    body = make_body(corners, triangles)
    poses = Poses(np.eye(3)[None], np.array([[0.5, 0.5, 1.0]]))
    mass = np.array([density * body.volume_m3])
    air = loads_at([body], poses, mass)
    flooded = loads_at([body], poses, mass, water_level_m=5.0, water_density_kg_m3=1000.0)
    block = _block(1.0, 2.0, 0.8)
    top = np.array([[0.5, 0.5, 2.0]])
    pushes = [least_pushes(block, loads, top, [0], 4)[0].force_n for loads in (air, flooded)]
    assert pushes[1] / pushes[0] == pytest.approx(share, rel=2e-4)
    tilts = [critical_tilt(block, loads).least_deg for loads in (air, flooded)]
    assert tilts[1] == pytest.approx(tilts[0], rel=1e-6)


def test_what_is_lighter_than_water_floats() -> None:
    loads = weights(np.array([-0.2]))
    judged = judge_system(_block(1.0, 1.0, 0.5), loads)
    assert (judged.verdict, judged.reason, judged.pieces) == (Verdict.FALLS, Reason.FLOATS, (0,))


# B6: tower of n unit cubes, mu 0.7: lambda = min(0.7, 1/n)
@pytest.mark.parametrize(("cubes", "factor"), [(1, 0.7), (2, 0.5), (3, 1 / 3), (5, 0.2), (10, 0.1)])
def test_a_tower_of_cubes(cubes: int, factor: float) -> None:
    centre, contacts = stacked_blocks(np.zeros(cubes), 1.0, 1.0, 1.0, 0.7, 1.0)
    tilt = critical_tilt(assemble_system(centre, contacts), weights(np.ones(cubes)))
    assert np.tan(np.radians(tilt.least_deg)) == pytest.approx(factor, rel=1e-4)
