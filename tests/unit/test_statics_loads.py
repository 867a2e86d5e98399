"""Gravity and buoyancy: exact volumes under the surface, and where they act."""

from __future__ import annotations

import manifold3d
import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from sim.contact import Poses
from sim.pieces.body import Body
from sim.pieces.mass import make_body, mass_properties
from sim.statics import loads_at, submerged_part, weights
from sim.units import STANDARD_GRAVITY_M_S2

WATER_KG_M3 = 998.0


def _ball() -> Body:
    mesh = trimesh.creation.icosphere(subdivisions=3, radius=0.05)
    return make_body(mesh.vertices, mesh.faces)


def _bent() -> Body:
    """An L of three cubes: not convex, and its centre lies off its middle."""
    corners = np.array([[0, 0], [2, 0], [2, 1], [1, 1], [1, 2], [0, 2]]) * 0.05
    flat = np.column_stack([corners, np.zeros(6)])
    vertices = np.vstack([flat, flat + np.array([0.0, 0.0, 0.05])])
    lid = [[0, 1, 3], [1, 2, 3], [0, 3, 5], [3, 4, 5]]
    sides = [t for i in range(6) for j in [(i + 1) % 6] for t in ([i, j, j + 6], [i, j + 6, i + 6])]
    faces = [t[::-1] for t in lid] + [[v + 6 for v in t] for t in lid] + sides
    return make_body(vertices, np.array(faces, dtype=np.int32))


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 1000), st.floats(-0.05, 0.05))
def test_both_sides_of_the_surface_make_the_whole(seed: int, level: float) -> None:
    body = _bent()
    turned = body.vertices_m @ Rotation.random(random_state=seed).as_matrix().T
    below, centre_below = submerged_part(turned, body.faces, level)
    above, centre_above = submerged_part(turned * [1.0, 1.0, -1.0], body.faces[:, ::-1], -level)
    assert below + above == pytest.approx(body.volume_m3, rel=1e-9)
    moment = below * centre_below + above * centre_above * [1.0, 1.0, -1.0]
    assert moment == pytest.approx(np.zeros(3), abs=1e-9 * body.volume_m3)


def test_half_a_ball() -> None:
    """Archimedes: the centroid of a half ball lies 3/8 of the radius under its flat face."""
    ball = _ball()
    volume, centre = submerged_part(ball.vertices_m, ball.faces, 0.0)
    assert volume == pytest.approx(ball.volume_m3 / 2.0, rel=1e-9)
    assert centre[2] == pytest.approx(-3.0 / 8.0 * 0.05, rel=5e-3)


@pytest.mark.parametrize("seed", range(5))
def test_against_another_library_s_cut(seed: int) -> None:
    body = _bent()
    turned = body.vertices_m @ Rotation.random(random_state=seed).as_matrix().T
    volume, centre = submerged_part(turned, body.faces, 0.004)
    solid = manifold3d.Manifold(manifold3d.Mesh64(turned, body.faces.astype(np.uint64)))
    cut = solid.trim_by_plane((0.0, 0.0, -1.0), -0.004).to_mesh64()
    other = mass_properties(np.asarray(cut.vert_properties), np.asarray(cut.tri_verts, dtype=np.int32))
    assert volume == pytest.approx(other.volume_m3, rel=1e-6)
    assert centre == pytest.approx(other.centre_m, abs=1e-8)


def test_levels_from_dry_to_covered() -> None:
    ball = _ball()
    poses = Poses(np.eye(3)[None], np.array([[0.2, 0.3, 0.05]]))
    mass = np.array([1.2])
    lift = [loads_at([ball], poses, mass, level, WATER_KG_M3).lift_n[0] for level in (0.0, 0.02, 0.05, 0.08, 0.1, 0.3)]
    assert lift == sorted(lift)
    assert lift[0] == pytest.approx(0.0, abs=1e-9)
    full = WATER_KG_M3 * ball.volume_m3 * STANDARD_GRAVITY_M_S2
    assert lift[-2:] == pytest.approx([full, full], rel=1e-9)
    assert np.array_equal(loads_at([ball], poses, mass).force_n, weights(mass).force_n)


def test_buoyancy_of_a_half_submerged_piece_acts_off_its_centre() -> None:
    body = _bent()
    turn = Rotation.from_euler("x", 90.0, degrees=True).as_matrix()
    poses = Poses(turn[None], np.array([[0.0, 0.0, 0.0]]))
    loads = loads_at([body], poses, np.array([1.0]), 0.0, WATER_KG_M3)
    volume, centre = submerged_part(body.vertices_m @ turn.T, body.faces, 0.0)
    assert loads.lift_n[0] == pytest.approx(volume * WATER_KG_M3 * STANDARD_GRAVITY_M_S2)
    assert loads.moment_nm[0] == pytest.approx(np.cross(centre, [0.0, 0.0, loads.lift_n[0]]))
    assert abs(loads.moment_nm[0, 1]) > 1e-4


def test_sideways_loads_turn_with_the_azimuth() -> None:
    body = _bent()
    poses = Poses(np.eye(3)[None], np.zeros((1, 3)))
    loads = loads_at([body], poses, np.array([1.0]), 0.0, WATER_KG_M3)
    x, y = loads.sideways(0.0), loads.sideways(np.pi / 2)
    assert loads.sideways(0.8) == pytest.approx(np.cos(0.8) * x + np.sin(0.8) * y)
    assert x[0, 0] == pytest.approx(loads.weight_n[0])
    assert x[0, 3:] == pytest.approx(np.cross(loads.lift_arm_m[0], [-loads.lift_n[0], 0.0, 0.0]))


def test_extra_weight() -> None:
    loads = weights(np.array([1.0, 2.0])).with_extra(1, np.array([0.0, 0.0, -5.0]), np.array([0.1, 0.0, 0.0]))
    assert loads.force_n[1, 2] == pytest.approx(-2.0 * STANDARD_GRAVITY_M_S2 - 5.0)
    assert loads.moment_nm[1] == pytest.approx([0.0, 0.5, 0.0])
    assert not loads.moment_nm[0].any()
