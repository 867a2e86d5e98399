"""Natural rest poses: shares of support of shapes whose shares are known."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.pieces.mass import make_body
from sim.pieces.rest import rest_poses
from sim.pieces.stand_in import make_stand_in
from sim.pieces.turning import rotation_from_turns


def test_a_cube_lies_on_each_face_alike() -> None:
    cube = trimesh.creation.box((0.1, 0.1, 0.1))
    poses = rest_poses(make_body(cube.vertices, cube.faces))
    assert [pose.share for pose in poses] == pytest.approx([1 / 6] * 6, abs=1e-9)
    assert [pose.least_tilt_deg for pose in poses] == pytest.approx([45.0] * 6)


def test_a_box_by_the_solid_angles_of_its_faces() -> None:
    a, b, c = 0.12, 0.08, 0.04
    box = trimesh.creation.box((a, b, c))
    poses = rest_poses(make_body(box.vertices, box.faces))
    # solid angle of a rectangle seen from above its middle (Mathar 2015, eq. 27): 4 asin(...)
    expected = []
    for x, y, z in ((a, b, c), (a, c, b), (b, c, a)):
        p, q = x / z, y / z  # half sides over the height z / 2
        expected += [4 * np.arcsin(p * q / np.sqrt((1 + p * p) * (1 + q * q))) / (4 * np.pi)] * 2
    assert [pose.share for pose in poses] == pytest.approx(sorted(expected, reverse=True), rel=1e-9)
    assert poses[0].height_m == pytest.approx(c / 2)
    assert poses[0].least_tilt_deg == pytest.approx(np.degrees(np.arctan(b / c)))


def test_a_long_prism_never_stands_on_its_end() -> None:
    """A prism cut so steeply that its centre lies beyond the cut end: that end rolls onto a side."""
    corners = np.array([[x + (0.06 if z else -0.06), y, z] for z in (0.0, 0.1) for x in (0, 0.02) for y in (0, 0.02)])
    hull = trimesh.convex.convex_hull(corners)
    poses = rest_poses(make_body(hull.vertices, hull.faces))
    assert sum(pose.share for pose in poses) == pytest.approx(1.0)
    for pose in poses:
        lowered = (hull.vertices - hull.center_mass) @ pose.rotation.T
        foot = lowered[lowered[:, 2] < lowered[:, 2].min() + 1e-9]
        assert foot[:, 0].min() < 0 < foot[:, 0].max()
    assert all(pose.height_m < 0.05 for pose in poses)


@settings(max_examples=15)
@given(st.integers(0, 500))
def test_the_turn_puts_the_support_down(seed: int) -> None:
    stone = make_stand_in((90, 70, 50), 0.45, None, "block", seed, 2600.0)
    poses = rest_poses(stone, 0.02)
    assert poses
    for pose in poses:
        turned = stone.vertices_m @ rotation_from_turns(pose.turn_deg).T
        assert -turned[:, 2].min() == pytest.approx(pose.height_m, abs=2e-6)
        support = pose.support_m @ pose.rotation.T
        assert support[:, 2] == pytest.approx(np.full(len(support), turned[:, 2].min()), abs=2e-6)
