"""Section values of glued patches, and what a wrench uses of their strength."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from sim.errors import BedjointError
from sim.joints import design_strength_pa, glue_stiffness_pa_m, joint_patch, utilisation
from sim.materials import ADHESIVES, ROCKS, WOODS

WIDTH_M, DEPTH_M = 0.03, 0.02
RECTANGLE = np.array([[x, y, 0.0] for x in (0.0, WIDTH_M) for y in (0.0, DEPTH_M)])
UP = np.array([0.0, 0.0, 1.0])


def test_a_rectangle() -> None:
    patch = joint_patch(RECTANGLE, UP)
    assert patch.area_m2 == pytest.approx(WIDTH_M * DEPTH_M)
    assert sorted([patch.ix_m4, patch.iy_m4]) == pytest.approx([WIDTH_M * DEPTH_M**3 / 12, WIDTH_M**3 * DEPTH_M / 12])
    assert patch.j_m4 == pytest.approx(WIDTH_M * DEPTH_M * (WIDTH_M**2 + DEPTH_M**2) / 12)
    assert patch.centroid_m == pytest.approx([WIDTH_M / 2, DEPTH_M / 2, 0.0])
    assert patch.reach_m == pytest.approx(np.hypot(WIDTH_M, DEPTH_M) / 2)
    assert patch.axes @ patch.axes.T == pytest.approx(np.eye(3), abs=1e-12)
    assert np.linalg.det(patch.axes) == pytest.approx(1.0)


def test_a_disc() -> None:
    angle = np.linspace(0.0, 2 * np.pi, 400, endpoint=False)
    patch = joint_patch(np.column_stack([0.01 * np.cos(angle), 0.01 * np.sin(angle), 0 * angle]), UP)
    assert patch.ix_m4 == pytest.approx(np.pi * 0.01**4 / 4, rel=1e-3)
    assert patch.area_m2 == pytest.approx(np.pi * 0.01**2, rel=1e-3)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 1000))
def test_section_values_do_not_depend_on_where_it_lies(seed: int) -> None:
    rng = np.random.default_rng(seed)
    outline = np.column_stack([rng.uniform(-0.02, 0.02, (8, 2)), np.zeros(8)])
    turn = Rotation.random(random_state=seed).as_matrix()
    here, there = joint_patch(outline, UP), joint_patch(outline @ turn.T + rng.normal(size=3), turn @ UP)
    for name in ("area_m2", "ix_m4", "iy_m4", "reach_m"):
        assert getattr(there, name) == pytest.approx(getattr(here, name), rel=1e-9)


# D6: a brittle patch c x d cracks at M = s A c / 6, a third of what four corner springs promise
def test_first_crack_of_a_rectangle() -> None:
    patch, strength = joint_patch(RECTANGLE, UP), 5e5
    about_the_long_side = int(abs(patch.axes[0, 0]) > 0.5)
    for side, moment_at in ((WIDTH_M, 4 if about_the_long_side else 3), (DEPTH_M, 3 if about_the_long_side else 4)):
        wrench = np.zeros(6)
        wrench[moment_at] = strength * patch.area_m2 * side / 6.0
        assert utilisation(wrench, patch, strength) == pytest.approx(1.0, rel=1e-9)
        assert utilisation(-wrench, patch, strength) == pytest.approx(1.0, rel=1e-9)


# 2 kg cantilevered 100 mm on 20 x 20 mm: M 1.961 N m, sigma 1.471 MPa; its weight alone 0.049 MPa
def test_the_cantilever_that_no_glue_holds() -> None:
    patch = joint_patch(np.array([[0.0, x, z] for x in (0, 0.02) for z in (0, 0.02)]), np.array([1.0, 0.0, 0.0]))
    bending, weight = np.array([0, 0, 0, 1.9613, 0, 0]), np.array([19.613, 0, 0, 0, 0, 0])
    assert utilisation(bending, patch, 1e6) == pytest.approx(1.471, rel=1e-3)
    assert utilisation(weight, patch, 1e6) == pytest.approx(0.049, rel=1e-2)
    assert all(utilisation(bending + weight, patch, design_strength_pa(glue)) > 1.0 for glue in ADHESIVES.values())


def test_pressure_earns_no_shear() -> None:
    patch = joint_patch(RECTANGLE, UP)
    shear = np.array([100.0, 0, 0, 0, 0, 0])
    pressed = shear + np.array([0, 0, -1e4, 0, 0, 0])
    assert utilisation(pressed, patch, 1e6) == pytest.approx(utilisation(shear, patch, 1e6))
    assert utilisation(np.array([0, 0, -1e4, 0, 0, 0]), patch, 1e6) == 0.0


def test_a_fraction_of_contact_divides_the_strength() -> None:
    wrench = np.array([3.0, 1.0, 5.0, 0.02, 0.01, 0.03])
    whole, part = joint_patch(RECTANGLE, UP), joint_patch(RECTANGLE, UP, 0.3)
    assert utilisation(wrench, part, 1e6) == pytest.approx(utilisation(wrench, whole, 1e6) / 0.3)


def test_a_weak_stone_limits_a_strong_glue() -> None:
    glue = ADHESIVES["epoxy putty"]
    weakest = min(ROCKS.values(), key=lambda rock: rock.tensile_mpa.default)
    strongest = max(ROCKS.values(), key=lambda rock: rock.tensile_mpa.default)
    assert design_strength_pa(glue, strongest, strongest) == pytest.approx(glue.permanent_mpa.default * 1e6)
    assert design_strength_pa(glue, strongest, weakest) == pytest.approx(
        min(glue.permanent_mpa.default, weakest.tensile_mpa.default / 6.75) * 1e6
    )
    assert design_strength_pa(glue, next(iter(WOODS.values()))) == pytest.approx(glue.permanent_mpa.default * 1e6)
    assert glue_stiffness_pa_m(glue, 0.002) == pytest.approx(glue.youngs_pa.default / 0.002)


@pytest.mark.parametrize(
    "points",
    [np.zeros((0, 3)), RECTANGLE[:2], np.array([[0, 0, 0], [1, 0, 0], [2, 0, 0.0]]), np.zeros((5, 3))],
)
def test_what_spans_no_area_is_refused(points: np.ndarray) -> None:
    with pytest.raises(BedjointError, match="joint: its points"):
        joint_patch(points, UP)


@pytest.mark.parametrize("fraction", [0.0, -0.1, 1.1])
def test_a_share_out_of_range_is_refused(fraction: float) -> None:
    with pytest.raises(BedjointError, match="contact fraction"):
        joint_patch(RECTANGLE, UP, fraction)
