"""A pane of glass as a thin plate: bending under patches and pressure, by finite elements.

    D laplacian(laplacian w) + k w = q,   D = E t^3 / (12 (1 - nu^2))
    Mx = -D (w_xx + nu w_yy),  My = -D (w_yy + nu w_xx),  Mxy = -D (1 - nu) w_xy,  sigma = 6 M / t^2

Argyris triangles, whose fifth-degree deflection has continuous slopes, so that moments converge fast; the mesh is
fine around patches, and the load of a patch is integrated exactly, whichever triangles its outline crosses.

References
----------
Timoshenko, S. P. & Woinowsky-Krieger, S. (1959). Theory of Plates and Shells, 2nd ed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.sparse.linalg import splu
from skfem import MeshTri

from sim.base.elements import Triangles, clipped, outline_integrals

Floats = NDArray[np.float64]

Edge = Literal["held", "clamped", "free"]

COARSE_ELEMENTS = 7  # along the shorter side, away from patches
FINE_SHARE = 0.7  # of a patch's size: elements under it are no larger; tension then within 0.15 % of the series
LEAST_SIZE_SHARE = 0.125  # of its longer extent: so long counts a patch that is thinner, when the mesh is made
MOST_ROUNDS = 8
SIDES = 16  # of the polygon that stands for a disc
CIRCLE = np.array([[np.cos(a), np.sin(a)] for a in np.arange(SIDES) * 2.0 * np.pi / SIDES])
SAME_AREA = float(np.sqrt(2.0 * np.pi / (SIDES * np.sin(2.0 * np.pi / SIDES))))  # its radius over that of the disc
# of quadrature: products of second derivatives of fifth-degree polynomials, and of the polynomials themselves
ORDER, ORDER_ON_MAT = 6, 10


@dataclass(frozen=True, slots=True)
class Pane:
    """A rectangular pane, x along its length and y along its depth."""

    length_m: float
    depth_m: float
    thickness_m: float
    youngs_pa: float
    poisson: float
    bedding_n_m3: float = 0.0  # Winkler modulus of a mat beneath; 0: carried by its edges alone
    edges: tuple[Edge, Edge, Edge, Edge] = ("held", "held", "held", "held")  # x = 0, x = length, y = 0, y = depth

    @property
    def rigidity_nm(self) -> float:
        """Bending rigidity D, N m."""
        return self.youngs_pa * self.thickness_m**3 / (12.0 * (1.0 - self.poisson**2))

    def tension_pa(self, moments: Floats) -> Floats:
        """Largest principal tension (k,) on either face for moments (k, 3): Mx, My, Mxy, N m per metre."""
        middle = (moments[:, 0] + moments[:, 1]) / 2.0
        radius = np.hypot((moments[:, 0] - moments[:, 1]) / 2.0, moments[:, 2])
        # the face under tension changes with the sign of the moment
        return np.asarray(6.0 / self.thickness_m**2 * (np.abs(middle) + radius))


@dataclass(frozen=True, slots=True, eq=False)
class Patch:
    """An evenly loaded convex area."""

    corners_m: Floats  # (k, 2) anticlockwise
    area_m2: float
    size_m: float  # elements around it are no larger
    centre_m: Floats  # (2,)
    stands_for_m: float | None = None  # radius of the smaller disc that this one stands for, see `disc`
    radius_m: float = 0.0  # of this one, where it stands for another


def rectangle(centre_m: Sequence[float], size_m: Sequence[float]) -> Patch:
    """An evenly loaded rectangle along the pane's axes."""
    half = np.array(size_m, dtype=np.float64) / 2.0
    return polygon(np.array(centre_m) + half * np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]]))


def polygon(corners_m: Floats) -> Patch:
    """An evenly loaded convex polygon (k, 2), corners in order."""
    corners = np.asarray(corners_m, dtype=np.float64)
    middle = corners.mean(axis=0)
    double = _doubled(corners - middle)
    if double.sum() < 0.0:
        corners = corners[::-1]
        double = _doubled(corners - middle)
    thirds = (corners + np.roll(corners, -1, axis=0) + middle) / 3.0
    extent = np.ptp(corners, axis=0)
    size_m = max(float(extent.min()), LEAST_SIZE_SHARE * float(extent.max()))
    return Patch(corners, float(double.sum()) / 2.0, size_m, np.asarray(double @ thirds / double.sum()))


def _doubled(corners: Floats) -> Floats:
    """Twice the signed area of the triangle of the origin and each side."""
    ahead = np.roll(corners, -1, axis=0)
    return np.asarray(corners[:, 0] * ahead[:, 1] - corners[:, 1] * ahead[:, 0])


def disc(centre_m: Floats, radius_m: float, least_m: float) -> Patch:
    """An evenly loaded disc; one smaller than `least_m` is meshed with that radius and its moments are corrected."""
    drawn_m = max(radius_m, least_m)
    made = polygon(np.asarray(centre_m) + drawn_m * SAME_AREA * CIRCLE)
    small = radius_m if radius_m < least_m else None
    return replace(
        made,
        size_m=2.0 * drawn_m,
        centre_m=np.asarray(centre_m, dtype=np.float64),
        stands_for_m=small,
        radius_m=drawn_m,
    )


def disc_difference(points_m: Floats, centre_m: Floats, small_m: float, large_m: float, poisson: float) -> Floats:
    """Moments (k, 3) of 1 N on a small disc less those of 1 N on a large one about the same middle.

    In an endless plate, where the two differ near the discs only: ``(Mr + Mt) / (1 + nu)`` is the same from the large
    disc's edge outward, and ``Mr - Mt`` fades with the square of the distance.

    References
    ----------
    From ``laplacian m = -q`` with ``m = (Mr + Mt) / (1 + nu)``: Timoshenko & Woinowsky-Krieger 1959, sections 15 to 19.
    """
    away = points_m - centre_m
    r = np.linalg.norm(away, axis=1)
    sums = (1.0 + poisson) * (_disc_sum(r, small_m) - _disc_sum(r, large_m))
    spread = (1.0 - poisson) * (_disc_spread(r, small_m) - _disc_spread(r, large_m))
    radial, tangential = (sums + spread) / 2.0, (sums - spread) / 2.0
    with np.errstate(invalid="ignore"):
        cosine, sine = np.where(r > 0.0, away.T / np.maximum(r, 1e-30), np.array([[1.0], [0.0]]))
    mx = radial * cosine**2 + tangential * sine**2
    my = radial * sine**2 + tangential * cosine**2
    return np.column_stack([mx, my, (radial - tangential) * sine * cosine])


def _disc_sum(r: Floats, radius_m: float) -> Floats:
    inside = -np.log(radius_m) / (2.0 * np.pi) + (1.0 - (r / radius_m) ** 2) / (4.0 * np.pi)
    return np.where(r < radius_m, inside, -np.log(np.maximum(r, radius_m)) / (2.0 * np.pi))


def _disc_spread(r: Floats, radius_m: float) -> Floats:
    inside = -((r / radius_m) ** 2) / (8.0 * np.pi)
    outside = -(1.0 - radius_m**2 / (2.0 * np.maximum(r, radius_m) ** 2)) / (4.0 * np.pi)
    return np.where(r < radius_m, inside, outside)


class BentPane:
    """A pane with its stiffness factorised once; loads and places are asked for afterwards."""

    def __init__(self, pane: Pane, patches: Sequence[Patch] = ()) -> None:
        self.pane, self.patches = pane, tuple(patches)
        self.triangles = Triangles(_mesh(pane, self.patches))
        stiffness = self.triangles.assembled(_stiffness(self.triangles, pane))
        self.free = np.setdiff1d(np.arange(self.triangles.count), _held(self.triangles, pane))
        inner = sp.csc_matrix(stiffness[self.free][:, self.free])
        # positive definite: an ordering of the symmetric pattern, and no pivoting
        options = {"SymmetricMode": True}
        self.solve = splu(inner, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options=options).solve
        self.quadrature_m, self.weight_m2 = self.triangles.quadrature(ORDER)

    def pressed(self, *patches: Patch) -> Floats:
        """Load vectors (N, f) of 1 N spread over each patch; what reaches beyond the pane presses on what holds it."""
        triangles = self.triangles
        load = np.zeros((triangles.count, len(patches)))
        if not patches:
            return load
        sides = max(len(patch.corners_m) for patch in patches)
        # all with as many corners: spare ones repeat the last
        outline = np.stack(
            [patch.corners_m[np.minimum(np.arange(sides), len(patch.corners_m) - 1)] for patch in patches]
        )
        low, high = triangles.corner_m.min(axis=1), triangles.corner_m.max(axis=1)
        touched = (low < outline.max(axis=1)[:, None]).all(axis=2) & (high > outline.min(axis=1)[:, None]).all(axis=2)
        of_patch, within = np.nonzero(touched)
        part = clipped(outline[of_patch], _anticlockwise(triangles.corner_m)[within])
        scaled = triangles.scaled(part, within)
        area_m2 = np.array([patch.area_m2 for patch in patches])
        integral = outline_integrals(scaled) * (triangles.scale_m[within] ** 2 / area_m2[of_patch])[:, None]
        freedoms = np.einsum("pm,pmf->pf", integral, triangles.shapes[within])
        np.add.at(load, (triangles.freedoms[within], of_patch[:, None]), freedoms)
        return load

    def under_pressure(self, pressure_pa: Floats | float = 1.0) -> Floats:
        """Load vector (N,) of a pressure: even, or given (q,) at the points of `places`."""
        triangles = self.triangles
        pressure = np.broadcast_to(np.asarray(pressure_pa, dtype=np.float64).ravel(), (self.weight_m2.size,))
        force = self.weight_m2 * pressure.reshape(self.weight_m2.shape)
        values = triangles.values(self.quadrature_m, np.arange(len(force)))
        load = np.zeros(triangles.count)
        np.add.at(load, triangles.freedoms, np.einsum("eq,eqf->ef", force, values))
        return load

    def bent(self, loads: Floats) -> Floats:
        """Deflection vectors (N, c), downward positive, for load vectors (N, c)."""
        loads = loads.reshape(self.triangles.count, -1)
        result = np.zeros_like(loads)
        result[self.free] = self.solve(np.asfortranarray(loads[self.free]))
        return result

    def places(self) -> Floats:
        """Quadrature points (q, 2) at which a pressure field is wanted."""
        return self.quadrature_m.reshape(-1, 2)

    def deflection_at(self, points_m: Floats) -> sp.csr_matrix:
        """Matrix (k, N) from a deflection vector to deflections at points (k, 2) of the pane."""
        points = np.asarray(points_m, dtype=np.float64)
        triangle = self.triangles.found(points)
        values = self.triangles.values(points[:, None], triangle)[:, 0]
        return self._rows(values, triangle)

    def moments_at(self, points_m: Floats) -> sp.csr_matrix:
        """Matrix (3 k, N) from a deflection vector to Mx, My, Mxy of each point in turn; sagging positive."""
        points, pane = np.asarray(points_m, dtype=np.float64), self.pane
        triangle = self.triangles.found(points)
        xx, yy, xy = self.triangles.curvatures(points[:, None], triangle)[:, 0].transpose(1, 0, 2)
        parts = (xx + pane.poisson * yy, yy + pane.poisson * xx, (1.0 - pane.poisson) * xy)
        values = -pane.rigidity_nm * np.stack(parts, axis=1)
        return self._rows(values.reshape(-1, values.shape[2]), np.repeat(triangle, 3))

    def _rows(self, values: Floats, triangle: NDArray[np.int64]) -> sp.csr_matrix:
        columns = self.triangles.freedoms[triangle]
        row = np.repeat(np.arange(len(values)), columns.shape[1])
        return sp.csr_matrix((values.ravel(), (row, columns.ravel())), shape=(len(values), self.triangles.count))


def _anticlockwise(corners: Floats) -> Floats:
    """Triangles (e, 3, 2) with their corners in that order."""
    edge = corners[:, 1:] - corners[:, :1]
    clockwise = edge[:, 0, 0] * edge[:, 1, 1] < edge[:, 0, 1] * edge[:, 1, 0]
    return np.where(clockwise[:, None, None], corners[:, ::-1], corners)


def _stiffness(triangles: Triangles, pane: Pane) -> Floats:
    """Stiffness (e, 21, 21) of bending and of the mat beneath."""
    every = np.arange(len(triangles.area_m2))
    points, weight = triangles.quadrature(ORDER)
    curvature = triangles.curvatures(points, every)
    nu = pane.poisson
    law = pane.rigidity_nm * np.array([[1.0, nu, 0.0], [nu, 1.0, 0.0], [0.0, 0.0, 2.0 * (1.0 - nu)]])
    moment = np.einsum("cd,eqdf->eqcf", law, curvature * weight[..., None, None])
    rows = len(every), -1, curvature.shape[3]
    result = np.asarray(curvature.reshape(rows).transpose(0, 2, 1) @ moment.reshape(rows))
    if pane.bedding_n_m3 > 0.0:
        points, weight = triangles.quadrature(ORDER_ON_MAT)
        values = triangles.values(points, every)
        result += pane.bedding_n_m3 * (values.transpose(0, 2, 1) @ (values * weight[..., None]))
    return result


def _mesh(pane: Pane, patches: Sequence[Patch]) -> MeshTri:
    """Triangles that are fine under each patch; where an outline crosses one, halves of a patch's size suffice."""
    step = min(pane.length_m, pane.depth_m) / COARSE_ELEMENTS
    x = np.linspace(0.0, pane.length_m, max(2, round(pane.length_m / step)) + 1)
    y = np.linspace(0.0, pane.depth_m, max(2, round(pane.depth_m / step)) + 1)
    mesh = MeshTri.init_tensor(x, y)
    for _ in range(MOST_ROUNDS):
        corner = mesh.p[:, mesh.t]  # (2, 3, elements)
        low, high = corner.min(axis=1), corner.max(axis=1)
        size = (high - low).max(axis=0)
        coarse = np.zeros(mesh.t.shape[1], np.bool_)
        for patch in patches:
            start, end = patch.corners_m.min(axis=0), patch.corners_m.max(axis=0)
            touched = (low < end[:, None]).all(axis=0) & (high > start[:, None]).all(axis=0)
            coarse |= touched & (size > FINE_SHARE * patch.size_m)
        if not coarse.any():
            break
        mesh = mesh.refined(np.flatnonzero(coarse))
    return mesh


def _held(triangles: Triangles, pane: Pane) -> NDArray[np.int64]:
    """Freedoms that the edges take away."""
    mesh, numbering = triangles.mesh, triangles.numbering
    held: list[NDArray[np.int64]] = []
    spans = ((0, 0.0), (0, pane.length_m), (1, 0.0), (1, pane.depth_m))
    for edge, (axis, value) in zip(pane.edges, spans, strict=True):
        if edge == "free":
            continue
        nodes = np.flatnonzero(np.isclose(mesh.p[axis], value))
        along, across = ("u_y", "u_x") if axis == 0 else ("u_x", "u_y")
        names = ["u", along, along + along[-1]]
        if edge == "clamped":
            names += [across, "u_xy"]
            middle = mesh.p[:, mesh.facets].mean(axis=1)
            facets = np.flatnonzero(np.isclose(middle[axis], value) & (mesh.f2t[1] == -1))
            held.append(numbering.facet_dofs[0, facets])
        order = ["u", "u_x", "u_y", "u_xx", "u_xy", "u_yy"]
        held += [numbering.nodal_dofs[order.index(name), nodes] for name in names]
    return np.unique(np.concatenate(held)) if held else np.zeros(0, np.int64)
