"""Shifting pieces apart until nothing overlaps, before a run starts.

An engine holds whatever overlaps: pressed apart, it acts as a preload, and a block ten
micrometres too wide for the space between two walls hangs there for ever. So overlaps are
taken away first, by the smallest shifts that do it; where none does, the run has no answer.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import scipy.sparse as sp
from scipy.optimize import linprog

from sim.trial.engine import Floats, Overlaps, TrialSetup, World

ROUNDS = 20
SPARE_M = 1.0e-6  # left free between what overlapped
STUCK_M = 1.0e-7  # an overlap that no shift takes away
MOST_M = 0.015  # convex parts stick out by a few millimetres; deeper, the pieces themselves overlap,
MOST_SHARE = 0.3  # as they do when it is more of the thinner one's least extent,
MOST_ERRORS = 1.5  # or more than what both parts stick out, with allowance for slanted touches,
SPARE_ERROR_M = 0.001  # and for poses that a scene gives to the millimetre
UP, ASIDE, DOWN = 1.0, 3.0, 10.0  # price of a shift: what is lifted comes back by its weight
STUCK_PRICE = 1.0e4  # over what lifting any stack above one overlap costs


class Cleared(NamedTuple):
    """Where the bodies stand free of each other, or why they cannot."""

    position_m: Floats  # (n, 3)
    trouble: str | None


def clear(world: World, setup: TrialSetup) -> Cleared:
    """Shift the free bodies apart, in rounds of a linear programme over all overlaps met so far.

    The programme is the least sum of shifts with ``normal . (shift_a - shift_b) >= depth + spare``.
    """
    rotation, start = world.poses()
    count = len(setup.bodies)
    shift = np.zeros((count, 3))
    thickness_m, error_m = _thickness(setup), _errors(setup)
    met: list[Overlaps] = []
    for _ in range(ROUNDS):
        found = world.overlaps()
        # parts of two stones in one place may each overlap by little: how far they had to go apart counts too
        everything = [*met, found]
        a, b = (np.concatenate([getattr(one, side) for one in everything]) for side in "ab")
        apart_m = np.linalg.norm(shift[a] - _of_bodies(shift, b), axis=1)
        apart_m[len(a) - len(found.a) :] = found.depth_m
        may = np.minimum(MOST_M, MOST_SHARE * np.minimum(thickness_m[a], thickness_m[b]))
        deep = apart_m > np.minimum(may, SPARE_ERROR_M + MOST_ERRORS * (error_m[a] + error_m[b]))
        if deep.any():
            own = Overlaps(a[deep], b[deep], np.zeros((int(deep.sum()), 3)), apart_m[deep])
            return Cleared(start, _words(setup, own, "overlap by {:.1f} mm or more"))
        if not len(found.a):
            return Cleared(start + shift, None)
        already = np.einsum("ki,ki->k", found.normal, shift[found.a] - _of_bodies(shift, found.b))
        met.append(found._replace(depth_m=found.depth_m + already))
        wanted = Overlaps(*(np.concatenate(arrays) for arrays in zip(*met, strict=True)))
        shift, left = _least_shifts(wanted, np.array([body.fixed for body in setup.bodies]))
        if left.max() > STUCK_M:
            stuck = wanted._replace(depth_m=left)
            return Cleared(start, _words(setup, stuck, "are wedged and overlap by {:.4f} mm that no shift takes away"))
        world.place(rotation, start + shift)
    return Cleared(start, _words(setup, found, "still overlap by {:.3f} mm after all shifts"))


def _thickness(setup: TrialSetup) -> Floats:
    """Least extent (n + p,) of bodies along their own axes; boxes have none that counts."""
    points = [np.concatenate([vertices for vertices, _ in body.parts]) for body in setup.bodies]
    own = [float(np.ptp(one, axis=0).min()) for one in points]
    return np.array([*own, *[np.inf] * len(setup.boxes)])


def _errors(setup: TrialSetup) -> Floats:
    """What the parts of bodies stick out by (n + p,); boxes not at all."""
    own = [np.inf if body.error_m is None else body.error_m for body in setup.bodies]
    return np.array([*own, *[0.0] * len(setup.boxes)])


def _of_bodies(shift: Floats, index: np.ndarray[tuple[int], np.dtype[np.int64]]) -> Floats:
    """Shifts (k, 3) of bodies, zero for boxes."""
    return np.vstack([shift, np.zeros(3)])[np.minimum(index, len(shift))]


def _least_shifts(wanted: Overlaps, fixed: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> tuple[Floats, Floats]:
    """Cheapest shifts (n, 3), and the overlaps (k,) that they leave."""
    count, rows = len(fixed), len(wanted.a)
    each = np.repeat(np.arange(rows), 3)
    of_a = 3 * np.repeat(wanted.a, 3) + np.tile(np.arange(3), rows)
    second = np.flatnonzero(wanted.b < count)
    of_b = 3 * np.repeat(wanted.b[second], 3) + np.tile(np.arange(3), len(second))
    values = np.concatenate([wanted.normal.ravel(), -wanted.normal[second].ravel()])
    places = (np.concatenate([each, np.repeat(second, 3)]), np.concatenate([of_a, of_b]))
    move = sp.csr_array((values, places), shape=(rows, 3 * count))
    # unknowns: shifts forward, shifts backward, what is left; in micrometres, near the solver's own scale
    matrix: Any = sp.csr_array(sp.hstack([-move, move, -sp.eye_array(rows)]))
    micro = 1.0e6
    most = np.where(np.repeat(fixed, 3), 0.0, np.inf)
    price = np.concatenate(
        [np.tile([ASIDE, ASIDE, UP], count), np.tile([ASIDE, ASIDE, DOWN], count), np.full(rows, STUCK_PRICE)]
    )
    upper = np.concatenate([most, most, np.full(rows, np.inf)])
    bounds: Any = np.column_stack([np.zeros(len(upper)), upper])
    answer: Any = linprog(price, A_ub=matrix, b_ub=-micro * (wanted.depth_m + SPARE_M), bounds=bounds, method="highs")
    if answer.x is None:
        return np.zeros((count, 3)), wanted.depth_m
    forward, backward, left = np.split(answer.x / micro, [3 * count, 6 * count])
    return (forward - backward).reshape(count, 3), np.maximum(left - SPARE_M, 0.0)


def _words(setup: TrialSetup, found: Overlaps, text: str) -> str:
    worst = int(found.depth_m.argmax())
    names = [body.name for body in setup.bodies] + [box.name for box in setup.boxes]
    depth_mm = 1000.0 * float(found.depth_m[worst])
    return f"{names[found.a[worst]]} and {names[found.b[worst]]} {text.format(depth_mm)}"
