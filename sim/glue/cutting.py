"""Which joints could stop a motion, and the smallest choice that has one of each cut."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp

from sim.glue.candidates import Candidate
from sim.glue.tilting import STILL

Floats = NDArray[np.float64]
Cut = frozenset[int]  # joints of which one is needed


def parts(candidate: Candidate, motion: Floats, centre_m: Floats) -> bool:
    """Whether two pieces move against each other where a joint would hold them; a tie lets them turn."""
    joint, fastest = candidate.joint, np.abs(motion).max()
    at = joint.patch.centroid_m
    drift = _speed_at(motion[joint.a], at - centre_m[joint.a]) - _speed_at(motion[joint.b], at - centre_m[joint.b])
    turn = motion[joint.a, 3:] - motion[joint.b, 3:]
    turning = 0.0 if candidate.entry.kind != "glue" else float(np.abs(turn).max()) * joint.patch.reach_m
    return bool(max(float(np.abs(drift).max()), turning) > STILL * fastest)


def _speed_at(motion: Floats, arm_m: Floats) -> Floats:
    moved: Floats = motion[:3] + np.cross(motion[3:], arm_m)
    return moved


def smallest_choice(cuts: Sequence[Cut], cost: Floats) -> tuple[int, ...]:
    """The cheapest choice that has a member of every cut."""
    rows = np.zeros((len(cuts), len(cost)))
    for row, cut in zip(rows, cuts, strict=True):
        row[list(cut)] = 1.0
    found = milp(
        cost, integrality=np.ones(len(cost), np.int64), bounds=Bounds(0, 1), constraints=LinearConstraint(rows, 1.0)
    )
    assert found.x is not None, "every cut has a member"
    return tuple(int(k) for k in np.flatnonzero(found.x > 0.5))
