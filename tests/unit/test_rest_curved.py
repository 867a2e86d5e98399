"""Rest poses of curved bodies and of real stones."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh

from sim.pieces.mass import make_body
from sim.pieces.rest import rest_poses, rest_turns
from sim.pieces.saving import load_body


def test_an_ellipsoid_lies_on_its_flat_sides_only() -> None:
    ball = trimesh.creation.icosphere(subdivisions=4)
    poses = rest_poses(make_body(ball.vertices * [0.06, 0.04, 0.02], ball.faces))
    assert sum(pose.share for pose in poses) == pytest.approx(1.0, abs=1e-9)
    shares_up = {1: 0.0, -1: 0.0}
    for pose in poses:
        # one facet spans 4.2 degrees on the ball, and the flat side is flatter still
        assert abs(pose.rotation[2, 2]) > np.cos(np.radians(3.0))
        assert pose.height_m == pytest.approx(0.02, rel=1e-3)
        shares_up[1 if pose.rotation[2, 2] > 0 else -1] += pose.share
    # every direction but the equator's runs down to the nearer pole; the mesh's facets blur the border by 2 %
    assert shares_up[1] == pytest.approx(0.5, abs=0.02)


def test_a_cylinder_on_end_by_the_cone_from_its_centre() -> None:
    radius, height = 0.05, 0.02
    disc = trimesh.creation.cylinder(radius, height, sections=720)
    poses = rest_poses(make_body(disc.vertices, disc.faces))
    half_angle = np.arctan(radius / (height / 2.0))
    # solid angle of a cone 2 pi (1 - cos), out of 4 pi
    assert [pose.share for pose in poses[:2]] == pytest.approx([(1.0 - np.cos(half_angle)) / 2.0] * 2, rel=1e-4)
    assert poses[0].least_tilt_deg == pytest.approx(np.degrees(half_angle), rel=1e-4)


def test_the_third_turn_is_left_to_the_builder() -> None:
    wedge = trimesh.convex.convex_hull(np.random.default_rng(4).normal(size=(20, 3)) * [0.06, 0.04, 0.03])
    body = make_body(wedge.vertices, wedge.faces)
    assert all(turn[2] == 0.0 for turn in rest_turns(body))
    assert rest_turns(body, 0.0) == [pose.turn_deg for pose in rest_poses(body)]


def test_a_real_stone(scans: Path) -> None:
    body = load_body(scans / "masonry-study" / "wall_stone_006.obj", "cm")
    poses = rest_poses(body)
    assert sum(pose.share for pose in poses) == pytest.approx(1.0, abs=1e-9)
    assert [pose.share for pose in poses] == sorted((pose.share for pose in poses), reverse=True)
    for pose in poses:
        turned = body.vertices_m @ pose.rotation.T
        assert -turned[:, 2].min() == pytest.approx(pose.height_m, abs=1e-6)
        feet = pose.support_m @ pose.rotation.T
        # the foot of the centre, the origin, is inside the support: no side of it sees all feet on one hand
        edges = np.roll(feet, -1, axis=0) - feet
        turns = edges[:, 0] * -feet[:, 1] + edges[:, 1] * feet[:, 0]
        assert (turns < 0).all() or (turns > 0).all()
        assert pose.least_tilt_deg > 0.0
