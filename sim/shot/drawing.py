"""What a picture of a scene is made of: pieces, the tank's edges, its floor, a table."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sim.shot.raycast import Shape

Floats = NDArray[np.float64]

GLASS_EDGE_RGB = (143, 188, 181)
WATER_LINE_RGB = (63, 154, 160)
TABLE_RGB = (186, 180, 168)
FLOOR_RGB = (206, 196, 176)
EDGE_THICKNESS_M = 0.0022
SHADE_M = 0.3  # beyond what takes sky away from the table

_BOX_CORNERS = "021 032 456 467 015 054 126 165 237 276 304 347"  # two triangles a side, outward
_BOX_FACES = np.array([[int(corner) for corner in face] for face in _BOX_CORNERS.split()], dtype=np.int32)


def box_shape(low_m: Floats, high_m: Floats, rgb: tuple[int, int, int], line: bool = False) -> Shape:
    """An axis-aligned box between two corners (3,)."""
    (x0, y0, z0), (x1, y1, z1) = low_m, high_m
    corners = np.array(
        [[x0, y0, z0], [x1, y0, z0], [x1, y1, z0], [x0, y1, z0], [x0, y0, z1], [x1, y0, z1], [x1, y1, z1], [x0, y1, z1]]
    )
    return Shape(corners, _BOX_FACES, np.tile(np.array(rgb, np.uint8), (8, 1)), smooth=False, line=line)


def tank_shapes(inner_m: Floats, base_m: float, level_m: float | None = None) -> list[Shape]:
    """A glass tank as `tank_edges` has it, its base, the floor inside it and the table below."""
    x, y, _ = inner_m
    shapes = tank_edges(inner_m, base_m, level_m)
    shapes.append(_plane((0.0, x), (0.0, y), -1e-4, FLOOR_RGB, 0.006))
    shapes.append(box_shape(np.array([0.0, 0.0, -base_m]), np.array([x, y, -2e-4]), GLASS_EDGE_RGB))
    return shapes + _table(x, y, -base_m - 0.002)


def tank_edges(inner_m: Floats, base_m: float, level_m: float | None = None) -> list[Shape]:
    """The edges of a glass tank and its water line; a clear pane shows nothing but those.

    Parameters
    ----------
    inner_m : (3,) inner length, depth and height, metres
    base_m : thickness of the base pane, metres
    level_m : height of the water above the base, or None for an empty tank
    """
    x, y, z = inner_m
    corners = [(0.0, 0.0), (x, 0.0), (x, y), (0.0, y)]
    shapes = [_bar(np.array([*corner, -base_m]), np.array([*corner, z]), GLASS_EDGE_RGB) for corner in corners]
    heights = [(-base_m, GLASS_EDGE_RGB), (z, GLASS_EDGE_RGB)]
    if level_m is not None and 0.0 < level_m < z:
        heights.append((level_m, WATER_LINE_RGB))
    for height, rgb in heights:
        for start, end in zip(corners, corners[1:] + corners[:1], strict=True):
            shapes.append(_bar(np.array([*start, height]), np.array([*end, height]), rgb))
    return shapes


def _table(x_m: float, y_m: float, z_m: float) -> list[Shape]:
    """A table top: fine where the tank can darken it, and four plain sheets around that."""
    near, far = SHADE_M, 4.0 * max(x_m, y_m)
    left, right, front, back = -near, x_m + near, -near, y_m + near
    fine = _plane((left, right), (front, back), z_m, TABLE_RGB, 0.05)
    around = [
        ((-far, x_m + far), (-far, front)),
        ((-far, x_m + far), (back, y_m + far)),
        ((-far, left), (front, back)),
        ((right, x_m + far), (front, back)),
    ]
    return [fine, *(_plane(across, along, z_m, TABLE_RGB, 2.0 * far) for across, along in around)]


def _plane(
    x_m: tuple[float, float], y_m: tuple[float, float], z_m: float, rgb: tuple[int, int, int], step_m: float
) -> Shape:
    """A level sheet, fine enough that what stands on it can darken it."""
    across = np.linspace(*x_m, max(2, int((x_m[1] - x_m[0]) / step_m)))
    along = np.linspace(*y_m, max(2, int((y_m[1] - y_m[0]) / step_m)))
    u, v = np.meshgrid(across, along)
    vertices = np.stack([u.ravel(), v.ravel(), np.full(u.size, z_m)], axis=1)
    corner = (np.arange(len(along) - 1)[:, None] * len(across) + np.arange(len(across) - 1)).ravel()
    below, above = np.stack([corner, corner + 1], 1), np.stack([corner + len(across) + 1, corner + len(across)], 1)
    faces = np.concatenate([np.c_[below, above[:, :1]], np.c_[below[:, :1], above]]).astype(np.int32)
    return Shape(vertices, faces, np.tile(np.array(rgb, np.uint8), (len(vertices), 1)), smooth=False)


def arrow_shape(start_m: Floats, along_m: Floats, rgb: tuple[int, int, int], radius_m: float = 0.003) -> Shape:
    """An arrow from `start_m` along the vector `along_m`: a shaft and a cone of 12 sides."""
    length = float(np.linalg.norm(along_m))
    axis = along_m / length
    side = np.cross(axis, [1.0, 0, 0] if abs(axis[0]) < 0.7 else [0, 1.0, 0])
    side /= np.linalg.norm(side)
    turn = np.linspace(0.0, 2 * np.pi, 12, endpoint=False)[:, None]
    ring = np.cos(turn) * side + np.sin(turn) * np.cross(axis, side)
    head = min(0.45 * length, 5.0 * radius_m)
    profile = [(0.0, radius_m), (length - head, radius_m), (length - head, 2.4 * radius_m)]
    rings = [start_m + axis * at + ring * radius for at, radius in profile]
    vertices = np.concatenate([*rings, [start_m, start_m + along_m]])
    faces = []
    for k in range(12):
        after = (k + 1) % 12
        for band in (0, 12):
            faces += [[band + k, band + after, band + 12 + after], [band + k, band + 12 + after, band + 12 + k]]
        faces += [[36, after, k], [37, 24 + k, 24 + after]]
    colours = np.tile(np.array(rgb, np.uint8), (len(vertices), 1))
    return Shape(vertices, np.array(faces, np.int32), colours, smooth=False, line=True)


def _bar(start_m: Floats, end_m: Floats, rgb: tuple[int, int, int]) -> Shape:
    half = EDGE_THICKNESS_M / 2.0
    return box_shape(np.minimum(start_m, end_m) - half, np.maximum(start_m, end_m) + half, rgb, line=True)
