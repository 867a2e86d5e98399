"""Contacts written down by hand: for textbook cases, where no mesh is needed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.contact import Contacts, Patches

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Bearing:
    """One flat patch where piece a bears on b (negative: a plane)."""

    a: int
    b: int
    corners_m: Floats  # (m, 3)
    normal: Floats  # (3,) from b to a
    mu: float
    area_m2: float = 0.0


def contacts_of(bearings: list[Bearing]) -> Contacts:
    """Contacts at the corners of bearings; each corner has an even share of its patch's area."""
    counts = np.array([len(bearing.corners_m) for bearing in bearings], dtype=np.int64)
    patch = np.repeat(np.arange(len(bearings)), counts)
    a = np.array([bearing.a for bearing in bearings], dtype=np.int64)
    b = np.array([bearing.b for bearing in bearings], dtype=np.int64)
    normal = np.array([bearing.normal for bearing in bearings], dtype=np.float64).reshape(-1, 3)
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    area = np.array([bearing.area_m2 for bearing in bearings], dtype=np.float64)
    points = [np.asarray(bearing.corners_m, dtype=np.float64).reshape(-1, 3) for bearing in bearings]
    centre = np.array([corners.mean(axis=0) for corners in points]).reshape(-1, 3)
    return Contacts(
        a=a[patch],
        b=b[patch],
        point_m=np.concatenate([np.zeros((0, 3)), *points]),
        normal=normal[patch],
        gap_m=np.zeros(len(patch)),
        area_m2=(area / np.maximum(counts, 1))[patch],
        patch=patch,
        mu=np.array([bearing.mu for bearing in bearings], dtype=np.float64)[patch],
        patches=Patches(a, b, centre, normal, area, np.zeros(len(bearings))),
    )


def stacked_blocks(
    lefts_m: Floats, width_m: float, height_m: float, depth_m: float, mu: float, edge_m: float
) -> tuple[Floats, Contacts]:
    """Centres (n, 3) and contacts of blocks one on the other, the lowest on a table.

    Parameters
    ----------
    lefts_m : (n,) left edges from the lowest up
    edge_m : right edge of the table
    """
    bearings = []
    for i, left in enumerate(lefts_m):
        low = left if i == 0 else max(left, lefts_m[i - 1])
        high = min(left + width_m, edge_m if i == 0 else lefts_m[i - 1] + width_m)
        corners = rectangle(low, high, 0.0, depth_m, i * height_m)
        bearings.append(Bearing(i, i - 1, corners, np.array([0.0, 0.0, 1.0]), mu, (high - low) * depth_m))
    centre = [[left + width_m / 2.0, depth_m / 2.0, (i + 0.5) * height_m] for i, left in enumerate(lefts_m)]
    return np.array(centre), contacts_of(bearings)


def rectangle(x0_m: float, x1_m: float, y0_m: float, y1_m: float, z_m: float) -> Floats:
    """Corners (4, 3) of a level rectangle."""
    return np.array([[x0_m, y0_m, z_m], [x1_m, y0_m, z_m], [x1_m, y1_m, z_m], [x0_m, y1_m, z_m]])
