"""Where the whole weight stands in plan, and what each foot of the stand carries.

A rigid tank on rigid feet: with more than three of them the split is not determined. The nominal one takes feet of
equal compliance, and lets a foot that would pull lift off; the bracket takes any split that balances, as one leg may be
short.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog

from sim import materials
from sim.base.ground import layer_depth_m, plan_points_m
from sim.base.weights import glass_mass_kg
from sim.pieces.placing import PlacedPiece
from sim.scene import Scene
from sim.statics import submerged_part
from sim.units import MM_PER_M, STANDARD_GRAVITY_M_S2

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Foot:
    """One foot of the stand."""

    at_m: Floats  # (2,)
    nominal_n: float  # of equal compliance
    least_n: float  # of all splits that balance
    most_n: float


@dataclass(frozen=True, slots=True, eq=False)
class Standing:
    """The whole weight in plan, with the tank full."""

    mass_kg: float
    centre_m: Floats  # (2,) of pieces, glass, ground and water; the stand's own mass counts over the middle of its feet
    pieces_centre_m: Floats | None  # (2,) of the pieces alone
    within_feet: bool | None  # None where no feet are given
    feet: tuple[Foot, ...]  # none where the centre lies outside them, or none are given


def standing_of(scene: Scene, pieces: list[PlacedPiece]) -> Standing:
    """Weigh the full tank about its plan, and share the weight between the feet.

    Water that pieces and grains displace is missing where they are.
    """
    level_m = scene.water_level_mm / MM_PER_M
    density = materials.water_density_kg_m3(scene.water.temperature_c, scene.water.salinity_ppt)
    parts = [_glass(scene), *_ground_and_water(scene, level_m, density)]
    for piece in pieces:
        parts.append((piece.mass_kg, piece.position_m[:2]))
        displaced_m3, middle = _displaced(piece, level_m)
        parts.append((-displaced_m3 * density, middle[:2]))
    feet = np.array(scene.tank.stand.feet_mm, dtype=np.float64).reshape(-1, 2) / MM_PER_M
    if scene.tank.stand.mass_kg > 0.0:
        middle = feet.mean(axis=0) if len(feet) else _glass(scene)[1]
        parts.append((scene.tank.stand.mass_kg, middle))
    mass = np.array([part[0] for part in parts])
    centre = mass @ np.array([part[1] for part in parts]) / mass.sum()
    own = np.array([piece.mass_kg for piece in pieces])
    own_centre = own @ np.array([piece.position_m[:2] for piece in pieces]) / own.sum() if own.sum() > 0.0 else None
    carried = share_between_feet(feet, float(mass.sum()) * STANDARD_GRAVITY_M_S2, centre) if len(feet) else None
    return Standing(
        mass_kg=float(mass.sum()),
        centre_m=centre,
        pieces_centre_m=own_centre,
        within_feet=None if not len(feet) else carried is not None,
        feet=carried or (),
    )


def share_between_feet(feet_m: Floats, weight_n: float, centre_m: Floats) -> tuple[Foot, ...] | None:
    """Forces of feet (k, 2) under a weight whose line passes through `centre_m` (2,); None where it lies outside them.

    Nominal: the least sum of squares that balances, that is ``F = A' (A A')^-1 b`` with rows 1, x, y, over the feet
    that press.
    """
    rows = np.vstack([np.ones(len(feet_m)), (feet_m - centre_m).T])
    right = np.array([1.0, 0.0, 0.0])
    spans = [_extreme(rows, right, k) for k in range(len(feet_m))]
    if any(span is None for span in spans):
        return None
    pressing = np.ones(len(feet_m), np.bool_)
    force = np.zeros(len(feet_m))
    while True:
        force[:] = 0.0
        force[pressing] = np.linalg.pinv(rows[:, pressing]) @ right
        if force.min() >= -1e-12:
            break
        pressing[force.argmin()] = False
    return tuple(
        Foot(feet_m[k], float(force[k]) * weight_n, span[0] * weight_n, span[1] * weight_n)
        for k, span in enumerate(spans)
        if span is not None
    )


def _extreme(rows: Floats, right: Floats, foot: int) -> tuple[float, float] | None:
    """Least and most of one foot's share; None where nothing balances."""
    cost = np.zeros(rows.shape[1])
    cost[foot] = 1.0
    least = linprog(cost, A_eq=rows, b_eq=right, method="highs")
    most = linprog(-cost, A_eq=rows, b_eq=right, method="highs")
    if least.status != 0 or most.status != 0:
        return None
    return float(np.asarray(least.x)[foot]), float(np.asarray(most.x)[foot])


def _glass(scene: Scene) -> tuple[float, Floats]:
    length_m, depth_m, _ = (side / MM_PER_M for side in scene.tank.inner_mm)
    return glass_mass_kg(scene), np.array([length_m, depth_m]) / 2.0


def _ground_and_water(scene: Scene, level_m: float, density: float) -> list[tuple[float, Floats]]:
    """Columns of ground with what water stands in it, and the water beside it, before pieces displace any."""
    length_m, depth_m, _ = (side / MM_PER_M for side in scene.tank.inner_mm)
    points = plan_points_m(scene)
    cell_m2 = length_m * depth_m / len(points)
    below, column = np.zeros(len(points)), np.zeros(len(points))
    for layer in scene.ground.layers:
        kind = materials.ground(layer.material)
        depth = layer_depth_m(layer, scene, points)
        under = np.clip(level_m - below, 0.0, depth)
        column += under * kind.flooded_kg_m3.default + (depth - under) * kind.dry_kg_m3.default
        below += depth
    column += np.maximum(level_m - below, 0.0) * density
    total = float(column.sum()) * cell_m2
    return [(total, column @ points / column.sum())] if total > 0.0 else []


def _displaced(piece: PlacedPiece, level_m: float) -> tuple[float, Floats]:
    vertices = piece.vertices_m()
    if vertices[:, 2].max() <= level_m:
        return piece.volume_m3, piece.position_m
    if vertices[:, 2].min() >= level_m:
        return 0.0, piece.position_m
    return submerged_part(vertices, piece.body.faces, level_m)
