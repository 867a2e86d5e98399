"""What pulls on each piece: gravity, and buoyancy at a water level.

w = -m g + rho_w g V_sub, the second at the centroid of the submerged volume
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sim.contact import Poses
from sim.errors import SolverError
from sim.pieces.body import Body
from sim.units import STANDARD_GRAVITY_M_S2

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Loads:
    """Dead loads on pieces; moments are about each piece's centre of volume, which is its centre of mass."""

    force_n: Floats  # (n, 3)
    moment_nm: Floats  # (n, 3)
    lift_n: Floats  # (n,) buoyancy, already in `force_n` and `moment_nm`
    lift_arm_m: Floats  # (n, 3) from the centre to where it acts

    @property
    def wrench(self) -> Floats:
        """Forces and moments side by side, (n, 6)."""
        return np.hstack([self.force_n, self.moment_nm])

    @property
    def weight_n(self) -> Floats:
        """Effective weights, downward positive, (n,)."""
        return -self.force_n[:, 2]

    def sideways(self, azimuth_rad: float) -> Floats:
        """All effective weights turned to the horizontal: wrench (n, 6) of a tilt's sideways part.

        Buoyancy turns with gravity and keeps acting where it acts.
        """
        direction = np.array([np.cos(azimuth_rad), np.sin(azimuth_rad), 0.0])
        force = self.weight_n[:, None] * direction
        return np.hstack([force, np.cross(self.lift_arm_m, -self.lift_n[:, None] * direction)])

    def with_extra(self, piece: int, force_n: Floats, arm_m: Floats) -> Loads:
        """The same with one more force (3,) on a piece, at an arm (3,) from its centre."""
        force, moment = self.force_n.copy(), self.moment_nm.copy()
        force[piece] += force_n
        moment[piece] += np.cross(arm_m, force_n)
        return replace(self, force_n=force, moment_nm=moment)


def weights(mass_kg: Floats) -> Loads:
    """Gravity alone on n pieces."""
    mass = np.asarray(mass_kg, dtype=np.float64)
    none = np.zeros((len(mass), 3))
    force = none.copy()
    force[:, 2] = -mass * STANDARD_GRAVITY_M_S2
    return Loads(force, none, np.zeros(len(mass)), none)


def loads_at(
    bodies: list[Body],
    poses: Poses,
    mass_kg: Floats,
    water_level_m: float | None = None,
    water_density_kg_m3: float = 0.0,
) -> Loads:
    """Gravity and, with a water level, buoyancy on each piece.

    Parameters
    ----------
    bodies : list of n Body
    mass_kg : (n,) not negative
    water_level_m : height of the surface; None in air
    water_density_kg_m3 : of the water, from the table; needed with a level

    Raises
    ------
    SolverError
        For a level without a density: no buoyancy would be a wrong answer.

    Notes
    -----
    Still water, in touch with every face: joints are not sealed against it.
    """
    if water_level_m is not None and not water_density_kg_m3 > 0.0:
        raise SolverError("loads: a water level without the density of the water. Take it from the table of water.")
    air = weights(mass_kg)
    if water_level_m is None or not bodies:
        return air
    lift, arm = np.zeros(len(bodies)), np.zeros((len(bodies), 3))
    for i, body in enumerate(bodies):
        rotation, position = poses.rotation[i], poses.position_m[i]
        height = body.vertices_m @ rotation[2] + position[2]
        if height.min() >= water_level_m:
            continue
        volume = body.volume_m3
        if height.max() > water_level_m:
            world = body.vertices_m @ rotation.T
            volume, arm[i] = submerged_part(world, body.faces, water_level_m - position[2])
        lift[i] = volume * water_density_kg_m3 * STANDARD_GRAVITY_M_S2
    force = air.force_n.copy()
    force[:, 2] += lift
    upward = np.zeros_like(arm)
    upward[:, 2] = lift
    return Loads(force, np.cross(arm, upward), lift, arm)


def submerged_part(vertices_m: Floats, faces: NDArray[np.int32], level_m: float) -> tuple[float, Floats]:
    """Volume and centroid (3,) of what a closed mesh has under a horizontal plane.

    Exact for the polyhedron: each clipped face and one point of the plane span a tetrahedron,
    and the cut itself adds nothing since it lies in the plane.
    """
    apex = np.array([*vertices_m[:, :2].mean(axis=0), level_m])
    triangles = _clipped((vertices_m - apex)[faces])
    if len(triangles) == 0:
        return 0.0, np.zeros(3)
    six_volumes = np.einsum("ki,ki->k", triangles[:, 0], np.cross(triangles[:, 1], triangles[:, 2]))
    total = six_volumes.sum()
    if total <= 0.0:
        return 0.0, np.zeros(3)
    centroid = (triangles.sum(axis=1) * six_volumes[:, None]).sum(axis=0) / (4.0 * total)
    return float(total / 6.0), centroid + apex


def _clipped(triangles: Floats) -> Floats:
    """Parts (k, 3, 3) of triangles at or under z = 0, winding kept."""
    under = triangles[:, :, 2] <= 0.0
    count = under.sum(axis=1)
    pieces = [triangles[count == 3]]
    for lone_is_under in (True, False):
        chosen = count == (1 if lone_is_under else 2)
        if not chosen.any():
            continue
        lone = np.argmax(under[chosen] == lone_is_under, axis=1)
        order = (lone[:, None] + np.arange(3)) % 3
        a, b, c = np.moveaxis(np.take_along_axis(triangles[chosen], order[:, :, None], axis=1), 1, 0)
        on_ab, on_ac = _crossing(a, b), _crossing(a, c)
        if lone_is_under:
            pieces.append(np.stack([a, on_ab, on_ac], axis=1))
        else:
            pieces += [np.stack([on_ab, b, c], axis=1), np.stack([on_ab, c, on_ac], axis=1)]
    return np.concatenate(pieces)


def _crossing(p: Floats, q: Floats) -> Floats:
    """Where segments p to q (k, 3) meet z = 0."""
    share = p[:, 2:] / (p[:, 2:] - q[:, 2:])
    return p + share * (q - p)
