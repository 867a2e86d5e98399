"""The floor of the tank as a picture needs it: the top of the ground layers, or the bare base."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.base.ground import layer_depth_m
from sim.scene import Scene
from sim.units import MM_PER_M

Floats = NDArray[np.float64]

CELL_M = 0.004
MOST_CELLS = 300  # along a side
BARE_RGB, SHEET_RGB, GRID_RGB = (188, 186, 178), (176, 176, 172), (206, 206, 200)
MESH_M = 0.015  # of a grid under the stones, as drawn

# drawn by eye: colour, how much its grains differ, and their size
LOOKS = {
    "sand": ((212, 196, 160), 0.30, 0.9e-3),
    "gravel": ((158, 144, 124), 0.50, 4.0e-3),
    "baked clay soil": ((74, 56, 44), 0.35, 2.6e-3),
    "expanded clay": ((150, 98, 68), 0.30, 9.0e-3),
    "lava gravel": ((92, 70, 62), 0.40, 6.0e-3),
}


@dataclass(frozen=True, slots=True, eq=False)
class Floor:
    """The floor as a mesh, and how its layers look through the front pane."""

    vertices_m: Floats  # (n, 3)
    faces: NDArray[np.int32]
    height_m: Floats  # (rows, columns) on an even grid over the base, rows from front to back
    layers_m: Floats  # (layers + 1, rows, columns) heights of the layers' borders on the same grid
    rgb: NDArray[np.uint8]  # (layers, 3), or the bare base's
    contrast: Floats  # (layers,)
    grain_m: Floats  # (layers,), 0: smooth
    mesh_m: float  # width of the meshes of a bare grid, 0: none


def floor_of(scene: Scene) -> Floor:
    """The floor of a scene's tank, a little larger than the tank so that no gap shows along the panes."""
    length_m, depth_m = (side / MM_PER_M for side in scene.tank.inner_mm[:2])
    counts = [int(np.clip(np.ceil(side / CELL_M), 8, MOST_CELLS)) for side in (length_m, depth_m)]
    sides = [np.linspace(0.0, side, count + 1) for side, count in zip((length_m, depth_m), counts, strict=True)]
    x, y = (np.concatenate([[-0.01], side, [side[-1] + 0.01]]) for side in sides)
    u, v = np.meshgrid(x, y)
    inside = np.stack([u.clip(0.0, length_m).ravel(), v.clip(0.0, depth_m).ravel()], axis=1)
    plan = np.stack(np.meshgrid(*sides), axis=-1)
    borders = [np.zeros(plan.shape[:2])]
    for layer in scene.ground.layers:
        borders.append(borders[-1] + layer_depth_m(layer, scene, plan.reshape(-1, 2)).reshape(plan.shape[:2]))
    kind = scene.tank.under_stones.kind
    bare = {"none": BARE_RGB, "sheet": SHEET_RGB, "grid": GRID_RGB}[kind]
    looks = [LOOKS[layer.material] for layer in scene.ground.layers] or [(bare, 0.0, 0.0)]
    return Floor(
        vertices_m=np.stack([u.ravel(), v.ravel(), floor_height_m(scene, inside)], axis=1),
        faces=_grid_faces(len(y), len(x)),
        height_m=floor_height_m(scene, plan.reshape(-1, 2)).reshape(plan.shape[:2]),
        layers_m=np.stack(borders),
        rgb=np.array([look[0] for look in looks], np.uint8),
        contrast=np.array([look[1] for look in looks]),
        grain_m=np.array([look[2] for look in looks]),
        mesh_m=MESH_M if kind == "grid" and not scene.ground.layers else 0.0,
    )


def floor_height_m(scene: Scene, plan_m: Floats) -> Floats:
    """Height (n,) of what the base shows at points (n, 2): the ground, or the grid or sheet where it lies higher."""
    ground = sum((layer_depth_m(layer, scene, plan_m) for layer in scene.ground.layers), np.zeros(len(plan_m)))
    return np.maximum(ground, (scene.tank.under_stones.thickness_mm or 0.0) / MM_PER_M)


def _grid_faces(rows: int, columns: int) -> NDArray[np.int32]:
    """Triangles (m, 3) of a grid of points, row by row, upward."""
    corner = (np.arange(rows - 1)[:, None] * columns + np.arange(columns - 1)).ravel()
    right, up, both = corner + 1, corner + columns, corner + columns + 1
    return np.concatenate([np.stack([corner, right, both], 1), np.stack([corner, both, up], 1)]).astype(np.int32)
