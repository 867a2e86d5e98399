"""Glued pieces as lumps that move as one, and joints that go where their pieces go."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from sim.contact import Poses
from sim.joints import Joint

Ints = NDArray[np.int64]

HELD = -1  # label of what is glued to the tank


def lumps_of(joints: Sequence[Joint], count: int) -> Ints:
    """Label the lumps that joints make of `count` pieces.

    Returns
    -------
    (n,) labels
        The lowest index in each lump; `HELD` where a lump is glued to the base or a pane.
    """
    label = np.arange(count)
    for joint in joints:
        ends = [HELD if end < 0 else int(label[end]) for end in (joint.a, joint.b)]
        if ends[0] != ends[1]:
            label[label == max(ends)] = min(ends)
    return label


def carried(joints: Sequence[Joint], before: Poses, after: Poses) -> tuple[Joint, ...]:
    """The same joints, each patch moved along with the joint's piece a (with b where a is the tank)."""
    return tuple(_carried(joint, before, after) for joint in joints)


def _carried(joint: Joint, before: Poses, after: Poses) -> Joint:
    piece = joint.a if joint.a >= 0 else joint.b
    if piece < 0:
        return joint
    turn = after.rotation[piece] @ before.rotation[piece].T
    centroid = after.position_m[piece] + turn @ (joint.patch.centroid_m - before.position_m[piece])
    return replace(joint, patch=replace(joint.patch, centroid_m=centroid, axes=joint.patch.axes @ turn.T))
