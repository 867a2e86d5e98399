"""Argyris triangles: deflections of fifth degree with continuous slopes.

Each triangle has its own monomials about its middle, scaled by its size, so that fifth powers stay tame. A freedom
per corner for the deflection, its two slopes and its three curvatures, and one per side for the slope across it.

References
----------
Argyris, J. H., Fried, I. & Scharpf, D. W. (1968). The TUBA family of plate elements. Aeronaut. J. 72, 701-709.
"""

from __future__ import annotations

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from skfem import MeshTri
from skfem.assembly import Dofs
from skfem.element import ElementTriArgyris
from skfem.quadrature import get_quadrature
from skfem.refdom import RefTri

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

POWERS = np.array([(i, j) for i in range(6) for j in range(6 - i)])  # of the 21 monomials
ORDERS = ((0, 0), (1, 0), (0, 1), (2, 0), (1, 1), (0, 2))  # derivatives that are freedoms of a corner
SIDE_CORNERS = ((0, 1), (1, 2), (0, 2))
NODES, NODE_WEIGHTS = np.polynomial.legendre.leggauss(4)


def monomials(place: Floats, dx: int = 0, dy: int = 0) -> Floats:
    """Derivatives (..., 21) of the monomials at scaled places (..., 2)."""
    result = []
    table = [_powers(place[..., 0], dx), _powers(place[..., 1], dy)]
    for i, j in POWERS:
        result.append(table[0][i] * table[1][j])
    return np.stack(result, axis=-1)


def _powers(x: Floats, order: int) -> list[Floats]:
    """The order-th derivative of x^0 to x^5."""
    found = []
    for power in range(6):
        factor = float(np.prod([power - k for k in range(order)])) if order else 1.0
        found.append(factor * x ** (power - order) if power >= order else np.zeros_like(x))
    return found


class Triangles:
    """A mesh of Argyris triangles; e triangles, n freedoms."""

    def __init__(self, mesh: MeshTri) -> None:
        self.mesh = mesh
        self.numbering = Dofs(mesh, ElementTriArgyris())
        self.freedoms: Ints = np.ascontiguousarray(self.numbering.element_dofs.T)  # (e, 21)
        self.count = int(self.numbering.N)
        self.corner_m: Floats = np.ascontiguousarray(np.moveaxis(mesh.p[:, mesh.t], 0, -1).swapaxes(0, 1))  # (e, 3, 2)
        self.middle_m = self.corner_m.mean(axis=1)
        self.scale_m = np.abs(self.corner_m - self.middle_m[:, None]).max(axis=(1, 2))
        self.edge_m = edge = self.corner_m[:, 1:] - self.corner_m[:, :1]
        self.area_m2 = np.abs(edge[:, 0, 0] * edge[:, 1, 1] - edge[:, 0, 1] * edge[:, 1, 0]) / 2.0
        self.shapes = self._shapes()

    def _shapes(self) -> Floats:
        """Coefficients (e, 21, 21): monomial by freedom."""
        local = self.scaled(self.corner_m, np.arange(len(self.middle_m)))
        rows = [monomials(local[:, corner], *order) for corner in range(3) for order in ORDERS]
        for side, (a, b) in enumerate(SIDE_CORNERS):
            start, end = self.mesh.p[:, self.mesh.facets[:, self.mesh.t2f[side]]].transpose(1, 2, 0)
            along = (end - start) / np.linalg.norm(end - start, axis=1, keepdims=True)
            place = (local[:, a] + local[:, b]) / 2.0
            rows.append(along[:, 1:] * monomials(place, 1, 0) - along[:, :1] * monomials(place, 0, 1))
        degree = np.array([sum(order) for _ in range(3) for order in ORDERS] + [1] * 3)
        return np.asarray(np.linalg.inv(np.stack(rows, axis=1)) * self.scale_m[:, None, None] ** degree)

    def scaled(self, points_m: Floats, triangle: Ints) -> Floats:
        """Places (t, q, 2) in the triangles' own scaled frames."""
        return np.asarray((points_m - self.middle_m[triangle, None]) / self.scale_m[triangle, None, None])

    def quadrature(self, degree: int) -> tuple[Floats, Floats]:
        """Points (e, q, 2) and weights (e, q) that integrate so high a degree exactly."""
        place, weight = get_quadrature(RefTri, degree)
        share = np.vstack([1.0 - place.sum(axis=0), place])  # (3, q)
        return np.einsum("cq,ecx->eqx", share, self.corner_m), 2.0 * np.outer(self.area_m2, weight)

    def values(self, points_m: Floats, triangle: Ints) -> Floats:
        """Deflections (t, q, 21) by freedom at points (t, q, 2) of triangles (t,)."""
        return np.asarray(monomials(self.scaled(points_m, triangle)) @ self.shapes[triangle])

    def curvatures(self, points_m: Floats, triangle: Ints) -> Floats:
        """Second derivatives xx, yy, xy (t, q, 3, 21) by freedom at points (t, q, 2) of triangles (t,)."""
        place = self.scaled(points_m, triangle)
        second = np.stack([monomials(place, *order) for order in ((2, 0), (0, 2), (1, 1))], axis=2)
        shapes = self.shapes[triangle] / self.scale_m[triangle, None, None] ** 2
        return np.asarray((second.reshape(len(triangle), -1, 21) @ shapes).reshape(second.shape))

    def assembled(self, per_triangle: Floats) -> sp.csc_matrix:
        """One matrix (n, n) of matrices (e, 21, 21)."""
        row = np.repeat(self.freedoms, 21, axis=1).ravel()
        column = np.tile(self.freedoms, (1, 21)).ravel()
        return sp.csc_matrix((per_triangle.ravel(), (row, column)), shape=(self.count, self.count))

    def found(self, points_m: Floats) -> Ints:
        """The triangle (k,) in which each point (k, 2) lies; outside the mesh the nearest in its own coordinates."""
        points = np.asarray(points_m, dtype=np.float64)
        origin, first, second = self.corner_m[:, 0], self.edge_m[:, 0], self.edge_m[:, 1]
        double = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]
        dx, dy = points[:, :1] - origin[:, 0], points[:, 1:] - origin[:, 1]
        one = (dx * second[:, 1] - dy * second[:, 0]) / double
        other = (dy * first[:, 0] - dx * first[:, 1]) / double
        return np.asarray(np.minimum(np.minimum(one, other), 1.0 - one - other).argmax(axis=1))


def outline_integrals(corners: Floats) -> Floats:
    """Integrals (p, 21) of the monomials over polygons (p, k, 2), corners anticlockwise.

    By Green's theorem, side by side: ``x^i y^j`` over the area is ``x^(i + 1) / (i + 1) y^j dy`` along its outline.
    """
    ahead = np.roll(corners, -1, axis=1)
    place = corners[..., None, :] + ((NODES + 1.0) / 2.0)[:, None] * (ahead - corners)[..., None, :]
    rise = (ahead[..., 1] - corners[..., 1])[..., None] * NODE_WEIGHTS / 2.0
    values = monomials(place) * place[..., :1] / (POWERS[:, 0] + 1.0)
    return np.asarray(np.einsum("psq,psqm->pm", rise, values))


def clipped(polygons: Floats, triangles: Floats) -> Floats:
    """What of each convex polygon (p, k, 2) lies in its triangle (p, 3, 2); corners anticlockwise.

    Returns
    -------
    (p, l, 2)
        Spare corners repeat another one; where nothing lies inside, all are the same.
    """
    for side in range(3):
        start, end = triangles[:, None, side], triangles[:, None, (side + 1) % 3]
        inward = np.stack([start[..., 1] - end[..., 1], end[..., 0] - start[..., 0]], axis=-1)
        depth = ((polygons - start) * inward).sum(axis=2)
        after, further = np.roll(polygons, -1, axis=1), np.roll(depth, -1, axis=1)
        inside = depth >= 0.0
        crosses = inside != (further >= 0.0)
        share = np.where(crosses, depth / np.where(crosses, depth - further, 1.0), 0.0)
        cut = polygons + share[..., None] * (after - polygons)
        both = np.stack([polygons, cut], axis=2).reshape(len(polygons), -1, 2)
        kept = np.stack([inside, crosses], axis=2).reshape(len(polygons), -1)
        count = kept.sum(axis=1)
        order = np.argsort(~kept, axis=1, kind="stable")[:, : max(int(count.max(initial=0)), 1)]
        order = np.where(np.arange(order.shape[1]) < count[:, None], order, order[:, :1])
        polygons = np.take_along_axis(both, order[..., None], axis=1)
    return polygons
