"""Mass properties against closed forms.

Box, ellipsoid, torus: Beer, F. P. & Johnston, E. R., Vector Mechanics for Engineers, inside back cover
(from memory; each follows from its integral). Tetrahedron: Tonon, F. (2004). Explicit exact formulas for the
3-D tetrahedron inertia tensor in terms of its vertex coordinates. J. Math. Stat. 1(1), 8-11 (formula from memory).
"""

from __future__ import annotations

import manifold3d
import numpy as np
import pytest
import trimesh

from sim.pieces.body import Body
from sim.pieces.mass import make_body, mass_properties


def body_of(mesh: trimesh.Trimesh) -> Body:
    return make_body(np.asarray(mesh.vertices), np.asarray(mesh.faces))


def test_box() -> None:
    a, b, c = 0.12, 0.08, 0.035
    body = body_of(trimesh.creation.box((a, b, c)))
    volume = a * b * c
    assert body.volume_m3 == pytest.approx(volume, rel=1e-12)
    assert body.area_m2 == pytest.approx(2 * (a * b + b * c + c * a), rel=1e-12)
    expected = np.diag([b * b + c * c, a * a + c * c, a * a + b * b]) * volume / 12
    assert body.inertia_m5 == pytest.approx(expected, rel=1e-12, abs=1e-20)


def test_tetrahedron() -> None:
    corners = np.array([[0.1, 0.2, 0.3], [0.5, 0.1, 0.2], [0.2, 0.6, 0.1], [0.3, 0.3, 0.8]])
    faces = np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]])
    volume = np.linalg.det(corners[1:] - corners[0]) / 6
    found = mass_properties(corners, faces)
    assert found.volume_m3 == pytest.approx(volume, rel=1e-12)
    assert found.centre_m == pytest.approx(corners.mean(axis=0), rel=1e-12)
    # second moments of a simplex about its centre: V/20 (sum of outer products of the corners' arms)
    arms = corners - corners.mean(axis=0)
    second = volume / 20 * arms.T @ arms
    assert found.inertia_m5 == pytest.approx(np.trace(second) * np.eye(3) - second, rel=1e-12)


def test_ellipsoid() -> None:
    a, b, c = 0.06, 0.045, 0.03
    ball = trimesh.creation.icosphere(subdivisions=6)
    body = make_body(ball.vertices * [a, b, c], ball.faces)
    volume = 4 / 3 * np.pi * a * b * c
    # a polyhedron inscribed in a ball, 81,920 faces: 1.0e-4 too small
    assert body.volume_m3 == pytest.approx(volume, rel=2e-4)
    expected = np.array([b * b + c * c, a * a + c * c, a * a + b * b]) * volume / 5
    assert np.diag(body.inertia_m5) == pytest.approx(expected, rel=4e-4)


def test_torus() -> None:
    major, minor = 0.05, 0.018
    body = body_of(trimesh.creation.torus(major, minor, major_sections=256, minor_sections=256))
    volume = 2 * np.pi**2 * major * minor**2
    assert body.volume_m3 == pytest.approx(volume, rel=5e-4)
    axial = volume * (major**2 + 0.75 * minor**2)
    across = volume * (4 * major**2 + 5 * minor**2) / 8
    assert np.diag(body.inertia_m5) == pytest.approx([across, across, axial], rel=1e-3)


def test_box_with_a_round_hole() -> None:
    a, b, c, radius, sides = 0.1, 0.08, 0.03, 0.02, 96
    solid = manifold3d.Manifold.cube([a, b, c], True) - manifold3d.Manifold.cylinder(2 * c, radius, radius, sides, True)
    mesh = solid.to_mesh64()
    body = make_body(np.array(mesh.vert_properties)[:, :3], np.array(mesh.tri_verts))
    polygon = sides / 2 * radius**2 * np.sin(2 * np.pi / sides)  # the hole is a regular prism
    assert body.volume_m3 == pytest.approx((a * b - polygon) * c, rel=1e-9)
    turn = 2 * np.pi / sides
    polar = polygon * radius**2 / 6 * (2 + np.cos(turn))  # polar second moment of a regular polygon
    assert body.inertia_m5[2, 2] == pytest.approx((a * b * (a * a + b * b) / 12 - polar) * c, rel=1e-9)
