"""Traps: statically admissible, and falls all the same.

Sources: rigid-block equilibrium against coupled analysis, sample 'model H' of the compas_cra
repository (block geometry; the coupled solve has no solution there); contraction ratio of the
keystone derived from the iteration of Acary et al. (2011), ZAMM 91(2), 155-175.
"""

from __future__ import annotations

import numpy as np
import pytest
from handmade import Bearing, contacts_of

from sim.statics import (
    Feasible,
    Reason,
    Strict,
    System,
    Verdict,
    assemble_system,
    bracket,
    feasible,
    judge_system,
    strict_check,
    weights,
)
from sim.statics import strict as strict_module
from sim.statics.programme import mean_weight


def _upright(x: float, z0: float, z1: float, depth: float = 1.0) -> np.ndarray:
    return np.array([[x, 0.0, z0], [x, depth, z0], [x, depth, z1], [x, 0.0, z1]])


def _pinned(mu: float) -> System:
    """D1: a block between two walls, faces flat, exactly touching."""
    east = np.array([1.0, 0.0, 0.0])
    bearings = [
        Bearing(0, -2, _upright(0.0, 0.0, 1.0), east, mu, 1.0),
        Bearing(0, -3, _upright(1.0, 0.0, 1.0), -east, mu, 1.0),
    ]
    return assemble_system(np.array([[0.5, 0.5, 0.5]]), contacts_of(bearings))


def _model_h(mu: float) -> System:
    """D3: a bar between two fixed columns."""
    east = np.array([1.0, 0.0, 0.0])
    bearings = [
        Bearing(2, 0, _upright(-0.9, -0.2, 0.6), east, mu, 0.8),
        Bearing(2, 1, _upright(0.9, -0.2, 0.6), -east, mu, 0.8),
    ]
    centre = np.array([[-1.0, 0.5, 0.2], [1.0, 0.5, 0.2], [0.0, 0.5, 0.2]])
    return assemble_system(centre, contacts_of(bearings), fixed=np.array([True, True, False]))


def _keystone(mu: float, taper_deg: float) -> System:
    """D5: a block between fixed faces, wider at the top where the taper is positive."""
    t = np.radians(taper_deg)
    bearings = []
    for side in (-1.0, 1.0):
        foot, top = side * (0.5 - np.tan(t) / 2), side * (0.5 + np.tan(t) / 2)
        corners = np.array([[foot, 0.0, -0.5], [foot, 1.0, -0.5], [top, 1.0, 0.5], [top, 0.0, 0.5]])
        normal = np.array([-side * np.cos(t), 0.0, np.sin(t)])
        bearings.append(Bearing(0, -2 if side < 0 else -3, corners, normal, mu, 1.0))
    return assemble_system(np.array([[0.0, 0.5, 0.0]]), contacts_of(bearings))


@pytest.mark.parametrize("mu", [0.05, 0.2, 0.5, 0.84, 1.5])
def test_a_block_pinned_between_panes_falls(mu: float) -> None:
    loads = weights(np.array([1.3]))
    judged = judge_system(_pinned(mu), loads)
    assert judged.feasibility.status is Feasible.YES
    assert (judged.verdict, judged.reason, judged.pieces) == (Verdict.FALLS, Reason.WEDGED, (0,))
    assert judged.moving[0].direction == pytest.approx([0.0, 0.0, -1.0], abs=1e-4)
    assert judged.margins is None


def test_its_thrust_on_a_pane_is_at_least_half_its_weight_over_mu_and_without_bound() -> None:
    system, loads = _pinned(0.2), weights(np.array([1.0]))
    left = np.zeros((8, 3))
    left[:4, 0] = 1.0
    span = bracket(system, loads, left)
    assert span.least / loads.weight_n[0] == pytest.approx(2.5, rel=1e-4)
    assert np.isinf(span.most)


@pytest.mark.parametrize(("mu", "compression"), [(0.84, 1.714), (0.2, 7.200)])
def test_model_h_is_admissible_and_falls(mu: float, compression: float) -> None:
    """The published rigid-block answer, W/mu in all, is the least compression that balances."""
    system, loads = _model_h(mu), weights(np.array([1.0, 1.0, 1.44]))
    assert feasible(system, loads).status is Feasible.YES
    normal = np.zeros((8, 3))
    normal[:, 0] = 1.0
    unit = loads.weight_n[2] / 1.44
    assert bracket(system, loads, normal).least / unit == pytest.approx(compression, rel=1e-3)
    assert strict_check(system, loads).verdict is Strict.FALLS


@pytest.mark.parametrize("mu", [0.5, 0.84])
@pytest.mark.parametrize("taper", [5.0, 1.0, 0.2])
def test_a_keystone_stands(mu: float, taper: float) -> None:
    assert strict_check(_keystone(mu, taper), weights(np.ones(1))).verdict is Strict.STANDS


@pytest.mark.parametrize("mu", [0.5, 0.84])
@pytest.mark.parametrize("taper", [-0.2, -1.0, -5.0])
def test_an_inverted_keystone_is_admissible_and_falls(mu: float, taper: float) -> None:
    system, loads = _keystone(mu, taper), weights(np.ones(1))
    assert feasible(system, loads).status is Feasible.YES
    assert strict_check(system, loads).verdict is Strict.FALLS


@pytest.mark.parametrize(("mu", "taper", "ratio"), [(0.5, 5.0, 0.851), (0.84, 5.0, 0.906)])
def test_contraction_of_the_fixed_point(mu: float, taper: float, ratio: float) -> None:
    system, loads = _keystone(mu, taper), weights(np.ones(1))
    unit = mean_weight(loads, system)
    answer = strict_module._fixed_point(system, system.scaled(loads.wrench, unit), unit)
    assert answer.verdict is Strict.STANDS
    assert answer.ratio == pytest.approx(ratio, abs=1e-3)


def test_a_pinned_pebble_among_boulders_falls() -> None:
    """Its slips are small beside the boulders' squeeze, and still grow."""
    up = np.array([0.0, 0.0, 1.0])
    east = np.array([1.0, 0.0, 0.0])
    bearings = [
        Bearing(i, -1, np.array([[x, 0.0, 0.0], [x + 1, 0.0, 0.0], [x + 1, 1.0, 0.0], [x, 1.0, 0.0]]), up, 0.5, 1.0)
        for i, x in ((0, 0.0), (1, 1.01))
    ]
    bearings += [
        Bearing(2, 0, _upright(1.0, 0.5, 0.51, 0.01), east, 0.5, 1e-4),
        Bearing(2, 1, _upright(1.01, 0.5, 0.51, 0.01), -east, 0.5, 1e-4),
    ]
    centre = np.array([[0.5, 0.5, 0.5], [1.51, 0.5, 0.5], [1.005, 0.005, 0.505]])
    judged = judge_system(assemble_system(centre, contacts_of(bearings)), weights(np.array([30.0, 30.0, 0.01])))
    assert judged.verdict is Verdict.FALLS
