"""Defined answers where there is little or nothing to judge, and honest ones when a solver fails."""

from __future__ import annotations

import numpy as np
import pytest
from handmade import Bearing, contacts_of, rectangle, stacked_blocks

from sim.statics import (
    Feasible,
    Reason,
    Strict,
    Verdict,
    assemble_system,
    bracket,
    collapse_motion,
    cones,
    critical_tilt,
    equilibrium,
    feasible,
    footprints,
    friction_reserve,
    judge_system,
    lacking_support,
    load_factor,
    nominal_forces,
    sliding_tilt,
    strict_check,
    topple_energies,
    weights,
)

UP = np.array([0.0, 0.0, 1.0])
FOOT = rectangle(0.0, 1.0, 0.0, 1.0, 0.0)
NOTHING = contacts_of([])


def _cube(mu: float, fixed: bool = False):  # type: ignore[no-untyped-def]
    return assemble_system(
        np.array([[0.5, 0.5, 0.5]]), contacts_of([Bearing(0, -1, FOOT, UP, mu, 1.0)]), np.array([fixed])
    )


def test_no_pieces() -> None:
    system, loads = assemble_system(np.zeros((0, 3)), NOTHING), weights(np.zeros(0))
    judged = judge_system(system, loads)
    assert judged.verdict is Verdict.STANDS
    assert judged.margins is None
    assert footprints(system, loads, np.zeros((0, 3))) == ()


def test_a_piece_in_the_air() -> None:
    system, loads = assemble_system(np.zeros((1, 3)), NOTHING), weights(np.ones(1))
    judged = judge_system(system, loads)
    assert (judged.verdict, judged.reason, judged.pieces) == (Verdict.FALLS, Reason.UNSUPPORTED, (0,))
    assert judged.moving[0].direction == pytest.approx([0.0, 0.0, -1.0])
    assert nominal_forces(system, loads) is None
    assert load_factor(system, loads, loads.sideways(0.0)).status is Feasible.NO
    assert bracket(system, loads, np.zeros((0, 3))).most == 0.0
    assert lacking_support(system, loads).share == pytest.approx([1.0])


def test_a_fixed_piece_needs_nothing() -> None:
    judged = judge_system(_cube(0.5, fixed=True), weights(np.ones(1)))
    assert judged.verdict is Verdict.STANDS


def test_zero_friction_stands_level_and_slides_at_once() -> None:
    system, loads = _cube(0.0), weights(np.ones(1))
    judged = judge_system(system, loads)
    assert judged.verdict is Verdict.STANDS
    assert critical_tilt(system, loads).least_deg == pytest.approx(0.0, abs=1e-4)
    assert sliding_tilt(system, loads).least_deg == pytest.approx(0.0, abs=1e-4)
    assert np.isinf(friction_reserve(system, loads))


def test_weightless_wood() -> None:
    system, loads = _cube(0.5), weights(np.zeros(1))
    judged = judge_system(system, loads)
    assert judged.verdict is Verdict.STANDS
    assert judged.margins is not None
    assert np.isnan(judged.margins.sliding_tilt_deg)


def test_a_weightless_piece_among_stones() -> None:
    centre, contacts = stacked_blocks(np.zeros(3), 1.0, 1.0, 1.0, 0.7, 1.0)
    judged = judge_system(assemble_system(centre, contacts), weights(np.array([1.0, 0.0, 0.0])))
    assert judged.verdict is Verdict.STANDS
    assert judged.margins is not None
    assert judged.margins.critical_tilt_deg == pytest.approx(34.99, abs=0.01)


def test_floating_wood_held_down_by_a_stone_stands() -> None:
    centre, contacts = stacked_blocks(np.zeros(2), 1.0, 1.0, 1.0, 0.7, 1.0)
    system = assemble_system(centre, contacts)
    assert judge_system(system, weights(np.array([-0.5, 0.8]))).verdict is Verdict.STANDS
    lifted = judge_system(system, weights(np.array([-0.5, 0.3])))
    assert (lifted.verdict, lifted.reason, lifted.pieces) == (Verdict.FALLS, Reason.FLOATS, (0,))


def test_weights_that_are_no_numbers_are_undetermined() -> None:
    judged = judge_system(_cube(0.5), weights(np.array([np.nan])))
    assert (judged.verdict, judged.reason) == (Verdict.UNKNOWN, Reason.SOLVER)
    assert "finite" in judged.note


@pytest.mark.parametrize("mass", [np.array([1.0, 1e-3]), np.array([1e-3, 1.0])])
def test_masses_far_apart(mass: np.ndarray) -> None:
    centre, contacts = stacked_blocks(np.zeros(2), 1.0, 1.0, 1.0, 0.7, 1.0)
    judged = judge_system(assemble_system(centre, contacts), weights(mass))
    assert judged.verdict is Verdict.STANDS


@pytest.mark.parametrize("status", ["NumericalError", "InsufficientProgress", "Solved", "DualInfeasible", "MaxTime"])
def test_a_solver_that_talks_nonsense_is_never_believed(status: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever status comes with numbers that do not hold, the answer is 'undetermined'."""

    class Nonsense:
        def __init__(self, p: object, q: np.ndarray, g: object, h: np.ndarray, *_: object) -> None:
            self.x, self.z, self.status = np.full(len(q), 0.3), np.full(len(h), 0.3), status

        def solve(self) -> Nonsense:
            return self

        def update(self, **_: object) -> None:
            pass

    monkeypatch.setattr(cones.clarabel, "DefaultSolver", Nonsense)
    monkeypatch.setattr("sim.statics.elastic.NEWTON_STEPS", 0)
    centre, contacts = stacked_blocks(np.array([0.0, 0.1]), 1.0, 1.0, 1.0, 0.7, 1.0)
    system, loads = assemble_system(centre, contacts), weights(np.ones(2))
    assert feasible(system, loads).status is Feasible.UNKNOWN
    assert load_factor(system, loads, loads.sideways(0.0)).status is Feasible.UNKNOWN
    assert critical_tilt(system, loads).status is Feasible.UNKNOWN
    assert collapse_motion(system, loads) is None
    assert np.isnan(bracket(system, loads, np.ones((8, 3))).most)
    assert strict_check(system, loads, sprung=True).verdict is Strict.UNKNOWN


def test_unsound_margins_make_a_state_undetermined(monkeypatch: pytest.MonkeyPatch) -> None:
    system, loads = _cube(0.5), weights(np.ones(1))
    monkeypatch.setattr(cones, "ATTEMPTS", ())
    judged = judge_system(system, loads)
    assert (judged.verdict, judged.reason) == (Verdict.UNKNOWN, Reason.NO_DIRECTION)


def test_lacking_support_names_the_piece_that_lacks_it() -> None:
    centre, contacts = stacked_blocks(np.array([0.0, 0.7]), 1.0, 1.0, 1.0, 0.7, 2.0)
    share = lacking_support(assemble_system(centre, contacts), weights(np.ones(2))).share
    assert share[1] > 0.1
    assert share[1] > 3.0 * share[0]


# W (sqrt(a^2 + h^2) - h) with a 0.5, h 0.5 and a weight of 2 kg
def test_topple_energy_of_a_cube() -> None:
    energy = topple_energies(_cube(0.5), weights(np.array([2.0])))
    assert energy == pytest.approx([2.0 * 9.80665 * (np.sqrt(0.5) - 0.5)])


# a cube needs mu = tan of nothing when level; on a slope of 0.2 it needs 0.2
def test_friction_reserve_on_a_slope() -> None:
    slope = np.array([[x, y, -0.2 * x] for x, y in ((0, 0), (1, 0), (1, 1), (0, 1))], dtype=float)
    bearing = Bearing(0, -1, slope, np.array([0.2, 0.0, 1.0]), 0.5, 1.0)
    system = assemble_system(np.array([[0.5, 0.5, 0.4]]), contacts_of([bearing]))
    assert friction_reserve(system, weights(np.ones(1))) == pytest.approx(2.5, rel=0.004)


def test_quick_leaves_pushes_and_reserve_out() -> None:
    margins = equilibrium(_cube(0.5), weights(np.ones(1)), tops_m=np.array([[0.5, 0.5, 1.0]]), quick=True)
    assert margins.pushes == ()
    assert np.isnan(margins.friction_reserve)
    assert np.isnan(margins.least_push_n)
    assert margins.critical_tilt_deg == pytest.approx(26.565, abs=0.01)
