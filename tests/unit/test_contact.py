"""Contact and seating: against brute force, exact shapes and invariants."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import ConvexHull, QhullError
from scipy.spatial.transform import Rotation

from sim.contact import (
    BASE,
    Assembly,
    Contacts,
    Poses,
    Rest,
    assemble,
    clearance,
    everything_else,
    find_contacts,
    overlaps,
    relax,
    set_down,
    tank_planes,
)
from sim.contact.patches import hull_2d, reduce_corners
from sim.contact.settling import settle_together
from sim.contact.surface import surface_of
from sim.contact.tree import signed_distances
from sim.pieces.body import Body
from sim.pieces.mass import make_body

TANK_M = np.array([0.9, 0.45, 0.45])
CUBE_M = 0.1


def body_of(mesh: trimesh.Trimesh) -> Body:
    return make_body(np.asarray(mesh.vertices), np.asarray(mesh.faces))


def box(x: float, y: float, z: float) -> Body:
    return body_of(trimesh.creation.box((x, y, z)))


def standing(bodies: list[Body], mu: float = 0.6, tank: bool = True) -> Assembly:
    planes = tank_planes(TANK_M if tank else None)
    mass = np.array([2700.0 * body.volume_m3 for body in bodies])
    return assemble(bodies, mass, np.full((len(bodies), len(bodies) + len(planes.offset_m)), mu), planes)


def upright(positions: list[list[float]]) -> Poses:
    return Poses(np.tile(np.eye(3), (len(positions), 1, 1)), np.array(positions))


def pebble(seed: int, size_m: float = 0.05) -> Body:
    """A lumpy closed shape: a ball pushed in and out by a few waves."""
    rng = np.random.default_rng(seed)
    ball = trimesh.creation.icosphere(3)
    bumps = sum(
        rng.uniform(0.03, 0.10) * np.sin(ball.vertices @ rng.normal(size=3) * 3 + rng.uniform(0, 6)) for _ in range(5)
    )
    return make_body(ball.vertices * (1.0 + bumps)[:, None] * size_m * np.array([1.2, 1.0, 0.7]), ball.faces)


class TestSignedDistance:
    def test_ball_by_formula(self) -> None:
        ball = body_of(trimesh.creation.icosphere(5, radius=0.05))
        points = np.random.default_rng(1).normal(size=(500, 3)) * 0.05
        distance, _ = signed_distances(surface_of(ball).mesh, 0, points, 1.0)
        # an icosphere of level 5 lies at most 15 um inside its sphere of 50 mm
        assert distance == pytest.approx(np.linalg.norm(points, axis=1) - 0.05, abs=2e-5)

    def test_brute_force_over_all_triangles(self) -> None:
        stone = pebble(3)
        triangles = trimesh.Trimesh(stone.vertices_m, stone.faces, process=False).triangles
        points = np.random.default_rng(2).normal(size=(60, 3)) * 0.05
        distance, _ = signed_distances(surface_of(stone).mesh, 0, points, 1.0)
        for point, got in zip(points, distance, strict=True):
            nearest = trimesh.triangles.closest_point(triangles, np.tile(point, (len(triangles), 1)))
            assert abs(got) == pytest.approx(np.linalg.norm(nearest - point, axis=1).min(), abs=1e-12)

    def test_sign_agrees_with_the_winding_number(self) -> None:
        stone = pebble(4)
        points = np.random.default_rng(5).uniform(-0.07, 0.07, size=(400, 3))
        distance, _ = signed_distances(surface_of(stone).mesh, 0, points, 1.0)
        a, b, c = (stone.vertices_m[stone.faces[:, k]][None] - points[:, None] for k in range(3))
        la, lb, lc = (np.linalg.norm(v, axis=2) for v in (a, b, c))
        numerator = (a * np.cross(b, c)).sum(axis=2)
        denominator = la * lb * lc + (a * b).sum(2) * lc + (b * c).sum(2) * la + (c * a).sum(2) * lb
        winding = np.arctan2(numerator, denominator).sum(axis=1) / (2 * np.pi)  # van Oosterom & Strackee 1983
        assert ((winding > 0.5) == (distance < 0)).all()

    def test_far_outside_a_fold_is_outside(self) -> None:
        """A vertex drawn past its neighbour turns faces over; their mean normals alone would say 'inside'."""
        ball = trimesh.creation.icosphere(3, radius=0.05)
        points = ball.vertices.copy()
        top = int(points[:, 2].argmax())
        points[top] += 2.0 * (points[ball.vertex_neighbors[top][0]] - points[top])
        mesh = surface_of(make_body(points, ball.faces)).mesh
        around = np.random.default_rng(2).normal(size=(20000, 3))
        around *= 0.08 / np.linalg.norm(around, axis=1, keepdims=True)
        assert (signed_distances(mesh, 0, around, 1.0)[0] > 0.0).all()


class TestPatches:
    def test_stacked_cubes_bear_on_their_whole_faces(self) -> None:
        cubes = [box(CUBE_M, CUBE_M, CUBE_M)] * 3
        contacts = find_contacts(standing(cubes), upright([[0.2, 0.2, 0.05 + 0.1 * k] for k in range(3)]))
        assert contacts.patches.area_m2 == pytest.approx(np.full(3, 0.01), rel=1e-6)
        assert np.abs(contacts.normal[:, 2]) == pytest.approx(np.ones(len(contacts.a)))
        assert len(contacts.a) == 12

    @pytest.mark.parametrize("shift", [0.01, 0.037, 0.05, 0.083])
    def test_overlap_of_shifted_cubes_is_exact(self, shift: float) -> None:
        poses = upright([[0.3, 0.2, 0.05], [0.3 + shift, 0.2, 0.15]])
        contacts = find_contacts(standing([box(CUBE_M, CUBE_M, CUBE_M)] * 2), poses)
        upper = contacts.b == 0
        assert contacts.patches.area_m2[contacts.patches.b == 0].sum() == pytest.approx((0.1 - shift) * 0.1, rel=1e-6)
        assert contacts.point_m[upper, 0].min() == pytest.approx(0.25 + shift, abs=1e-9)
        assert contacts.point_m[upper, 0].max() == pytest.approx(0.35, abs=1e-9)

    def test_overlap_of_turned_cubes_is_the_octagon(self) -> None:
        poses = upright([[0.3, 0.2, 0.05], [0.3, 0.2, 0.15]])
        poses.rotation[1] = Rotation.from_euler("z", 45, degrees=True).as_matrix()
        contacts = find_contacts(standing([box(CUBE_M, CUBE_M, CUBE_M)] * 2), poses)
        # regular octagon of width s: area 2 (sqrt 2 - 1) s^2
        assert contacts.patches.area_m2[contacts.patches.b == 0].sum() == pytest.approx(
            2 * (np.sqrt(2) - 1) * 0.01, rel=1e-3
        )

    def test_a_beam_on_two_edges_touches_along_lines(self) -> None:
        """Roofs that carry a plank: two ridges, found by edges that no vertex marks."""
        ridge = trimesh.convex.convex_hull(
            np.array([[x, y, z] for y in (-0.05, 0.05) for x, z in ((-0.03, 0.0), (0.03, 0.0), (0.0, 0.05))])
        )
        body = body_of(ridge)
        low = -body.vertices_m[:, 2].min()
        poses = upright([[0.2, 0.2, low], [0.4, 0.2, low], [0.3, 0.2, 0.05 + 0.01]])
        contacts = find_contacts(standing([body, body, box(0.3, 0.06, 0.02)]), poses)
        above = contacts.a == 2
        assert set(contacts.b[above].tolist()) == {0, 1}
        for k in (0, 1):
            across = contacts.point_m[above & (contacts.b == k), 1]
            assert (across.min(), across.max()) == pytest.approx((0.17, 0.23), abs=1e-6)
        assert contacts.normal[above][:, 2] == pytest.approx(np.ones(above.sum()))

    def test_crossed_ridges_touch_at_one_point(self) -> None:
        """Two wedges, edge on edge: neither shows a vertex to the other."""
        profile = np.array([[x, y, z] for y in (-0.05, 0.05) for x, z in ((-0.03, 0.0), (0.03, 0.0), (0.0, 0.05))])
        wedge = body_of(trimesh.convex.convex_hull(profile))
        low, top = -wedge.vertices_m[:, 2].min(), wedge.vertices_m[:, 2].max()
        poses = upright([[0.3, 0.2, low], [0.3, 0.2, low + 2 * top]])
        poses.rotation[1] = Rotation.from_euler("xz", [180, 90], degrees=True).as_matrix()
        contacts = find_contacts(standing([wedge, wedge]), poses)
        upper = contacts.b == 0
        assert upper.sum() == 1
        assert contacts.point_m[upper][0] == pytest.approx([0.3, 0.2, low + top], abs=1e-9)
        assert contacts.normal[upper][0] == pytest.approx([0, 0, 1], abs=1e-9)

    def test_gap_above_the_tolerance_is_no_contact(self) -> None:
        bodies = [box(CUBE_M, CUBE_M, CUBE_M)] * 2
        for gap, touching in ((2.0e-5, True), (3.0e-5, False)):
            contacts = find_contacts(standing(bodies), upright([[0.2, 0.2, 0.05], [0.2, 0.2, 0.15 + gap]]))
            assert bool((contacts.b == 0).any()) is touching

    def test_a_leaning_block_touches_the_pane(self) -> None:
        poses = upright([[0.05, 0.2, 0.05]])
        contacts = find_contacts(standing([box(CUBE_M, CUBE_M, CUBE_M)]), poses)
        assert set(contacts.b.tolist()) == {BASE, -2}


class TestHull:
    @given(st.lists(st.tuples(st.integers(0, 6), st.integers(0, 6)), min_size=3, max_size=40))
    def test_agrees_with_qhull(self, points: list[tuple[int, int]]) -> None:
        uv = np.array(points, dtype=float)
        hull = hull_2d(uv)
        try:
            reference = ConvexHull(uv)
        except QhullError:  # all on one line
            return
        x, y = uv[hull].T
        area = (x * np.roll(y, -1) - y * np.roll(x, -1)).sum() / 2
        assert area == pytest.approx(reference.volume)
        assert len(hull) == len({tuple(p) for p in uv[reference.vertices]})

    @given(st.integers(5, 60), st.integers(0, 1000))
    def test_reduced_corners_keep_every_lever(self, count: int, seed: int) -> None:
        rng = np.random.default_rng(seed)
        uv = rng.normal(size=(count, 2)) * [1.0, rng.uniform(0.2, 1.0)]
        uv = uv[hull_2d(uv)]
        kept = uv[reduce_corners(uv)]
        x, y = uv.T
        cross = x * np.roll(y, -1) - y * np.roll(x, -1)
        middle = ((uv + np.roll(uv, -1, 0)) * cross[:, None]).sum(0) / (3 * cross.sum())
        turn = np.linspace(0, 2 * np.pi, 48, endpoint=False)
        ways = np.stack([np.cos(turn), np.sin(turn)])
        whole, part = ((p - middle) @ ways for p in (uv, kept))
        assert (part.max(0) >= 0.99 * whole.max(0) - 1e-12).all()

    def test_a_disc_keeps_more_than_four_corners(self) -> None:
        turn = np.linspace(0, 2 * np.pi, 90, endpoint=False)
        assert 8 < len(reduce_corners(np.stack([np.cos(turn), np.sin(turn)], axis=1))) < 40


class TestClearance:
    def test_box_over_base(self) -> None:
        assembly, poses = standing([box(0.1, 0.1, 0.1)]), upright([[0.3, 0.2, 0.08]])
        assert clearance(assembly, poses, 0, np.array([BASE]), 1.0) == pytest.approx(0.03)

    def test_overlaps_are_named_with_their_depth(self) -> None:
        poses = upright([[0.3, 0.2, 0.05], [0.3, 0.2, 0.148], [0.6, 0.2, 0.0495]])
        found = overlaps(standing([box(CUBE_M, CUBE_M, CUBE_M)] * 3), poses)
        assert {(o.a, o.b) for o in found} == {(1, 0), (2, BASE)}
        assert {o.a: o.depth_m for o in found} == pytest.approx({1: 0.002, 2: 0.0005}, rel=1e-6)

    def test_one_inside_another_is_an_overlap(self) -> None:
        poses = upright([[0.3, 0.2, 0.15], [0.3, 0.2, 0.15]])
        found = overlaps(standing([box(0.3, 0.3, 0.3), box(0.02, 0.02, 0.02)]), poses)
        assert [(o.a, o.b) for o in found] == [(1, 0)]
        assert found[0].depth_m > 0.13


class TestSeating:
    @pytest.mark.parametrize("seed", range(6))
    def test_a_pebble_on_the_base_comes_to_rest_on_three_points(self, seed: int) -> None:
        assembly = standing([pebble(seed)])
        poses = upright([[0.4, 0.2, 0.06]])
        poses.rotation[0] = Rotation.random(rng=np.random.default_rng(seed)).as_matrix()
        seated = set_down(assembly, poses, 0)
        if seated.rest is Rest.SLID:  # it rolls over from this pose: from where it ends it must lie
            relaxed = relax(assembly, poses, np.array([True]), most_steps=3000, farthest_m=1.0)
            assert relaxed.at_rest
            return
        assert seated.rest is Rest.AT_REST
        assert seated.gap_m < 2e-5
        after = Poses(seated.rotation[None], seated.position_m[None])
        assert clearance(assembly, after, 0, np.array([BASE]), 1.0) > -1e-6
        contacts = find_contacts(assembly, after)
        assert len(contacts.a) >= 3

    def test_a_cube_dropped_on_a_cube_lies_flat(self) -> None:
        assembly = standing([box(CUBE_M, CUBE_M, CUBE_M)] * 2)
        poses = upright([[0.3, 0.2, 0.05], [0.32, 0.21, 0.3]])
        seated = set_down(assembly, poses, 1)
        assert seated.rest is Rest.AT_REST
        assert seated.position_m == pytest.approx([0.32, 0.21, 0.15], abs=2e-5)

    def test_a_cube_mostly_over_the_edge_does_not_rest(self) -> None:
        assembly = standing([box(CUBE_M, CUBE_M, CUBE_M)] * 2)
        seated = set_down(assembly, upright([[0.3, 0.2, 0.05], [0.36, 0.2, 0.3]]), 1)
        assert seated.rest is Rest.SLID

    @pytest.mark.parametrize("away_m", [0.0003, 0.002])
    def test_a_piece_let_down_close_to_a_wall_goes_down_all_the_way(self, away_m: float) -> None:
        poses = upright([[0.3, 0.2, 0.1], [0.3 + 0.03 + away_m, 0.2, 0.18]])
        seated = set_down(standing([box(0.02, 0.1, 0.2), box(0.04, 0.05, 0.03)]), poses, 1)
        assert seated.rest is Rest.AT_REST
        assert seated.position_m[2] == pytest.approx(0.015, abs=2e-5)
        assert seated.moved_m < 0.002  # falling beside the wall is no sliding

    def test_a_plank_balanced_on_a_thin_wall_does_not_rest(self) -> None:
        """It lies still on a strip 0.4 mm wide, and tips over when a hand rocks it by 2 degrees."""
        poses = upright([[0.3, 0.2, 0.05], [0.3, 0.2, 0.13]])
        seated = set_down(standing([box(0.0004, 0.1, 0.1), box(0.1, 0.08, 0.02)]), poses, 1)
        assert seated.rest is not Rest.AT_REST

    def test_a_rocker_on_a_narrow_face_rests(self) -> None:
        """A half cylinder of 50 mm with faces 0.6 mm wide: rocked by 2 degrees it rolls back, so narrow is enough."""
        turn = np.linspace(np.pi, 2.0 * np.pi, 262)
        ends = [np.column_stack([0.05 * np.cos(turn), np.full(262, y), 0.05 * np.sin(turn)]) for y in (-0.03, 0.03)]
        rocker = trimesh.convex.convex_hull(np.concatenate(ends))
        seated = set_down(standing([body_of(rocker)]), upright([[0.3, 0.2, 0.06]]), 0)
        assert seated.rest is Rest.AT_REST
        assert np.degrees(np.arccos(seated.rotation[2, 2])) < 1.0

    def test_a_piece_put_inside_another_is_lifted_out(self) -> None:
        assembly = standing([box(CUBE_M, CUBE_M, CUBE_M)] * 2)
        seated = set_down(assembly, upright([[0.3, 0.2, 0.05], [0.3, 0.2, 0.06]]), 1)
        assert seated.rest is Rest.AT_REST
        assert seated.position_m[2] == pytest.approx(0.15, abs=2e-5)

    def test_relaxing_everything_keeps_a_column(self) -> None:
        assembly = standing([box(CUBE_M, CUBE_M, 0.03)] * 5)
        poses = upright([[0.3, 0.2, 0.015 + 0.03002 * k] for k in range(5)])
        relaxed = relax(assembly, poses, np.ones(5, np.bool_))
        assert relaxed.at_rest
        assert relaxed.moved_m.max() < 1.5e-4

    def test_support_that_topples_shows_only_when_all_are_free(self) -> None:
        """A block standing alone by a hair, pulled over by what is set on its edge."""
        assembly = standing([box(0.02, 0.1, 0.1), box(0.1, 0.1, 0.02)])
        poses = upright([[0.3, 0.2, 0.05], [0.335, 0.2, 0.11]])
        relaxed = relax(assembly, poses, np.ones(2, np.bool_))
        assert relaxed.moved_m.max() > 0.01


class TestSettlingTogether:
    def test_pieces_that_jam_inside_each_other_do_not_rest(self) -> None:
        """A cube that starts inside a fixed one: relaxing alone would call it at rest."""
        assembly = standing([box(0.08, 0.08, 0.08), box(0.02, 0.02, 0.02)])
        fixed = replace(assembly, fixed=np.array([True, False]))
        outcome = settle_together(fixed, upright([[0.3, 0.2, 0.04], [0.3, 0.2, 0.04]]), ["rock", "pebble"])
        assert outcome.pieces[1].rest is not Rest.AT_REST
        assert not outcome.all_at_rest
        assert outcome.pieces[0].rest is Rest.AS_IT_IS

    def test_two_cubes_that_overlap_are_told(self) -> None:
        assembly = standing([box(0.04, 0.04, 0.04)] * 2)
        outcome = settle_together(assembly, upright([[0.3, 0.2, 0.02], [0.3, 0.2, 0.04]]), ["low", "high"])
        found = overlaps(assembly, outcome.poses)
        assert outcome.all_at_rest == (not found and all(one.rest is Rest.AT_REST for one in outcome.pieces))


class TestInvariants:
    @settings(max_examples=10)
    @given(st.integers(0, 50), st.floats(0, 360))
    def test_turning_the_world_turns_the_contacts(self, seed: int, turn_deg: float) -> None:
        assembly, poses = _heap(seed)
        turn = Rotation.from_euler("z", turn_deg, degrees=True).as_matrix()
        turned = Poses(turn @ poses.rotation, poses.position_m @ turn.T)
        one, other = find_contacts(assembly, poses), find_contacts(assembly, turned)
        # which of nearly equal corners stand for a patch may change, where it bears may not
        assert len(one.patches.a) == len(other.patches.a)
        assert other.patches.centre_m == pytest.approx(one.patches.centre_m @ turn.T, abs=1e-4)
        assert other.patches.normal == pytest.approx(one.patches.normal @ turn.T, abs=1e-3)

    @settings(max_examples=10)
    @given(st.integers(0, 50))
    def test_order_of_pieces_does_not_matter(self, seed: int) -> None:
        assembly, poses = _heap(seed)
        back = np.array([1, 0])
        swapped = assemble(
            [_PAIR[seed % 5][1], _PAIR[seed % 5][0]], assembly.mass_kg[back], assembly.friction, assembly.planes
        )
        one = find_contacts(assembly, poses)
        other = find_contacts(swapped, Poses(poses.rotation[back], poses.position_m[back]))
        assert _pair_points(one) == pytest.approx(_pair_points(other), abs=1e-7)


_PAIR = [(pebble(10 + k), pebble(20 + k, 0.04)) for k in range(5)]


def _heap(seed: int) -> tuple[Assembly, Poses]:
    """Two pebbles pressed 15 um into touch on a plane without panes."""
    bodies = list(_PAIR[seed % 5])
    assembly = standing(bodies, tank=False)
    rng = np.random.default_rng(seed)
    poses = Poses(Rotation.random(2, rng=rng).as_matrix(), np.array([[0, 0, 0.1], [0.01, 0.005, 0.3]]))
    low = (bodies[0].vertices_m @ poses.rotation[0].T)[:, 2].min()
    poses.position_m[0, 2] = -low + 5e-6
    for _ in range(60):
        gap = clearance(assembly, poses, 1, everything_else(assembly, 1), 1.0)
        poses.position_m[1, 2] -= max(gap - 5e-6, 0.0) * 0.98
    return assembly, poses


def _pair_points(contacts: Contacts) -> np.ndarray:
    points = contacts.point_m[contacts.b >= 0]
    return points[np.lexsort(points.T)]
