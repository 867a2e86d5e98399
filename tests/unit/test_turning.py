"""Three angles, quaternions and rotation matrices say the same, also where two angles turn about one axis."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from sim.pieces.turning import rotation_from_quaternion, rotation_from_turns, turns_from_rotation

angles = st.floats(-360.0, 360.0)
# a middle angle at and around the lock
near_lock = st.builds(
    lambda side, exponent: side * (90.0 - 10.0**exponent), st.sampled_from([-1.0, 1.0]), st.floats(-16, 0)
)


@given(angles, angles | near_lock | st.sampled_from([90.0, -90.0, 270.0]), angles)
@example(30.0, 90.0, 20.0)
@example(-30.0, -90.0, 20.0)
@example(10.0, 90.0 - 5e-8, 20.0)
def test_round_trip(x: float, y: float, z: float) -> None:
    rotation = rotation_from_turns((x, y, z))
    assert rotation_from_turns(turns_from_rotation(rotation)) == pytest.approx(rotation, abs=1e-9)


@given(angles, angles, angles)
def test_same_turns_as_scipy(x: float, y: float, z: float) -> None:
    # lower case: about fixed axes
    expected = Rotation.from_euler("xyz", [x, y, z], degrees=True)
    w_last = expected.as_quat()
    assert rotation_from_turns((x, y, z)) == pytest.approx(expected.as_matrix(), abs=1e-12)
    assert rotation_from_quaternion([w_last[3], *w_last[:3]]) == pytest.approx(expected.as_matrix(), abs=1e-12)


def test_quarter_turns_are_exact() -> None:
    assert np.array_equal(rotation_from_turns((90, 180, -90)) % 1.0, np.zeros((3, 3)))


def test_a_quaternion_need_not_have_length_1() -> None:
    assert rotation_from_quaternion([2, 0, 0, 2]) == pytest.approx(rotation_from_turns((0, 0, 90)))
