"""Which bodies are near enough to touch in a trial, and parts made smaller by a hair."""

from __future__ import annotations

import numpy as np

from sim.trial.engine import Floats, TrialSetup

NEAR_M = 0.02  # pairs farther apart meet only after a fall, when their friction no longer matters


def spans(setup: TrialSetup) -> tuple[Floats, Floats]:
    """Low and high corners (n + p, 3) of the boxes around bodies and of the boxes."""
    low, high = [], []
    for body in setup.bodies:
        points = np.concatenate([vertices for vertices, _ in body.parts]) @ body.rotation.T + body.position_m
        low.append(points.min(axis=0))
        high.append(points.max(axis=0))
    low += [box.low_m for box in setup.boxes]
    high += [box.high_m for box in setup.boxes]
    return np.array(low).reshape(-1, 3), np.array(high).reshape(-1, 3)


def near_pairs(setup: TrialSetup) -> list[tuple[int, int]]:
    """Pairs (a, b), a < b, of bodies and boxes that may touch; not two boxes, not two fixed bodies."""
    low, high = spans(setup)
    count = len(setup.bodies)
    still = np.array([body.fixed for body in setup.bodies] + [True] * len(setup.boxes))
    pairs = []
    for a in range(count):
        gap = np.maximum(low[a + 1 :] - high[a], low[a] - high[a + 1 :]).max(axis=1)
        close = (gap < NEAR_M) & ~(still[a] & still[a + 1 :])
        pairs += [(a, int(b) + a + 1) for b in np.flatnonzero(close)]
    return pairs


def smaller(vertices_m: Floats, by_m: float) -> Floats:
    """Draw the vertices of a convex part in by `by_m` on each side along its principal axes.

    A box loses exactly that from every face; other shapes lose between about half and all of it.
    """
    middle = vertices_m.mean(axis=0)
    axes = np.linalg.svd(vertices_m - middle, full_matrices=False)[2]
    along = (vertices_m - middle) @ axes.T
    low, high = along.min(axis=0), along.max(axis=0)
    half = np.maximum((high - low) / 2.0, 1.0e-9)
    centre = (low + high) / 2.0
    shrunk = centre + (along - centre) * np.maximum(1.0 - by_m / half, 0.1)
    return np.asarray(middle + shrunk @ axes, dtype=np.float64)
