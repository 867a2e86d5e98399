"""What stands on the stand and the floor: glass, stones, ground, water.

Water mass is that of the free space up to the level: inner plan times level, less what pieces and grains displace.
Stand load is the sum of dry masses and the water that is really there: buoyancy cancels inside the tank.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sim import materials
from sim.base.ground import layer_depth_m, plan_points_m
from sim.pieces.placing import PlacedPiece
from sim.scene import Scene
from sim.statics import submerged_part
from sim.units import MM_PER_M, STANDARD_GRAVITY_M_S2


@dataclass(frozen=True, slots=True)
class Weights:
    """Masses in kg and what they do to the floor."""

    pieces_kg: float
    glass_kg: float
    ground_kg: float  # dry
    water_kg: float  # in the ground's pores too
    water_l: float
    displaced_l: float  # by pieces, under the level
    stand_kg: float
    total_kg: float
    floor_kpa: float  # under the tank's own footprint
    spread_kpa: float  # with the free strip around it
    foot_kn: float | None  # on each foot of the stand, a third of the total; None where no feet are given
    band: str  # 'small', 'medium' or 'large', see the table of floors


def weights_of(scene: Scene, pieces: list[PlacedPiece], flooded: bool) -> Weights:
    """Weigh a scene, dry or flooded.

    Parameters
    ----------
    flooded : with the water at its full level

    Notes
    -----
    Ground under the level has its pores full of water: the table's flooded density less the dry one is water.
    """
    tank = scene.tank
    length_m, depth_m, _ = (side / MM_PER_M for side in tank.inner_mm)
    level_m = scene.water_level_mm / MM_PER_M if flooded else 0.0
    density = materials.water_density_kg_m3(scene.water.temperature_c, scene.water.salinity_ppt)
    ground_kg, ground_m3, pores_kg = _ground(scene, level_m, length_m * depth_m)
    displaced_m3 = sum(_under(piece, level_m) for piece in pieces)
    free_m3 = max(length_m * depth_m * level_m - displaced_m3 - ground_m3, 0.0)
    water_kg = free_m3 * density + pores_kg
    pieces_kg = sum(piece.mass_kg for piece in pieces)
    glass_kg = glass_mass_kg(scene)
    total_kg = pieces_kg + glass_kg + ground_kg + water_kg + tank.stand.mass_kg
    force_n = total_kg * STANDARD_GRAVITY_M_S2
    outer = np.array([length_m, depth_m]) + 2.0 * tank.side_mm / MM_PER_M
    strip_m = materials.STRIP_M.default
    return Weights(
        pieces_kg=pieces_kg,
        glass_kg=glass_kg,
        ground_kg=ground_kg,
        water_kg=water_kg,
        water_l=water_kg / density * 1000.0,
        displaced_l=displaced_m3 * 1000.0,
        stand_kg=tank.stand.mass_kg,
        total_kg=total_kg,
        floor_kpa=force_n / float(outer.prod()) / 1000.0,
        spread_kpa=force_n / float((outer + strip_m).prod()) / 1000.0,
        foot_kn=force_n / materials.LEGS_CARRYING.default / 1000.0 if tank.stand.feet_mm else None,
        band=_band(force_n / 1000.0),
    )


def glass_mass_kg(scene: Scene) -> float:
    """Mass of base, front, back and side panes, kg; braces are not counted.

    The base reaches under the four panes; front and back run the whole length, the sides stand between them.
    """
    tank = scene.tank
    length_m, depth_m, height_m = (side / MM_PER_M for side in tank.inner_mm)
    side_m, base_m = tank.side_mm / MM_PER_M, tank.base_mm / MM_PER_M
    base_m3 = (length_m + 2.0 * side_m) * (depth_m + 2.0 * side_m) * base_m
    panes_m3 = 2.0 * ((length_m + 2.0 * side_m) + depth_m) * height_m * side_m
    kind = materials.glass(tank.glass)
    return (base_m3 + panes_m3) * kind.density_kg_m3.default


def _under(piece: PlacedPiece, level_m: float) -> float:
    """Volume of a piece under the level, m3."""
    vertices = piece.vertices_m()
    if vertices[:, 2].max() <= level_m:
        return piece.volume_m3
    if vertices[:, 2].min() >= level_m:
        return 0.0
    return submerged_part(vertices, piece.body.faces, level_m)[0]


def _ground(scene: Scene, level_m: float, plan_m2: float) -> tuple[float, float, float]:
    """Dry mass, volume under the level with its pores, and water in these pores, kg, m3, kg."""
    points = plan_points_m(scene)
    mass_kg = volume_m3 = pores_kg = 0.0
    below = np.zeros(len(points))
    for layer in scene.ground.layers:
        kind = materials.ground(layer.material)
        depth = layer_depth_m(layer, scene, points)
        under = np.clip(level_m - below, 0.0, depth)
        mass_kg += kind.dry_kg_m3.default * float(depth.mean()) * plan_m2
        volume_m3 += float(under.mean()) * plan_m2
        pores_kg += (kind.flooded_kg_m3.default - kind.dry_kg_m3.default) * float(under.mean()) * plan_m2
        below += depth
    return mass_kg, volume_m3, pores_kg


def _band(load_kn: float) -> str:
    if load_kn <= materials.SMALL_TANK_KN.default:
        return "small"
    return "medium" if load_kn <= materials.LARGE_TANK_KN.default else "large"
