"""The granular ground: how deep it lies, and what it presses with."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import RegularGridInterpolator

from sim import materials
from sim.scene import GroundLayer, Scene
from sim.units import MM_PER_M, STANDARD_GRAVITY_M_S2

Floats = NDArray[np.float64]

CELLS = 100


def layer_depth_m(layer: GroundLayer, scene: Scene, points_m: Floats) -> Floats:
    """Thickness (k,) of a layer at points (k, 2): even from front to back, or from its height map."""
    length_m, depth_m = (side / MM_PER_M for side in scene.tank.inner_mm[:2])
    if layer.height_map_mm is not None:
        heights = np.array(layer.height_map_mm) / MM_PER_M
        rows, columns = np.linspace(0.0, depth_m, heights.shape[0]), np.linspace(0.0, length_m, heights.shape[1])
        inside = np.clip(points_m[:, ::-1], 0.0, [depth_m, length_m])
        return np.asarray(RegularGridInterpolator((rows, columns), heights)(inside))
    front_m, back_m = (layer.front_mm or 0.0) / MM_PER_M, (layer.back_mm or 0.0) / MM_PER_M
    return np.asarray(front_m + (back_m - front_m) * points_m[:, 1] / depth_m)


def plan_points_m(scene: Scene) -> Floats:
    """Middles (k, 2) of even cells over the base, at which depths are averaged."""
    length_m, depth_m = (side / MM_PER_M for side in scene.tank.inner_mm[:2])
    share = (np.arange(CELLS) + 0.5) / CELLS
    x, y = np.meshgrid(share * length_m, share * depth_m)
    return np.column_stack([x.ravel(), y.ravel()])


def ground_pressure_pa(
    scene: Scene, points_m: Floats, water_level_m: float, water_density_kg_m3: float, wet: bool
) -> Floats:
    """Pressure (k,) of all layers on the base at points (k, 2), beside that of the water.

    Under the level the layer weighs its flooded density less the water's, which presses anyway. `wet`: above the level
    its pores are still full, as when water has just been let out; else the layer has never been flooded.
    """
    pressure, below = np.zeros(len(points_m)), np.zeros(len(points_m))
    for layer in scene.ground.layers:
        kind = materials.ground(layer.material)
        depth = layer_depth_m(layer, scene, points_m)
        under = np.clip(water_level_m - below, 0.0, depth)
        above_kg_m3 = kind.flooded_kg_m3.default if wet else kind.dry_kg_m3.default
        per_m2 = under * (kind.flooded_kg_m3.default - water_density_kg_m3) + (depth - under) * above_kg_m3
        pressure += per_m2 * STANDARD_GRAVITY_M_S2
        below += depth
    return pressure
