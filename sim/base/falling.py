"""Where the weakest piece would hit if it fell: the base or a pane, with its weight and from what height.

A rough picture: the piece goes the way in which it sets out. What tips turns about its foot as one, so that its top
reaches as far as it is high above the base; what slides drops over the edge that it leaves and lands at most as far
away as it is high. What stands in between is left out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sim.pieces.placing import PlacedPiece
from sim.scene import Scene
from sim.units import MM_PER_M, STANDARD_GRAVITY_M_S2

Floats = NDArray[np.float64]

SIDEWAYS = 0.05  # horizontal share of a direction under which the piece drops where it is

Hit = Literal["base", "left pane", "right pane", "front pane", "back pane"]


@dataclass(frozen=True, slots=True, eq=False)
class Fall:
    """One piece on its way down, in air."""

    hits: Hit
    mass_kg: float
    height_m: float  # that its middle loses until it lies on the base
    energy_j: float  # of that height
    at_m: Floats  # (3,) where it would hit, about


def fall_of(scene: Scene, piece: PlacedPiece, direction: Floats, floor_m: float) -> Fall:
    """Follow one piece.

    Parameters
    ----------
    direction : (3,) in which its middle sets out; straight down where that is not known
    floor_m : top of what lies on the base glass under the stones
    """
    vertices = piece.vertices_m()
    reach_m = float(vertices[:, 2].max()) - floor_m
    height_m = max(float(piece.position_m[2]) - floor_m - flat_height_m(piece), 0.0)
    energy_j = piece.mass_kg * STANDARD_GRAVITY_M_S2 * height_m
    flat = np.asarray(direction[:2], dtype=np.float64)
    size = float(np.linalg.norm(flat))
    start = piece.position_m[:2]
    if not np.isfinite(size) or size < SIDEWAYS:
        return Fall("base", piece.mass_kg, height_m, energy_j, np.array([*start, floor_m]))
    way = flat / size
    foot = start + way * float(((vertices[:, :2] - start) @ way).max())  # the side that leads
    pane, gap_m = _pane_ahead(scene, foot, way)
    # the top turns about a foot under the leading side, on an arc whose radius is its height
    if gap_m < reach_m:
        rise_m = float(np.sqrt(reach_m**2 - gap_m**2))
        return Fall(pane, piece.mass_kg, height_m, energy_j, np.array([*(foot + way * gap_m), floor_m + rise_m]))
    return Fall("base", piece.mass_kg, height_m, energy_j, np.array([*(foot + way * reach_m), floor_m]))


def flat_height_m(piece: PlacedPiece) -> float:
    """Half the least extent of a piece along its own main axes, m: where its middle lies once it lies flat."""
    points = piece.body.vertices_m - piece.body.vertices_m.mean(axis=0)
    axes = np.linalg.eigh(points.T @ points)[1]
    return float(np.ptp(points @ axes, axis=0).min()) / 2.0


def _pane_ahead(scene: Scene, start: Floats, way: Floats) -> tuple[Hit, float]:
    """The pane that a straight way meets first, and how far off it is."""
    sides = np.array(scene.tank.inner_mm[:2]) / MM_PER_M
    names: tuple[tuple[Hit, Hit], ...] = (("left pane", "right pane"), ("front pane", "back pane"))
    found: list[tuple[float, Hit]] = []
    for axis in (0, 1):
        if abs(way[axis]) > 1e-9:
            goal = sides[axis] if way[axis] > 0.0 else 0.0
            found.append((max(float((goal - start[axis]) / way[axis]), 0.0), names[axis][int(way[axis] > 0.0)]))
    gap_m, name = min(found)
    return name, gap_m
