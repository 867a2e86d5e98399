"""A pane of glass as a thin plate: bending under patches and pressure, by finite elements.

    D laplacian(laplacian w) + k w = q,   D = E t^3 / (12 (1 - nu^2))
    Mx = -D (w_xx + nu w_yy),  My = -D (w_yy + nu w_xx),  Mxy = -D (1 - nu) w_xy,  sigma = 6 M / t^2

Argyris triangles, whose fifth-degree deflection has continuous slopes, so that moments converge fast; the mesh is
fine around patches.

References
----------
Timoshenko, S. P. & Woinowsky-Krieger, S. (1959). Theory of Plates and Shells, 2nd ed.
Argyris, J. H., Fried, I. & Scharpf, D. W. (1968). The TUBA family of plate elements. Aeronaut. J. 72, 701-709.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.sparse.linalg import splu
from skfem import Basis, BilinearForm, LinearForm, MeshTri
from skfem.element import ElementTriArgyris
from skfem.helpers import dd, ddot, trace

Floats = NDArray[np.float64]

Edge = Literal["held", "clamped", "free"]

COARSE_ELEMENTS = 8  # along the shorter side, away from patches
FINE_SHARE = 0.5  # of a patch's size: elements around it are no larger
MOST_ROUNDS = 8
SIDES = 16  # of the polygon that stands for a disc
CIRCLE = np.array([[np.cos(a), np.sin(a)] for a in np.arange(SIDES) * 2.0 * np.pi / SIDES])
SAME_AREA = float(np.sqrt(2.0 * np.pi / (SIDES * np.sin(2.0 * np.pi / SIDES))))  # its radius over that of the disc
ORDER, ORDER_ON_MAT = 6, 8  # of quadrature: products of second derivatives of fifth-degree polynomials have degree six


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
    """A loaded area as quadrature points with shares of its force that sum to one."""

    points_m: Floats  # (k, 2)
    share: Floats  # (k,)
    size_m: float  # of its shorter extent: elements around it are no larger
    centre_m: Floats  # (2,)
    stands_for_m: float | None = None  # radius of the smaller disc that this one stands for, see `disc`
    radius_m: float = 0.0  # of this one, where it stands for another


def rectangle(centre_m: Sequence[float], size_m: Sequence[float], cell_m: float | None = None) -> Patch:
    """An evenly loaded rectangle along the pane's axes; `cell_m`: how finely it is sampled, see `polygon`."""
    half = np.array(size_m, dtype=np.float64) / 2.0
    corners = np.array(centre_m) + half * np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
    return polygon(corners, cell_m)


def polygon(corners_m: Floats, cell_m: float | None = None) -> Patch:
    """An evenly loaded convex polygon (k, 2), corners in order.

    `cell_m`: its points are about a quarter of this apart, and should be no farther apart than the mesh is fine.
    """
    corners = np.asarray(corners_m, dtype=np.float64)
    middle = corners.mean(axis=0)
    extent = float(np.ptp(corners, axis=0).max())
    cells = max(1, int(np.ceil(extent / (2.0 * cell_m)))) if cell_m else 1
    node, weight = _composite(cells)
    u, v = (grid.ravel() for grid in np.meshgrid(node, node, indexing="ij"))
    area = np.outer(weight, weight).ravel()
    place, share = [], []
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        # a square folded onto each triangle of the fan (Duffy 1982): u from the middle outward, v along the side
        place.append(middle + u[:, None] * ((a - middle) + v[:, None] * (b - a)))
        double = abs((a - middle)[0] * (b - middle)[1] - (a - middle)[1] * (b - middle)[0])
        share.append(double * u * area)
    total, points_m = np.concatenate(share), np.concatenate(place)
    total = total / total.sum()
    return Patch(points_m, total, float(np.ptp(corners, axis=0).min()), np.asarray(total @ points_m))


def _composite(cells: int) -> tuple[Floats, Floats]:
    """Nodes and weights on (0, 1) of a four-point Gauss rule in each of some cells."""
    node, weight = np.polynomial.legendre.leggauss(4)
    nodes = (np.arange(cells)[:, None] + (node[None] + 1.0) / 2.0) / cells
    return nodes.ravel(), np.tile(weight / (2.0 * cells), cells)


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
        order = ORDER_ON_MAT if pane.bedding_n_m3 > 0.0 else ORDER
        self.basis = Basis(_mesh(pane, self.patches), ElementTriArgyris(), intorder=order)
        stiffness = sp.csc_matrix(_bending(pane.rigidity_nm, pane.poisson).assemble(self.basis))
        if pane.bedding_n_m3 > 0.0:
            stiffness = stiffness + pane.bedding_n_m3 * sp.csc_matrix(_mass.assemble(self.basis))
        self.free = np.setdiff1d(np.arange(self.basis.N), _held(self.basis, pane))
        self.solve = splu(sp.csc_matrix(stiffness[self.free][:, self.free])).solve

    def pressed(self, *patches: Patch) -> Floats:
        """Load vectors (N, f) of 1 N spread over each patch."""
        if not patches:
            return np.zeros((self.basis.N, 0))
        # what reaches beyond the pane presses on its edge
        corner = [self.pane.length_m, self.pane.depth_m]
        points_m = np.clip(np.concatenate([patch.points_m for patch in patches]), 0.0, corner)
        owner = np.repeat(np.arange(len(patches)), [len(patch.share) for patch in patches])
        share = np.concatenate([patch.share for patch in patches])
        spread = sp.csr_matrix((share, (np.arange(len(share)), owner)), shape=(len(share), len(patches)))
        return np.asarray((self.basis.probes(points_m.T).T @ spread).toarray())

    def under_pressure(self, pressure_pa: Floats | float = 1.0) -> Floats:
        """Load vector (N,) of a pressure: even, or given (q,) at the points of `places`."""
        shape = self.basis.global_coordinates().shape[1:]
        values = np.broadcast_to(np.asarray(pressure_pa, dtype=np.float64), (int(np.prod(shape)),)).reshape(shape)
        return np.asarray(_pressure(values).assemble(self.basis))

    def bent(self, loads: Floats) -> Floats:
        """Deflection vectors (N, c), downward positive, for load vectors (N, c)."""
        loads = loads.reshape(self.basis.N, -1)
        result = np.zeros_like(loads)
        result[self.free] = self.solve(np.ascontiguousarray(loads[self.free]))
        return result

    def places(self) -> Floats:
        """Quadrature points (q, 2) at which a pressure field is wanted."""
        return np.asarray(self.basis.global_coordinates()).reshape(2, -1).T

    def deflection_at(self, points_m: Floats) -> sp.csr_matrix:
        """Matrix (k, N) from a deflection vector to deflections at points (k, 2)."""
        return sp.csr_matrix(self.basis.probes(np.asarray(points_m).T))

    def moments_at(self, points_m: Floats) -> sp.csr_matrix:
        """Matrix (3 k, N) from a deflection vector to Mx, My, Mxy of each point in turn; sagging positive."""
        points = np.asarray(points_m, dtype=np.float64).T
        basis, pane = self.basis, self.pane
        cells = basis.mesh.element_finder(mapping=basis.mapping)(*points)
        local = basis.mapping.invF(points[:, :, None], tind=cells)
        rows, columns, values = [], [], []
        count = points.shape[1]
        for k in range(basis.Nbfun):
            hess = np.asarray(basis.elem.gbasis(basis.mapping, local, k, tind=cells)[0].hess)[..., 0]
            xx, yy, xy = hess[0, 0], hess[1, 1], hess[0, 1]
            parts = (xx + pane.poisson * yy, yy + pane.poisson * xx, (1.0 - pane.poisson) * xy)
            for c, part in enumerate(parts):
                rows.append(3 * np.arange(count) + c)
                columns.append(basis.element_dofs[k, cells])
                values.append(-pane.rigidity_nm * part)
        entries = (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns)))
        return sp.csr_matrix(entries, shape=(3 * count, basis.N))


def _bending(rigidity: float, poisson: float) -> BilinearForm:
    @BilinearForm
    def form(u, v, _):  # type: ignore[no-untyped-def]
        curvature = dd(u)
        spread = poisson * trace(curvature) * trace(dd(v))
        return rigidity * ((1.0 - poisson) * ddot(curvature, dd(v)) + spread)

    return form


@BilinearForm
def _mass(u, v, _):  # type: ignore[no-untyped-def]
    return u * v


def _pressure(values: Floats) -> LinearForm:
    @LinearForm
    def form(v, _):  # type: ignore[no-untyped-def]
        return values * v

    return form


def _mesh(pane: Pane, patches: Sequence[Patch]) -> MeshTri:
    """Triangles that are no larger than each patch around it."""
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
            near_low = patch.points_m.min(axis=0) - patch.size_m / 2.0
            near_high = patch.points_m.max(axis=0) + patch.size_m / 2.0
            touched = (low < near_high[:, None]).all(axis=0) & (high > near_low[:, None]).all(axis=0)
            coarse |= touched & (size > FINE_SHARE * patch.size_m)
        if not coarse.any():
            break
        mesh = mesh.refined(np.flatnonzero(coarse))
    return mesh


def _held(basis: Basis, pane: Pane) -> NDArray[np.int64]:
    """Freedoms that the edges take away."""
    mesh = basis.mesh
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
            held.append(basis.facet_dofs[0, facets])
        order = ["u", "u_x", "u_y", "u_xx", "u_xy", "u_yy"]
        held += [basis.nodal_dofs[order.index(name), nodes] for name in names]
    return np.unique(np.concatenate(held)) if held else np.zeros(0, np.int64)
