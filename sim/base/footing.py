"""Where stones press on the base pane: outlines, spread by what lies between, never ideal points."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull

from sim.base.plate import CIRCLE, SAME_AREA, Pane, Patch, disc, polygon
from sim.materials import COVER_SPREAD_THICKNESSES

Floats = NDArray[np.float64]

SPECK_M = 1.0e-6
FINE_SHARE = 1.0 / 27.0  # of the pane's shorter side: smaller footings are meshed as discs of this radius


def footing(points_m: Floats, cover_m: float, pane: Pane) -> Patch:
    """The loaded area of one footprint.

    Small footprints, under the mesh's own size, count as discs of their area; others keep their outline.

    Parameters
    ----------
    points_m : (k, 2) corners of the footprint, one or more
    cover_m : thickness of the grid or sheet under the stone: the footprint grows by as much on every side
    pane : which spreads a small footprint by its own thickness, see `equivalent_radius_m`

    References
    ----------
    Young, W. C. & Budynas, R. G. (2002). Roark's Formulas for Stress and Strain, 7th ed., table 11.4, case 1b.
    """
    whole = spread(points_m, cover_m)
    radius_m = float(np.sqrt(whole.area_m2 / np.pi))
    fine_m = FINE_SHARE * min(pane.length_m, pane.depth_m)
    if radius_m >= fine_m and whole.size_m >= fine_m:
        return _off_free_edges(whole, pane)
    return _off_free_edges(disc(whole.centre_m, equivalent_radius_m(radius_m, pane.thickness_m), fine_m), pane)


def spread(points_m: Floats, cover_m: float) -> Patch:
    """A footprint (k, 2) with what the cover spreads it by, of whatever size; a point without cover is a speck."""
    points = np.asarray(points_m, dtype=np.float64).reshape(-1, 2)
    grown_m = cover_m * COVER_SPREAD_THICKNESSES / 2.0 + SPECK_M
    return polygon(_hull((points[:, None] + grown_m * SAME_AREA * CIRCLE[None]).reshape(-1, 2)))


def _off_free_edges(patch: Patch, pane: Pane) -> Patch:
    """The same moved inward as far as it reaches over a free edge, where nothing would carry what lies beyond."""
    low, high = patch.corners_m.min(axis=0), patch.corners_m.max(axis=0)
    sides = np.array([pane.length_m, pane.depth_m])
    free = np.array([edge == "free" for edge in pane.edges]).reshape(2, 2)
    shift = np.where(free[:, 0], np.maximum(-low, 0.0), 0.0) - np.where(free[:, 1], np.maximum(high - sides, 0.0), 0.0)
    return replace(patch, corners_m=patch.corners_m + shift, centre_m=patch.centre_m + shift)


def equivalent_radius_m(radius_m: float, thickness_m: float) -> float:
    """Radius with which thin-plate theory gives the stress of a small loaded disc on a pane.

    ``sqrt(1.6 r^2 + t^2) - 0.675 t`` for r under t/2, else r itself.

    References
    ----------
    Westergaard, as in Roark's Formulas for Stress and Strain, 7th ed., table 11.4, case 1b.
    """
    if radius_m >= 0.5 * thickness_m:
        return radius_m
    return max(float(np.sqrt(1.6 * radius_m**2 + thickness_m**2)) - 0.675 * thickness_m, radius_m)


def _hull(points: Floats) -> Floats:
    return np.asarray(points[ConvexHull(points).vertices])
