"""The robust margin: what a small shift of every piece does to a stack."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trimesh

from sim.contact import Assembly, Contacts, Poses, assemble, find_contacts, overlaps, relax, tank_planes
from sim.joints import Joint, joint_patch
from sim.pieces.body import Body
from sim.pieces.mass import make_body
from sim.statics import Loads, assemble_system, equilibrium, weights
from sim.statics.copies import Copy, Fate, shaken, shifted
from sim.statics.lumps import HELD, carried, lumps_of
from sim.statics.robust import Robust, robust

DENSITY_KG_M3 = 2700.0
CUBE = (0.1, 0.1, 0.1)


def box(x: float, y: float, z: float) -> Body:
    mesh = trimesh.creation.box((x, y, z))
    return make_body(np.asarray(mesh.vertices), np.asarray(mesh.faces))


def standing(bodies: list[Body], fixed: list[int] | None = None, mu: float = 0.6) -> Assembly:
    mass = np.array([DENSITY_KG_M3 * body.volume_m3 for body in bodies])
    held = np.isin(np.arange(len(bodies)), fixed or [])
    planes = tank_planes(np.array([0.9, 0.45, 0.45]))
    return assemble(bodies, mass, np.full((len(bodies), len(bodies) + 5), mu), planes, held)


def upright(positions: list[list[float]]) -> Poses:
    return Poses(np.tile(np.eye(3), (len(positions), 1, 1)), np.array(positions))


def in_air(assembly: Assembly) -> Loads:
    return weights(assembly.mass_kg)


def judged(assembly: Assembly, poses: Poses, copies: tuple[Copy, ...], joints: tuple[Joint, ...] = ()) -> Robust:
    return robust(copies, assembly, poses, lambda _: in_air(assembly), joints)


def nominal_tilt(assembly: Assembly, poses: Poses, contacts: Contacts | None = None) -> float:
    found = find_contacts(assembly, poses) if contacts is None else contacts
    return equilibrium(assemble_system(poses.position_m, found, assembly.fixed), in_air(assembly)).critical_tilt_deg


def glued(a: int, b: int, at_m: list[float], side_m: float = 0.04) -> Joint:
    """A strong square patch, level, about a point."""
    half = side_m / 2.0
    corners = np.array(at_m) + [[x, y, 0.0] for x in (-half, half) for y in (-half, half)]
    return Joint(a, b, joint_patch(corners, np.array([0.0, 0.0, 1.0])), 3.0e6, 1.0e12)


COLUMN = [[0.3, 0.2, 0.05], [0.31, 0.2, 0.15]]
CANTILEVER = [[0.3, 0.2, 0.05], [0.38, 0.2, 0.11]]  # centre of the slab 30 mm outside the cube under it
CANTILEVER_BODIES = (CUBE, (0.2, 0.1, 0.02))


class TestMargin:
    def test_a_cube_on_the_floor_has_its_nominal_tilt(self) -> None:
        """A rough cube tips at 45 degrees, shaken or not."""
        assembly, poses = standing([box(*CUBE)], mu=1.5), upright([[0.3, 0.2, 0.05]])
        found = judged(assembly, poses, shaken(assembly, poses))
        assert found.unknown == ""
        assert found.copies == 4
        assert found.least_tilt_deg == pytest.approx(45.0, abs=0.1)
        assert found.least_stack_tilt_deg == pytest.approx(45.0, abs=0.1)
        assert found.least_tilt_deg == pytest.approx(nominal_tilt(assembly, poses), abs=0.1)

    def test_sliding_counts_in_one_figure_and_not_in_the_other(self) -> None:
        assembly, poses = standing([box(*CUBE)], mu=0.3), upright([[0.3, 0.2, 0.05]])
        found = judged(assembly, poses, shaken(assembly, poses, count=2))
        assert found.least_tilt_deg == pytest.approx(np.degrees(np.arctan(0.3)), abs=0.1)
        assert found.least_stack_tilt_deg == pytest.approx(45.0, abs=0.1)

    def test_two_cubes_keep_their_margin(self) -> None:
        assembly, poses = standing([box(*CUBE)] * 2, mu=1.5), upright(COLUMN)
        found = judged(assembly, poses, shaken(assembly, poses))
        assert found.unknown == ""
        assert found.least_tilt_deg == pytest.approx(nominal_tilt(assembly, poses), abs=0.3)

    def test_an_overhang_to_a_hair_has_no_robust_margin(self) -> None:
        """Centre of the upper cube 0.05 mm inside the edge of the lower: stands as given, falls if shifted."""
        assembly, poses = standing([box(*CUBE)] * 2), upright([[0.3, 0.2, 0.05], [0.34995, 0.2, 0.15]])
        nominal = nominal_tilt(assembly, poses)
        found = judged(assembly, poses, shaken(assembly, poses, count=2))
        assert 0.0 < nominal < 0.1  # atan(0.05 / 50)
        assert found.least_tilt_deg < nominal
        assert found.falls > 0

    def test_a_slab_balanced_on_a_ridge_has_none(self) -> None:
        profile = [[x, y, z] for y in (-0.05, 0.05) for x, z in ((-0.03, 0.0), (0.03, 0.0), (0.0, 0.05))]
        hull = trimesh.convex.convex_hull(np.array(profile))
        ridge = make_body(np.asarray(hull.vertices), np.asarray(hull.faces))
        low = -float(ridge.vertices_m[:, 2].min())
        assembly = standing([ridge, box(0.1, 0.06, 0.02)], fixed=[0])
        poses = upright([[0.3, 0.2, low], [0.3, 0.2, 0.06]])
        found = judged(assembly, poses, shaken(assembly, poses))
        assert found.least_tilt_deg < 0.5

    def test_a_stack_that_falls_when_shaken_names_what_fell(self) -> None:
        """A plate on edge, a hundredth of its height wide, turned by up to three degrees."""
        plate = box(0.001, 0.1, 0.1)
        assembly, poses = standing([plate, box(*CUBE)]), upright([[0.3, 0.2, 0.05], [0.6, 0.2, 0.05]])
        copies = shaken(assembly, poses, count=3, shift_m=0.0, turn_deg=3.0)
        assert any(copy.fell for copy in copies)
        assert {copy.fallen for copy in copies if copy.fell} == {0}
        assert judged(assembly, poses, copies).least_tilt_deg == 0.0

    def test_wet_and_dry_share_copies(self) -> None:
        assembly, poses = standing([box(*CUBE)]), upright([[0.3, 0.2, 0.05]])
        copies = shaken(assembly, poses, count=2)
        wet = replace(assembly, friction=assembly.friction * 0.5)
        assert judged(assembly, poses, copies).least_tilt_deg == pytest.approx(np.degrees(np.arctan(0.6)), abs=0.1)
        assert judged(wet, poses, copies).least_tilt_deg == pytest.approx(np.degrees(np.arctan(0.3)), abs=0.1)

    def test_loads_are_those_at_the_copy(self) -> None:
        """A lift greater than the weight: what stands dry floats."""
        assembly, poses = standing([box(*CUBE)]), upright([[0.3, 0.2, 0.05]])

        def afloat(now: Poses) -> Loads:
            assert not np.array_equal(now.position_m, poses.position_m)
            dry = in_air(assembly)
            return replace(dry, force_n=-dry.force_n, lift_n=-2.0 * dry.force_n[:, 2])

        assert robust(shaken(assembly, poses, count=2), assembly, poses, afloat).least_tilt_deg == 0.0


class TestGlue:
    def test_a_lump_that_would_fall_dry_stays(self) -> None:
        assembly, poses = standing([box(*size) for size in CANTILEVER_BODIES]), upright(CANTILEVER)
        assert all(copy.fell for copy in shaken(assembly, poses, count=2))
        joints = (glued(1, 0, [0.32, 0.2, 0.1]),)
        copies = shaken(assembly, poses, lumps_of(joints, 2))
        found = judged(assembly, poses, copies, joints)
        assert all(copy.at_rest for copy in copies)
        assert found.unknown == ""
        assert found.least_tilt_deg == pytest.approx(
            equilibrium(
                assemble_system(poses.position_m, find_contacts(assembly, poses), None, joints), in_air(assembly)
            ).critical_tilt_deg,
            abs=0.3,
        )

    def test_glued_pieces_keep_their_places_to_each_other(self) -> None:
        assembly, poses = standing([box(*size) for size in CANTILEVER_BODIES]), upright(CANTILEVER)
        for copy in shaken(assembly, poses, np.array([5, 5]), count=2):
            rotation, position = copy.poses.rotation, copy.poses.position_m
            assert rotation[0].T @ rotation[1] == pytest.approx(np.eye(3), abs=1e-12)
            apart = rotation[0].T @ (position[1] - position[0])
            assert apart == pytest.approx(poses.position_m[1] - poses.position_m[0], abs=1e-12)

    def test_a_glued_pair_moves_as_the_same_shape_in_one_piece(self) -> None:
        """Two half cubes glued together against the whole one, dropped on an edge."""
        halves = standing([box(0.1, 0.1, 0.05)] * 2)
        whole = standing([box(*CUBE)])
        turn = np.array([[np.cos(0.01), 0.0, np.sin(0.01)], [0.0, 1.0, 0.0], [-np.sin(0.01), 0.0, np.cos(0.01)]])
        centre = np.array([0.3, 0.2, 0.0506])
        two = Poses(np.tile(turn, (2, 1, 1)), centre + np.array([-0.025, 0.025])[:, None] * turn[:, 2])
        glued_rest = relax(halves, two, np.ones(2, np.bool_), lump=np.zeros(2, np.int64))
        one_rest = relax(whole, Poses(turn[None], centre[None]), np.ones(1, np.bool_))
        assert glued_rest.at_rest
        assert glued_rest.poses.position_m.mean(axis=0) == pytest.approx(one_rest.poses.position_m[0], abs=2e-5)
        assert glued_rest.poses.rotation[0] == pytest.approx(one_rest.poses.rotation[0], abs=1e-3)

    def test_a_joint_goes_where_its_piece_goes(self) -> None:
        before = upright(COLUMN)
        turn = np.array([[0.0, -1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
        after = Poses(np.tile(turn, (2, 1, 1)), before.position_m @ turn.T + 0.1)
        joint = glued(1, 0, [0.32, 0.2, 0.1])
        moved = carried((joint,), before, after)[0].patch
        assert moved.centroid_m == pytest.approx(turn @ joint.patch.centroid_m + 0.1)
        assert moved.axes == pytest.approx(joint.patch.axes @ turn.T)
        assert carried((replace(joint, a=-1, b=1),), before, after)[0].patch.centroid_m == pytest.approx(
            moved.centroid_m
        )

    def test_lumps_are_chains_of_joints(self) -> None:
        joint = glued(1, 0, [0.3, 0.2, 0.1])
        chain = [replace(joint, a=a, b=b) for a, b in ((5, 3), (1, 0), (3, 1), (4, -1))]
        assert lumps_of(chain, 7).tolist() == [0, 0, 2, 0, HELD, 0, 6]


class TestWhatIsHeld:
    def test_fixed_pieces_and_what_is_glued_to_them_do_not_move(self) -> None:
        bodies = [box(*CUBE), box(0.2, 0.1, 0.02), box(0.04, 0.04, 0.04)]
        assembly = standing(bodies, fixed=[0])
        poses = upright([*CANTILEVER, [0.4, 0.2, 0.14]])
        for copy in shaken(assembly, poses, np.array([0, 0, 2]), count=2):
            assert copy.at_rest
            assert np.array_equal(copy.poses.position_m[:2], poses.position_m[:2])
            assert np.array_equal(copy.poses.rotation[:2], poses.rotation[:2])
            assert copy.moved_m[2] > 0.0

    def test_what_is_glued_to_the_tank_does_not_move(self) -> None:
        assembly, poses = standing([box(*CUBE)]), upright([[0.3, 0.2, 0.05]])
        copy = shaken(assembly, poses, np.array([HELD]), count=1)[0]
        assert copy.at_rest
        assert np.array_equal(copy.poses.position_m, poses.position_m)

    def test_nothing_free_has_no_margin_and_no_doubt(self) -> None:
        assembly, poses = standing([box(*CUBE)], fixed=[0]), upright([[0.3, 0.2, 0.05]])
        found = judged(assembly, poses, shaken(assembly, poses, count=2))
        assert np.isnan(found.least_tilt_deg)
        assert (found.unknown, found.copies, found.falls) == ("", 2, 0)


class TestSeed:
    def test_a_copy_is_the_same_whatever_the_count_and_the_threads(self) -> None:
        assembly, poses = standing([box(*CUBE)] * 2), upright(COLUMN)
        few = shaken(assembly, poses, count=1, seed=3, workers=1)
        many = shaken(assembly, poses, count=3, seed=3, workers=2)
        assert np.array_equal(few[0].poses.position_m, many[0].poses.position_m)
        assert np.array_equal(few[0].poses.rotation, many[0].poses.rotation)
        assert not np.array_equal(many[1].poses.position_m, many[0].poses.position_m)

    def test_another_seed_is_another_copy(self) -> None:
        assembly, poses = standing([box(*CUBE)]), upright([[0.3, 0.2, 0.05]])
        one, other = (shaken(assembly, poses, count=1, seed=seed)[0] for seed in (1, 2))
        assert not np.array_equal(one.poses.position_m, other.poses.position_m)

    def test_shifts_keep_within_what_is_asked(self) -> None:
        assembly, poses = standing([box(*CUBE)] * 2), upright(COLUMN)
        free = np.zeros(2, np.bool_)
        moves, turns = [], []
        for k in range(200):
            rng = np.random.default_rng(k)
            now = shifted(assembly, poses, np.arange(2), free, 2e-4, 0.06, rng)
            moves.append(now.position_m - poses.position_m)
            turns.append(np.degrees(np.arccos(np.clip((np.trace(now.rotation, axis1=1, axis2=2) - 1) / 2, -1, 1))))
        assert 1.9e-4 < np.abs(moves).max() <= 2e-4
        assert 0.055 < np.max(turns) <= 0.06 + 1e-9


class TestHonesty:
    def test_a_copy_that_has_not_come_to_rest_is_unknown(self) -> None:
        assembly, poses = standing([box(*CUBE)] * 2), upright(COLUMN)
        copies = shaken(assembly, poses, count=2, most_steps=3)
        found = judged(assembly, poses, copies)
        assert {copy.fate for copy in copies} == {Fate.UNKNOWN}
        assert "still moves after 3 steps" in found.unknown
        assert found.copies == 0
        assert np.isnan(found.least_tilt_deg)

    @pytest.mark.parametrize("too_wide_m", [1.0e-4, 1.0e-5])
    def test_a_jam_is_no_margin(self, too_wide_m: float) -> None:
        """A block hanging between two fixed ones, a little too wide for the room: only preload holds it."""
        assembly = standing([box(0.04, 0.04, 0.1), box(0.02, 0.02, 0.02), box(0.04, 0.04, 0.1)], fixed=[0, 2])
        apart = 0.03 - too_wide_m / 2.0
        poses = upright([[0.3 - apart, 0.2, 0.05], [0.3, 0.2, 0.06], [0.3 + apart, 0.2, 0.05]])
        copies = shaken(assembly, poses, count=1, most_steps=80)
        for copy in copies:
            assert not (copy.at_rest and overlaps(assembly, copy.poses))
        found = judged(assembly, poses, copies)
        assert found.unknown or found.least_tilt_deg == 0.0

    def test_pieces_given_inside_each_other_have_no_answer(self) -> None:
        assembly, poses = standing([box(*CUBE)] * 2), upright([[0.3, 0.2, 0.05], [0.3, 0.2, 0.145]])
        copies = shaken(assembly, poses, count=2)
        assert {copy.fate for copy in copies} == {Fate.UNKNOWN}
        assert judged(assembly, poses, copies).unknown == "as given, piece 1 lies inside piece 0, 5.000 mm deep"

    def test_copies_at_rest_share_no_space(self) -> None:
        assembly, poses = standing([box(0.1, 0.1, 0.03)] * 4), upright([[0.3, 0.2, 0.015 + 0.03 * k] for k in range(4)])
        for copy in shaken(assembly, poses, count=2):
            assert copy.at_rest
            assert overlaps(assembly, copy.poses) == []

    def test_one_unknown_copy_is_told_beside_the_others(self) -> None:
        assembly, poses = standing([box(*CUBE)]), upright([[0.3, 0.2, 0.05]])
        copies = shaken(assembly, poses, count=2)
        lost = replace(copies[0], fate=Fate.UNKNOWN, reason="lost")
        found = judged(assembly, poses, (lost, copies[1]))
        assert (found.unknown, found.copies) == ("lost", 1)
        assert np.isnan(found.tilts_deg[0])
        assert found.least_tilt_deg == pytest.approx(found.tilts_deg[1], abs=1e-6)

    def test_no_copies_is_no_answer(self) -> None:
        assembly, poses = standing([box(*CUBE)]), upright([[0.3, 0.2, 0.05]])
        assert judged(assembly, poses, ()).unknown
