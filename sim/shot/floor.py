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
BARE_RGB = (188, 186, 178)

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
    soil_m: Floats  # (k,) height along the front pane, evenly from left to right
    layers_m: Floats  # (layers + 1, k) heights of the layers' borders along the front pane
    rgb: NDArray[np.uint8]  # (layers, 3), or the bare base's
    contrast: Floats  # (layers,)
    grain_m: Floats  # (layers,), 0: smooth


def floor_of(scene: Scene) -> Floor:
    """The floor of a scene's tank, a little larger than the tank so that no gap shows along the panes."""
    length_m, depth_m = (side / MM_PER_M for side in scene.tank.inner_mm[:2])
    counts = [int(np.clip(np.ceil(side / CELL_M), 8, MOST_CELLS)) for side in (length_m, depth_m)]
    sides = [np.linspace(0.0, side, count + 1) for side, count in zip((length_m, depth_m), counts, strict=True)]
    x, y = (np.concatenate([[-0.01], side, [side[-1] + 0.01]]) for side in sides)
    u, v = np.meshgrid(x, y)
    inside = np.stack([u.clip(0.0, length_m).ravel(), v.clip(0.0, depth_m).ravel()], axis=1)
    height = np.zeros(len(inside))
    front = np.stack([sides[0], np.zeros_like(sides[0])], axis=1)
    borders = [np.zeros(len(front))]
    for layer in scene.ground.layers:
        height += layer_depth_m(layer, scene, inside)
        borders.append(borders[-1] + layer_depth_m(layer, scene, front))
    looks = [LOOKS[layer.material] for layer in scene.ground.layers] or [(BARE_RGB, 0.0, 0.0)]
    return Floor(
        vertices_m=np.stack([u.ravel(), v.ravel(), height], axis=1),
        faces=_grid_faces(len(y), len(x)),
        soil_m=borders[-1],
        layers_m=np.stack(borders),
        rgb=np.array([look[0] for look in looks], np.uint8),
        contrast=np.array([look[1] for look in looks]),
        grain_m=np.array([look[2] for look in looks]),
    )


def _grid_faces(rows: int, columns: int) -> NDArray[np.int32]:
    """Triangles (m, 3) of a grid of points, row by row, upward."""
    corner = (np.arange(rows - 1)[:, None] * columns + np.arange(columns - 1)).ravel()
    right, up, both = corner + 1, corner + columns, corner + columns + 1
    return np.concatenate([np.stack([corner, right, both], 1), np.stack([corner, both, up], 1)]).astype(np.int32)
