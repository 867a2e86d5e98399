"""How what rays end on looks: stone, wood, ground, silicone and the edges of panes.

Colours are linear light. A surface gets the lamp through its soft shadow, the sky over the tank, the sheet
behind, the room in front and what the ground throws back, each darkened where its neighbours stand close.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from sim.compiling import compiled, inner
from sim.shot.codes import FILM, OUTSIDE, RIM, SEAM, SOIL, SOLID
from sim.shot.grain import pebbled, rough
from sim.shot.lamps import BACK_RGB, FRONT_RGB, LAMP_RGB, SKY_RGB, lamp_corners_m
from sim.shot.raycast import to_linear
from sim.shot.stage import Stage
from sim.shot.trace import Ends

Floats = NDArray[np.float64]

SHARP_CORNER = 0.82  # cosine beyond which a facet keeps its own normal
COARSE_M, FINE_M = 0.007, 0.0018  # wavelengths of stone's roughness
WET_POWER = 1.22  # wet stone is darker and its colours are fuller
SEAM_RGB = np.array([0.055, 0.062, 0.062])
RIM_RGB = np.array([0.10, 0.20, 0.18])
FILM_RGB = np.array([0.03, 0.03, 0.035])
LOST_RGB = np.array([0.25, 0.29, 0.30])


def shaded(stage: Stage, ends: Ends, flooded: bool, back_light: float, footprint: float) -> Floats:
    """Colours (m, 3) of what m rays ended on; 0 for those that left the tank.

    Parameters
    ----------
    back_light : strength of the sheet's light, 0 to 1
    footprint : width of a pixel per metre of distance in air; finer patterns than that are left out
    """
    middle = lamp_corners_m(stage.inner_m).mean(axis=0)
    solid = np.flatnonzero(ends.end == SOLID)
    colours = np.zeros((len(ends.end), 3))
    colours[ends.end == SEAM] = SEAM_RGB
    colours[ends.end == RIM] = RIM_RGB
    colours[ends.end == FILM] = FILM_RGB
    colours[(ends.end != SOLID) & (ends.end != OUTSIDE) & (colours.sum(axis=1) == 0.0)] = LOST_RGB
    if len(solid):
        top = len(stage.floor.rgb) - 1
        colour, normal, light = _surfaces(
            ends.face[solid], ends.weights[solid], ends.point_m[solid], ends.way[solid],
            stage.faces, stage.owner, stage.face_normals, stage.vertex_normals, stage.albedo, stage.light,
            stage.turns, stage.places_m, stage.wooden, len(stage.pieces),
            stage.floor.contrast[top], stage.floor.grain_m[top], stage.floor.mesh_m, footprint, flooded,
        )  # fmt: skip
        colours[solid] = _lit(colour, normal, light, ends.point_m[solid], middle, back_light)
    soil = np.flatnonzero(ends.end == SOIL)
    if len(soil):
        colours[soil] = _soil(stage, ends.point_m[soil])
    return colours


@compiled  # type: ignore[untyped-decorator]
def _surfaces(
    face: NDArray[np.int32],
    weights: NDArray[np.float32],
    point: Floats,
    way: Floats,
    faces: NDArray[np.int32],
    owner: NDArray[np.int32],
    face_normals: NDArray[np.float32],
    vertex_normals: NDArray[np.float32],
    albedo: NDArray[np.float32],
    light: NDArray[np.float32],
    turns: Floats,
    places: Floats,
    wooden: NDArray[np.bool_],
    floor_owner: int,
    contrast: float,
    grain_m: float,
    mesh_m: float,
    footprint: float,
    wet: bool,
) -> tuple[Floats, Floats, Floats]:
    """Colour (m, 3), normal (m, 3) and light (sky, lamp) (m, 2) of points on triangles."""
    count = len(face)
    colour, normal, lit = np.empty((count, 3)), np.empty((count, 3)), np.empty((count, 2))
    flat, soft, local = np.empty(3), np.empty(3), np.empty(3)
    for i in range(count):
        a, b, c = faces[face[i]]
        u, v = weights[i]
        w = 1.0 - u - v
        facing, along = 0.0, 0.0
        length = 0.0
        for k in range(3):
            flat[k] = face_normals[face[i], k]
            soft[k] = w * vertex_normals[a, k] + u * vertex_normals[b, k] + v * vertex_normals[c, k]
            colour[i, k] = w * albedo[a, k] + u * albedo[b, k] + v * albedo[c, k]
            length += soft[k] * soft[k]
            facing += flat[k] * way[i, k]
        length = math.sqrt(max(length, 1e-20))
        for k in range(3):
            along += soft[k] / length * flat[k]
        for k in range(3):
            normal[i, k] = soft[k] / length if along > SHARP_CORNER else flat[k]
            if facing > 0.0:
                normal[i, k] = -normal[i, k]
        for k in range(2):
            lit[i, k] = w * light[a, k] + u * light[b, k] + v * light[c, k]
        one = owner[face[i]]
        if one == floor_owner:
            _grained(colour[i], normal[i], point[i, 0], point[i, 1], contrast, grain_m, footprint)
            _meshed(colour[i], point[i, 0], point[i, 1], mesh_m)
        else:
            for k in range(3):
                local[k] = 0.0
                for m in range(3):
                    local[k] += turns[one, k, m] * (point[i, m] - places[one, m])
            _roughened(colour[i], normal[i], local, turns[one], wooden[one], footprint)
        if wet:
            for k in range(3):
                colour[i, k] = 1.04 * colour[i, k] ** WET_POWER
    return colour, normal, lit


@inner  # type: ignore[untyped-decorator]
def _roughened(colour: Floats, normal: Floats, local: Floats, turn: Floats, wood: bool, footprint: float) -> None:
    """Give a piece's surface its fine tones and its roughness; in place. The pattern moves with the piece."""
    tone, bend_x, bend_y, bend_z = 0.0, 0.0, 0.0, 0.0
    stretch = 0.22 if wood else 1.0
    for octave in range(2):
        wave = COARSE_M if octave == 0 else FINE_M
        seen = min(1.0, max(0.0, 1.6 - footprint / wave * 1.2))
        if seen <= 0.0:
            continue
        value, dx, dy, dz = rough(local[0] / wave, local[1] / wave, local[2] / wave * stretch, 17 + octave)
        tone += seen * (value - 0.5) * (0.34 if octave == 0 else 0.42)
        bend = seen * (0.28 if octave == 0 else 0.20)
        bend_x, bend_y, bend_z = bend_x + bend * dx, bend_y + bend * dy, bend_z + bend * dz * stretch
    length = 0.0
    for k in range(3):  # columns of the turn lead back into the tank's frame
        normal[k] -= bend_x * turn[0, k] + bend_y * turn[1, k] + bend_z * turn[2, k]
        colour[k] *= 1.0 + tone
        length += normal[k] * normal[k]
    for k in range(3):
        normal[k] /= math.sqrt(max(length, 1e-20))


@inner  # type: ignore[untyped-decorator]
def _grained(
    colour: Floats, normal: Floats, x: float, y: float, contrast: float, grain_m: float, footprint: float
) -> None:
    """Lay grains on the ground; in place."""
    if grain_m <= 0.0:
        return
    seen = min(1.0, max(0.0, 1.7 - footprint / grain_m))
    drift = rough(x / 0.06, y / 0.06, 0.0, 5)[0] - 0.5
    tone, away, way_x, way_y = pebbled(x / grain_m, y / grain_m, 29)
    shade = 1.0 + 0.18 * drift + seen * (contrast * (tone - 0.5) * 1.3 - 0.5 * max(0.0, away - 0.38))
    for k in range(3):
        colour[k] *= shade
    normal[0] += seen * 0.9 * way_x
    normal[1] += seen * 0.9 * way_y
    length = math.sqrt(normal[0] ** 2 + normal[1] ** 2 + normal[2] ** 2)
    for k in range(3):
        normal[k] /= length


@inner  # type: ignore[untyped-decorator]
def _meshed(colour: Floats, x: float, y: float, mesh_m: float) -> None:
    """Darken the meshes of a grid between its bars; in place."""
    if mesh_m <= 0.0:
        return
    across, along = abs(x / mesh_m - math.floor(x / mesh_m) - 0.5), abs(y / mesh_m - math.floor(y / mesh_m) - 0.5)
    if max(across, along) < 0.42:
        for k in range(3):
            colour[k] *= 0.55


def _lit(colour: Floats, normal: Floats, light: Floats, point_m: Floats, lamp_m: Floats, back_light: float) -> Floats:
    towards = lamp_m - point_m
    distance = np.linalg.norm(towards, axis=1)
    cosine = np.clip((normal * towards).sum(axis=1) / distance, 0.0, None)
    near = (lamp_m[2] / np.maximum(distance, 1e-6)) ** 1.2  # weaker away from the lamp's foot, but no point source
    lamp = cosine * light[:, 1] * near
    sky, y, z = light[:, 0], normal[:, 1], normal[:, 2]
    return np.asarray(
        colour
        * (
            lamp[:, None] * LAMP_RGB
            + (sky * (0.5 + 0.5 * z))[:, None] * SKY_RGB
            + (sky * np.clip(0.25 - 0.75 * y, 0.0, None))[:, None] * FRONT_RGB
            + (sky * np.clip(0.15 + 0.85 * y, 0.0, None) * back_light)[:, None] * BACK_RGB
            + (sky * (0.5 - 0.5 * z))[:, None] * np.array([0.20, 0.18, 0.15])
        )
    )


def _soil(stage: Stage, point_m: Floats) -> Floats:
    """Layers of the ground as a pane cuts them."""
    floor = stage.floor
    rows, columns = floor.height_m.shape
    u = np.clip(np.round(point_m[:, 0] / stage.inner_m[0] * (columns - 1)), 0, columns - 1).astype(int)
    v = np.clip(np.round(point_m[:, 1] / stage.inner_m[1] * (rows - 1)), 0, rows - 1).astype(int)
    borders = floor.layers_m[:, v, u]
    layer = np.clip((point_m[:, 2] >= borders).sum(axis=0) - 1, 0, len(floor.rgb) - 1)
    colours = to_linear(floor.rgb)[layer]
    deep = np.clip((borders[-1] - point_m[:, 2]) / 0.03, 0.0, 1.0)
    tone = np.array(
        [
            _tone(x, z, max(grain, 1e-4), contrast)
            for x, z, grain, contrast in zip(
                point_m[:, 0] + point_m[:, 1], point_m[:, 2], floor.grain_m[layer], floor.contrast[layer], strict=True
            )
        ]
    )
    return np.asarray(colours * (tone * (0.62 - 0.30 * deep))[:, None])


@compiled  # type: ignore[untyped-decorator]
def _tone(x: float, z: float, grain_m: float, contrast: float) -> float:
    tone, away, _, _ = pebbled(x / grain_m, z / grain_m, 31)
    shade: float = 1.0 + contrast * (tone - 0.5) - 0.5 * max(0.0, away - 0.38)
    return shade
