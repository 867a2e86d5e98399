"""Whether a stone that is offered to others has real support below it: rays and a convex hull, no contact code.

Gap field  the vertical gap between a stone's underside and what lies below, on a grid of columns, after the stone
           has been lowered straight down to the first touch.
Bearing    a column whose gap is under `NEAR_M` and whose ground slopes less than the friction angle: as much as
           the stone may sink at a spot while it finds its rest, and where a weight can lie without sliding off.
Real support  the outline of the bearing columns holds the vertical through the centre of mass, farther inside than
           a tenth of the stone's width (the root of the area of its columns) and `INSIDE_M`, and the stone is
           offered in a way in which a level floor would hold it, for all that the hand misses.

Why so: a stone that sinks by 5 mm at one side turns by 5 mm over half its width, and its centre, about 0.4 of the
width up, goes sideways by about 4 mm meanwhile: the outline must hold it then too.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import trimesh
from numpy.typing import NDArray
from scipy.spatial import ConvexHull, QhullError

Floats = NDArray[np.float64]

COLUMN_M = 1.0e-3  # between columns
NEAR_M = 5.0e-3
INSIDE_M = 5.0e-3
INSIDE_SHARE = 0.1  # of the stone's width
SLOPE_OVER_M = 2.0e-3  # to each side: slopes are those of the ground, not of a scan's grain
OLD_INSIDE_M = 0.010


@dataclass(frozen=True, slots=True, eq=False)
class GapField:
    """Columns that meet the stone, with what lies below them."""

    spot_m: Floats  # (k, 2) from the vertical through the centre of mass
    gap_m: Floats  # (k,) zero at the first touch
    slope: Floats  # (k,) tangent of the ground's slope

    @property
    def width_m(self) -> float:
        """Side of a square of the same area as the stone seen from above."""
        return float(np.sqrt(len(self.gap_m))) * COLUMN_M


def gap_field(stone: trimesh.Trimesh, at_m: Floats, below: trimesh.Trimesh, floor_m: float) -> GapField:
    """Gaps between a stone, turned as it is offered about its centre of mass at zero, and others on a level floor.

    `at_m` (2,) is where its centre is to be.
    """
    low, high = stone.bounds[:, :2]
    axes = [np.arange(low[c] - SLOPE_OVER_M, high[c] + SLOPE_OVER_M + COLUMN_M, COLUMN_M) for c in range(2)]
    x, y = np.meshgrid(*axes, indexing="ij")
    spots = np.column_stack([x.ravel(), y.ravel()])
    under = _first(stone, spots, up=True).reshape(x.shape)
    top = np.nan_to_num(_first(below, spots + at_m, up=False), nan=floor_m).reshape(x.shape)
    reach = round(SLOPE_OVER_M / COLUMN_M)
    rise = [(np.roll(top, -reach, c) - np.roll(top, reach, c)) / (2 * reach * COLUMN_M) for c in range(2)]
    meets = np.isfinite(under)
    gap = (under - top)[meets]
    return GapField(spots[meets.ravel()], gap - gap.min(), np.hypot(*rise)[meets])


def enclosed_m(field: GapField, mu: float, near_m: float = NEAR_M) -> float:
    """How far inside the outline of the bearing columns the centre of mass is; negative: outside, or no outline."""
    bearing = field.spot_m[(field.gap_m < near_m) & (field.slope < mu)]
    try:
        sides = ConvexHull(bearing).equations if len(bearing) > 2 else None
    except QhullError:  # all on one line
        sides = None
    return -np.inf if sides is None else -float(sides[:, 2].max())


def has_real_support(field: GapField, mu: float, spare_deg: float, share: float = INSIDE_SHARE) -> bool:
    """Whether the centre of mass is well inside the outline of the bearing columns.

    `spare_deg`: tilt of a level floor that would tip the stone over in its way to lie, less what the hand misses.
    """
    return spare_deg > 0.0 and enclosed_m(field, mu) >= max(INSIDE_M, share * field.width_m)


def over_a_spot(below: trimesh.Trimesh, at_m: Floats, mu: float) -> tuple[bool, float]:
    """The older definition: a vertical (2,) meets stone at a slope under the friction angle, 10 mm inside its outline.

    Returns also that slope in degrees.
    """
    turn = np.linspace(0.0, 2.0 * np.pi, 16, endpoint=False)
    ring = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    spots = at_m + np.concatenate([[[0.0, 0.0]], 0.5 * OLD_INSIDE_M * ring, OLD_INSIDE_M * ring])
    height = _first(below, spots, up=False)
    if not np.isfinite(height).all():
        return False, np.nan
    plane = np.linalg.lstsq(np.column_stack([spots - at_m, np.ones(len(spots))]), height, rcond=None)[0]
    slope = float(np.hypot(*plane[:2]))
    return slope < mu, float(np.degrees(np.arctan(slope)))


def _first(mesh: trimesh.Trimesh, spots_m: Floats, up: bool) -> Floats:
    """Height at which a vertical ray from far below or above first meets a mesh (k,); nan: never."""
    start = mesh.bounds[0, 2] - 0.1 if up else mesh.bounds[1, 2] + 0.1
    origins = np.column_stack([spots_m, np.full(len(spots_m), start)])
    along = np.tile([0.0, 0.0, 1.0 if up else -1.0], (len(spots_m), 1))
    where, ray, _ = mesh.ray.intersects_location(origins, along, multiple_hits=False)
    height = np.full(len(spots_m), np.nan)
    height[ray] = where[:, 2]
    return height
