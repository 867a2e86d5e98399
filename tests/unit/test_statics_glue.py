"""Glued stacks: sharing by stiffness, breaking one after the other, limits as cones."""

from __future__ import annotations

import numpy as np
import pytest
from handmade import Bearing, contacts_of, rectangle
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.contact import Contacts
from sim.joints import Joint, joint_patch, utilisation
from sim.statics import (
    Feasible,
    Loads,
    Reason,
    Strict,
    System,
    Verdict,
    assemble_system,
    feasible,
    glued,
    judge_system,
    limit_joints,
    load_factor,
    weights,
)

UP, EAST = np.array([0.0, 0.0, 1.0]), np.array([1.0, 0.0, 0.0])
STIFF = 1.0e12
SQUARE = np.array([[0.0, y, z] for y in (-0.01, 0.01) for z in (-0.01, 0.01)])
NOTHING = contacts_of([])


def _arm(strength_pa: float) -> tuple[System, Loads]:
    """2 kg held 100 mm from a pane by 20 x 20 mm of glue, and by nothing else."""
    joint = Joint(0, -2, joint_patch(SQUARE, EAST), strength_pa, STIFF)
    return assemble_system(np.array([[0.1, 0.0, 0.0]]), NOTHING, joints=(joint,)), weights(np.array([2.0]))


# sigma = 1.471 MPa and tau = 0.049 MPa, check by hand
@pytest.mark.parametrize(("strength", "verdict"), [(1.50e6, Strict.FALLS), (1.54e6, Strict.STANDS)])
def test_a_cantilever(strength: float, verdict: Strict) -> None:
    system, loads = _arm(strength)
    found = glued(system, loads)
    assert found.verdict is verdict
    assert found.utilisation[0] == pytest.approx(1.520e6 / strength, rel=1e-3)
    limited = feasible(limit_joints(system), loads).status
    assert limited is (Feasible.YES if verdict is Strict.STANDS else Feasible.NO)


def test_the_limit_is_met_exactly() -> None:
    """Twice the strength for twice the weight: the factor on weight is strength over use, less one."""
    system, loads = _arm(4.0e6)
    found = load_factor(limit_joints(system), loads, loads.wrench)
    assert found.factor == pytest.approx(1.0 / glued(system, loads).utilisation[0] - 1.0, rel=1e-4)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10_000))
def test_limits_agree_with_the_criterion(seed: int) -> None:
    """A single joint is determinate: the cones break where the utilisation passes 1."""
    rng = np.random.default_rng(seed)
    outline = np.column_stack([rng.uniform(-0.02, 0.02, (7, 2)), np.zeros(7)])
    normal = rng.normal(size=3)
    normal /= np.linalg.norm(normal)
    turn = np.linalg.svd(normal[None])[2]
    patch = joint_patch(outline[:, :1] * turn[1] + outline[:, 1:2] * turn[2], normal, 0.3)
    strength = 1.0e6
    joint = Joint(0, -1, patch, strength, STIFF)
    system = assemble_system(rng.normal(0.0, 0.05, (1, 3)), NOTHING, joints=(joint,))
    force = rng.normal(size=3) * 5.0
    loads = weights(np.zeros(1)).with_extra(0, force, rng.normal(0.0, 0.03, 3))
    use = glued(system, loads).utilisation[0]
    found = feasible(limit_joints(system), loads)
    if abs(use - 1.0) > 1e-3:
        assert found.status is (Feasible.YES if use < 1.0 else Feasible.NO)


def test_a_joint_between_two_pieces_carries_what_hangs_on_it() -> None:
    upper = rectangle(-0.02, 0.02, -0.02, 0.02, 0.0)
    contacts = contacts_of([Bearing(0, -1, upper, UP, 0.5, 1.6e-3)])
    side = np.array([[0.02, y, z] for y in (-0.02, 0.02) for z in (0.03, 0.05)])
    patch = joint_patch(side, EAST)
    joint = Joint(1, 0, patch, 1e6, STIFF)
    centre = np.array([[0.0, 0.0, 0.03], [0.03, 0.0, 0.04]])
    loads = weights(np.array([2.0, 0.1]))
    found = glued(assemble_system(centre, contacts, joints=(joint,)), loads)
    assert found.verdict is Strict.STANDS
    shears = np.linalg.norm(found.wrench_n[0, :2])
    assert shears == pytest.approx(loads.weight_n[1], rel=1e-6)
    assert found.wrench_n[0, 2] == pytest.approx(0.0, abs=1e-6)
    bending = np.linalg.norm(found.wrench_n[0, 3:5])
    assert bending == pytest.approx(loads.weight_n[1] * 0.01, rel=1e-6)
    assert found.utilisation[0] == pytest.approx(utilisation(found.wrench_n[0], patch, 1e6))


def _shelf(strengths: tuple[float, float]) -> tuple[System, Loads]:
    """A stone between two panes, glued to both."""
    joints = tuple(
        Joint(0, pane, joint_patch(SQUARE + np.array([x, 0.0, 0.0]), normal), strength, STIFF)
        for x, pane, normal, strength in ((0.0, -2, EAST, strengths[0]), (0.2, -3, -EAST, strengths[1]))
    )
    return assemble_system(np.array([[0.1, 0.0, 0.0]]), NOTHING, joints=joints), weights(np.array([2.0]))


def test_equal_joints_share_evenly() -> None:
    found = glued(*_shelf((1e6, 1e6)))
    assert found.verdict is Strict.STANDS
    assert found.utilisation[0] == pytest.approx(found.utilisation[1], rel=1e-6)
    shears = np.linalg.norm(found.wrench_n[:, :2], axis=1)
    assert shears == pytest.approx([2.0 * 9.80665 / 2] * 2, rel=1e-6)


def test_one_break_brings_the_next() -> None:
    """The weak side goes first, and what is left is a cantilever that no 1 MPa holds."""
    found = glued(*_shelf((1e3, 1e6)))
    assert found.verdict is Strict.FALLS
    assert found.broken == (0, 1)
    judged = judge_system(*_shelf((1e3, 1e6)))
    assert (judged.verdict, judged.reason) == (Verdict.FALLS, Reason.UNSUPPORTED)


def _two_blocks(strength_pa: float, over_m: float) -> tuple[System, Loads, Contacts]:
    """A block on a block, its left edge `over_m` to the right of the lower one's."""
    low, high = over_m, 0.1
    contacts = contacts_of(
        [
            Bearing(0, -1, rectangle(0.0, 0.1, 0.0, 0.1, 0.0), UP, 0.6, 0.01),
            Bearing(1, 0, rectangle(low, high, 0.0, 0.1, 0.05), UP, 0.6, (high - low) * 0.1),
        ]
    )
    joint = Joint(1, 0, joint_patch(rectangle(low, high, 0.0, 0.1, 0.05), UP, 0.3), strength_pa, STIFF)
    centre = np.array([[0.05, 0.05, 0.025], [over_m + 0.05, 0.05, 0.075]])
    return assemble_system(centre, contacts, joints=(joint,)), weights(np.array([1.0, 1.0])), contacts


def test_a_broken_joint_leaves_the_dry_contacts() -> None:
    system, loads, _ = _two_blocks(1.0, 0.04)
    found = glued(system, loads)
    assert found.broken == (0,)
    assert found.verdict is Strict.STANDS
    assert found.strict.forces_n[4:, 0].sum() == pytest.approx(loads.weight_n[1], rel=1e-6)


def test_glue_holds_what_would_tip_dry() -> None:
    dry, loads, contacts = _two_blocks(1.0, 0.06)
    assert feasible(assemble_system(dry.centre_m, contacts), loads).status is Feasible.NO
    assert glued(dry, loads).verdict is Strict.FALLS
    judged = judge_system(*_two_blocks(1e6, 0.06)[:2])
    assert judged.verdict is Verdict.STANDS
    assert judged.glue is not None
    assert judged.glue.broken == ()
    assert judged.margins is not None
    assert judged.margins.critical_tilt_deg > 5.0
    broke = judge_system(dry, loads)
    assert (broke.verdict, broke.reason, broke.pieces) == (Verdict.FALLS, Reason.GLUE_BREAKS, (1,))


def test_order_of_joints_does_not_matter() -> None:
    one, loads = _shelf((2e5, 1e6))
    other = assemble_system(one.centre_m, NOTHING, joints=one.joints[::-1])
    first, second = glued(one, loads), glued(other, loads)
    assert first.verdict is second.verdict
    assert first.utilisation == pytest.approx(second.utilisation[::-1], rel=1e-6)
