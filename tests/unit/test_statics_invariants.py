"""What must not change a verdict or a margin: where north is, mirrors, names, and the unit of mass."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from handmade import Bearing, contacts_of
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from sim.contact import Contacts
from sim.statics import (
    Feasible,
    assemble_system,
    critical_tilt,
    equilibrium,
    feasible,
    load_factor,
    rests,
    strict_check,
    weights,
)

SAME = 1.0e-6
STANDING_SEED = 16
SEEDS = st.integers(0, 10_000)
QUICK = settings(max_examples=50, deadline=None)


def _heap(seed: int) -> tuple[np.ndarray, Contacts, np.ndarray]:
    """Crooked towers, each stone on three or four points of the one below."""
    rng = np.random.default_rng(seed)
    bearings, centre = [], []
    for i in range(int(rng.integers(2, 7))):
        corner = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])[: int(rng.integers(3, 5))] * rng.uniform(0.3, 0.6)
        spot = rng.normal(0.0, 0.03, 2)
        points = np.column_stack([corner + spot, np.full(len(corner), float(i))])
        normal = np.array([*rng.normal(0.0, 0.05, 2), 1.0])
        bearings.append(Bearing(i, i - 1, points, normal, float(rng.uniform(0.3, 0.8)), float(rng.uniform(0.1, 0.5))))
        centre.append([*(rng.normal(0.0, 0.03, 2) + spot), i + rng.uniform(0.4, 0.6)])
    return np.array(centre), contacts_of(bearings), rng.uniform(0.5, 3.0, len(centre))


def _factor(centre: np.ndarray, contacts: Contacts, mass: np.ndarray, azimuth: float) -> float:
    system, loads = assemble_system(centre, contacts), weights(mass)
    if feasible(system, loads).status is not Feasible.YES:
        return np.nan
    return load_factor(system, loads, loads.sideways(azimuth)).factor


def _moved(contacts: Contacts, turn: np.ndarray) -> Contacts:
    return replace(contacts, point_m=contacts.point_m @ turn.T, normal=contacts.normal @ turn.T)


@QUICK
@given(SEEDS, st.floats(0.0, 6.28))
def test_turning_about_the_vertical(seed: int, angle: float) -> None:
    centre, contacts, mass = _heap(seed)
    turn = Rotation.from_euler("z", angle).as_matrix()
    before = _factor(centre, contacts, mass, 0.7)
    after = _factor(centre @ turn.T, _moved(contacts, turn), mass, 0.7 + angle)
    assert after == pytest.approx(before, rel=SAME, abs=SAME, nan_ok=True)


@QUICK
@given(SEEDS)
def test_a_mirror(seed: int) -> None:
    centre, contacts, mass = _heap(seed)
    mirror = np.diag([-1.0, 1.0, 1.0])
    before = _factor(centre, contacts, mass, 0.7)
    after = _factor(centre @ mirror, _moved(contacts, mirror), mass, np.pi - 0.7)
    assert after == pytest.approx(before, rel=SAME, abs=SAME, nan_ok=True)


@QUICK
@given(SEEDS)
def test_the_order_of_pieces_and_contacts(seed: int) -> None:
    centre, contacts, mass = _heap(seed)
    rng = np.random.default_rng(seed + 1)
    order = rng.permutation(len(mass))
    name = np.argsort(order)
    shuffle = rng.permutation(len(contacts.a))
    a, b = name[contacts.a], np.where(contacts.b < 0, contacts.b, name[contacts.b])
    renamed = replace(
        contacts, a=a[shuffle], b=b[shuffle], point_m=contacts.point_m[shuffle], normal=contacts.normal[shuffle],
        gap_m=contacts.gap_m[shuffle], area_m2=contacts.area_m2[shuffle], patch=contacts.patch[shuffle],
        mu=contacts.mu[shuffle],
    )  # fmt: skip
    before = _factor(centre, contacts, mass, 0.7)
    after = _factor(centre[order], renamed, mass[order], 0.7)
    assert after == pytest.approx(before, rel=SAME, abs=SAME, nan_ok=True)


@QUICK
@given(SEEDS, st.floats(1e-3, 1e3), st.floats(1e-2, 1e2))
def test_units_of_mass_and_length(seed: int, heavier: float, larger: float) -> None:
    centre, contacts, mass = _heap(seed)
    before = _factor(centre, contacts, mass, 0.7)
    scaled = replace(contacts, point_m=contacts.point_m * larger, area_m2=contacts.area_m2 * larger**2)
    after = _factor(centre * larger, scaled, mass * heavier, 0.7)
    assert after == pytest.approx(before, rel=SAME, abs=SAME, nan_ok=True)


@QUICK
@given(SEEDS)
def test_the_least_tilt_is_least(seed: int) -> None:
    """Against all 48 azimuths of a finer compass; the search solves far fewer."""
    centre, contacts, mass = _heap(seed)
    system, loads = assemble_system(centre, contacts), weights(mass)
    found = critical_tilt(system, loads)
    if found.status is not Feasible.YES:
        assert feasible(system, loads).status is not Feasible.YES or "no sound answer" in found.note
        return
    if feasible(system, loads).status is not Feasible.YES:
        return
    fine = critical_tilt(system, loads, azimuths=48, exhaustive=True)
    assert found.least_deg <= fine.per_azimuth_deg.min() + 0.05
    assert found.least_deg >= fine.least_deg - 0.05


@QUICK
@given(SEEDS)
def test_what_comes_to_rest_by_loading_is_admissible(seed: int) -> None:
    centre, contacts, mass = _heap(seed)
    system, loads = assemble_system(centre, contacts), weights(mass)
    rest = rests(system, loads)
    if rest is None:
        return
    assert feasible(system, loads).status is Feasible.YES
    force = np.einsum("kc,kcx->kx", rest.forces_n, system.frame)
    for piece in range(len(mass)):
        on, under = contacts.a == piece, contacts.b == piece
        total = force[on].sum(axis=0) - force[under].sum(axis=0) + loads.force_n[piece]
        arm = contacts.point_m - centre[piece]
        moment = np.cross(arm, force)[on].sum(axis=0) - np.cross(arm, force)[under].sum(axis=0)
        assert np.abs(total).max() < 1e-5 * loads.weight_n.mean()
        assert np.abs(moment).max() < 1e-5 * loads.weight_n.mean()
    slip = np.hypot(rest.forces_n[:, 1], rest.forces_n[:, 2])
    assert (slip <= contacts.mu * rest.forces_n[:, 0] + 1e-6 * loads.weight_n.mean()).all()


@QUICK
@given(SEEDS)
def test_the_mechanism_at_the_critical_tilt_gains_no_power(seed: int) -> None:
    """At the limit the tilted weights just balance what the mechanism resists."""
    centre, contacts, mass = _heap(seed)
    system, loads = assemble_system(centre, contacts), weights(mass)
    if feasible(system, loads).status is not Feasible.YES:
        return
    found = load_factor(system, loads, loads.sideways(0.3))
    if not np.isfinite(found.factor):
        return
    power = (found.mechanism * (loads.wrench + found.factor * loads.sideways(0.3))).sum()
    assert abs(power) < 1e-3 * loads.weight_n.sum()


def test_margins_of_a_heap_hold_together() -> None:
    centre, contacts, mass = _heap(STANDING_SEED)
    system, loads = assemble_system(centre, contacts), weights(mass)
    margins = equilibrium(system, loads, tops_m=centre + np.array([0.0, 0.0, 0.5]))
    assert 0.0 < margins.critical_tilt_deg <= margins.sliding_tilt_deg + 1e-6
    assert margins.critical_tilt_deg <= margins.stack_tilt_deg + 1e-6
    assert margins.least_push_n == min(push.force_n for push in margins.pushes)
    assert margins.friction_reserve > 1.0
    assert strict_check(system, loads).verdict.value == "stands"
