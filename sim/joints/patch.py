"""The glued patch between two pieces: outline, section values and how much of its strength a wrench uses."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull, QhullError

from sim.errors import BedjointError

Floats = NDArray[np.float64]

FLAT_SHARE = 1.0e-4  # an outline thinner than this share of its length has no area


@dataclass(frozen=True, slots=True, eq=False)
class JointPatch:
    """Outline of a glued patch in its principal axes, through the centroid.

    A wrench on the patch is ``(Vx, Vy, N, Mx, My, T)``: shears, tension, moments about the
    patch's x and y, torsion; it acts at the centroid on piece a, along `axes`.
    """

    centroid_m: Floats  # (3,)
    axes: Floats  # (3, 3) rows: principal x, principal y, normal from b to a
    corners_m: Floats  # (m, 2) hull vertices, counter-clockwise
    area_m2: float  # glued area: outline times contact fraction
    ix_m4: float  # about x, of the glued area
    iy_m4: float  # about y
    contact_fraction: float

    @property
    def j_m4(self) -> float:
        """Polar second moment of the glued area."""
        return self.ix_m4 + self.iy_m4

    @property
    def reach_m(self) -> float:
        """Distance of the farthest corner from the centroid."""
        return float(np.linalg.norm(self.corners_m, axis=1).max())


def joint_patch(points_m: Floats, normal: Floats, contact_fraction: float = 1.0) -> JointPatch:
    """Make the patch that the convex hull of points spans in the plane across a normal.

    Parameters
    ----------
    points_m : (k, 3), at least three, not on one line
    normal : (3,) from piece b to piece a
    contact_fraction : share of the outline that is glued, over 0 to 1

    Raises
    ------
    BedjointError
        When the points span no area or the fraction is out of range.
    """
    points = np.asarray(points_m, dtype=np.float64)
    if not 0.0 < contact_fraction <= 1.0:
        raise BedjointError(f"joint: contact fraction {contact_fraction:g}. Give a share over 0 and up to 1.")
    normal = np.asarray(normal, dtype=np.float64) / np.linalg.norm(normal)
    x = np.cross(normal, np.eye(3)[np.argmin(np.abs(normal))])
    x /= np.linalg.norm(x)
    flat = np.stack([x, np.cross(normal, x)])
    middle = points.mean(axis=0) if len(points) else np.zeros(3)
    outline = _hull((points - middle) @ flat.T)
    area, centroid, second = _polygon_integrals(outline)
    _, directions = np.linalg.eigh(second)
    turn = np.stack([directions[:, 1], [-directions[1, 1], directions[0, 1]]])
    principal = turn @ second @ turn.T
    return JointPatch(
        centroid_m=middle + centroid @ flat,
        axes=np.vstack([turn @ flat, normal]),
        corners_m=(outline - centroid) @ turn.T,
        area_m2=area * contact_fraction,
        ix_m4=float(principal[1, 1]) * contact_fraction,
        iy_m4=float(principal[0, 0]) * contact_fraction,
        contact_fraction=contact_fraction,
    )


def utilisation(wrench: Floats, patch: JointPatch, design_strength_pa: float) -> float:
    """Share of the design strength that a wrench uses; over 1 the joint breaks.

    Parameters
    ----------
    wrench : (6,) Vx, Vy, N (tension positive), Mx, My, T in N and N m, in the patch's axes
    design_strength_pa : in tension and in shear alike, positive

    Returns
    -------
    float
        ``(sigma + tau) / f_d`` at the worst corner, with ``sigma = N/A + Mx y/Ix - My x/Iy`` where
        it pulls and none where it presses (friction is not credited), and
        ``tau = sqrt(Vx^2 + Vy^2)/A + |T| r/J`` with r of the farthest corner.

    References
    ----------
    Linear elastic section; a brittle patch cracks at its most stretched corner: a rectangle
    c x d in bending about the side d at ``M = f c^2 d / 6``.
    """
    vx, vy, pull, mx, my, torsion = (float(value) for value in wrench)
    x, y = patch.corners_m.T
    sigma = pull / patch.area_m2 + mx * y / patch.ix_m4 - my * x / patch.iy_m4
    tau = np.hypot(vx, vy) / patch.area_m2 + abs(torsion) * patch.reach_m / patch.j_m4
    return float((max(sigma.max(), 0.0) + tau) / design_strength_pa)


def _hull(points: Floats) -> Floats:
    try:
        hull = ConvexHull(points)
    except (QhullError, ValueError) as problem:
        raise BedjointError("joint: its points span no area. Glue needs a patch, not a point or a line.") from problem
    length = float(np.ptp(points, axis=0).max())
    if hull.volume < FLAT_SHARE * length**2:
        raise BedjointError("joint: its points lie nearly on a line. Glue needs a patch, not a line.")
    corners: Floats = points[hull.vertices]
    return corners


def _polygon_integrals(corners: Floats) -> tuple[float, Floats, Floats]:
    """Area, centroid (2,) and second moments about it (2, 2), as integrals of x_i x_j."""
    following = np.roll(corners, -1, axis=0)
    cross = corners[:, 0] * following[:, 1] - corners[:, 1] * following[:, 0]
    area = cross.sum() / 2.0
    centroid = ((corners + following) * cross[:, None]).sum(axis=0) / (6.0 * area)
    p, q = corners - centroid, following - centroid
    cross = p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]
    middle = p + q
    outer = np.einsum("ki,kj->kij", p, p) + np.einsum("ki,kj->kij", q, q) + np.einsum("ki,kj->kij", middle, middle)
    return float(area), centroid, (outer * cross[:, None, None]).sum(axis=0) / 24.0
