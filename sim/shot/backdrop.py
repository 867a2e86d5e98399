"""What lies outside the tank: the sheet behind it, the stand below, the dim room around."""

from __future__ import annotations

import math
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError

from sim.compiling import compiled, inner
from sim.errors import Fault, SceneError
from sim.scene import Scene
from sim.shot.lamps import ROOM_RGB
from sim.shot.raycast import to_linear
from sim.units import MM_PER_M

Floats = NDArray[np.float64]

GAP_M = 0.02  # between back pane and sheet
SHEET_BEYOND = 0.16  # of the tank's length and height, that the sheet reaches beyond the tank
MAT_M = 0.01  # when the scene has no mat
STAND_RGB = np.array([0.085, 0.082, 0.078])
WALL_LIGHT = 0.31
MOST_SIDE_PX = 2048  # of a background image as it is used


@dataclass(frozen=True, slots=True, eq=False)
class Backdrop:
    """The sheet and the stand, in the tank's frame."""

    sheet: Floats  # (rows, columns, 3) linear colours, upper row first
    light: float  # how strongly lit from behind, 0 to 1
    plane_m: float  # y of the sheet
    low_m: tuple[float, float]  # x, z of its lower left corner
    high_m: tuple[float, float]
    stand_m: tuple[float, float, float, float]  # x from, x to, y front, z top
    soft_m: float  # width over which the edge of an image fades
    pictured: bool  # an image, not a gradient of colours

    def numbers(self) -> _Numbers:
        """All but the sheet's colours."""
        return _Numbers(self.light, self.plane_m, *self.low_m, *self.high_m, self.soft_m, self.pictured, *self.stand_m)


def backdrop_of(scene: Scene) -> Backdrop:
    """The scene's background.

    Raises
    ------
    SceneError
        When the background image is missing, is no image, or cannot be read.
    """
    length, depth, height = (side / MM_PER_M for side in scene.tank.inner_mm)
    side, base = scene.tank.side_mm / MM_PER_M, scene.tank.base_mm / MM_PER_M
    mat = scene.tank.mat.thickness_mm / MM_PER_M if scene.tank.mat is not None else MAT_M
    image = scene.background.image
    beyond_x, beyond_z = SHEET_BEYOND * length, SHEET_BEYOND * height
    filmed = "back" in scene.tank.film  # then the sheet is the film itself
    return Backdrop(
        sheet=_gradient(scene) if image is None else _image(scene, scene.folder / image),
        light=scene.background.light,
        plane_m=depth + side + (0.0 if filmed else GAP_M),
        low_m=(-side - beyond_x, -base - mat),
        high_m=(length + side + beyond_x, height + beyond_z),
        stand_m=(-side - 0.006, length + side + 0.006, -side - 0.004, -base - mat),
        soft_m=0.02 * length,
        pictured=image is not None,
    )


def outside(backdrop: Backdrop, points_m: Floats, ways: Floats) -> Floats:
    """Colours (m, 3), linear, of rays (m, 3) that have left the tank or never met it."""
    return np.asarray(_outside(points_m, ways, backdrop.sheet, backdrop.numbers(), ROOM_RGB, STAND_RGB))


def filmed(backdrop: Backdrop, points_m: Floats) -> Floats:
    """Colours (m, 3) of points on a back pane with film or sheet behind it."""
    straight = np.tile([0.0, 1.0, 0.0], (len(points_m), 1))
    return outside(backdrop, points_m, straight)


class _Numbers(NamedTuple):
    """A backdrop for the kernel."""

    light: float
    plane: float
    x0: float
    z0: float
    x1: float
    z1: float
    soft: float
    pictured: bool
    stand_x0: float
    stand_x1: float
    stand_front: float
    stand_top: float


@compiled  # type: ignore[untyped-decorator]
def _outside(
    points: Floats, ways: Floats, sheet: Floats, drop: _Numbers, room_rgb: Floats, stand_rgb: Floats
) -> Floats:
    colours = np.empty((len(points), 3))
    for i in range(len(points)):
        point, way, colour = points[i], ways[i], colours[i]
        if _meets_stand(point, way, drop, stand_rgb, colour):
            continue
        if way[1] > 1e-6:
            run = (drop.plane - point[1]) / way[1]
            _behind(point[0] + run * way[0], point[2] + run * way[2], sheet, drop, colour)
            continue
        up = max(way[2], 0.0)  # the lamp's glow over the tank
        for k in range(3):
            colour[k] = room_rgb[k] + up * (0.75 + 0.045 * k)
    return colours


@inner  # type: ignore[untyped-decorator]
def _behind(x: float, z: float, sheet: Floats, drop: _Numbers, colour: Floats) -> None:
    """Colour of the sheet, and of the wall beyond it; written."""
    rows, columns = sheet.shape[0], sheet.shape[1]
    u = min(max((x - drop.x0) / (drop.x1 - drop.x0), 0.0), 1.0) * columns - 0.5
    v = min(max((drop.z1 - z) / (drop.z1 - drop.z0), 0.0), 1.0) * rows - 0.5
    u, v = min(max(u, 0.0), columns - 1.0), min(max(v, 0.0), rows - 1.0)
    i, j = int(u), int(v)
    i1, j1 = min(i + 1, columns - 1), min(j + 1, rows - 1)
    s, t = u - i, v - j
    half = (drop.x1 - drop.x0) / 2.0
    across, up = (x - (drop.x0 + drop.x1) / 2.0) / half, (z - drop.z0 - 0.36 * (drop.z1 - drop.z0)) / half
    # bright in the middle, dim far off: no edge anywhere
    glow = 0.36 + 0.64 / (1.0 + (0.62 * math.sqrt(across * across + up * up)) ** 3)
    strength = glow * (0.55 + 0.90 * drop.light)
    past = max(max(drop.x0 - x, x - drop.x1), max(z - drop.z1, drop.z0 - z))
    fade = min(max(past / drop.soft, 0.0), 1.0) if drop.pictured else 0.0  # an image ends somewhere
    for k in range(3):
        upper = sheet[j, i, k] * (1 - s) + sheet[j, i1, k] * s
        lower = sheet[j1, i, k] * (1 - s) + sheet[j1, i1, k] * s
        shown = (upper * (1 - t) + lower * t) * strength
        colour[k] = shown + (WALL_LIGHT * glow - shown) * fade


@inner  # type: ignore[untyped-decorator]
def _meets_stand(point: Floats, way: Floats, drop: _Numbers, stand_rgb: Floats, colour: Floats) -> bool:
    """Whether a ray ends on the stand under the tank; then its colour is written."""
    if point[1] < drop.stand_front and way[1] > 0.0:
        run = (drop.stand_front - point[1]) / way[1]
        x, z = point[0] + run * way[0], point[2] + run * way[2]
        if drop.stand_x0 < x < drop.stand_x1 and z < drop.stand_top:
            shade = 1.15 - 0.45 * min((drop.stand_top - z) / 0.12, 1.0)
            for k in range(3):
                colour[k] = stand_rgb[k] * shade
            return True
    for side, sign in ((drop.stand_x0, 1.0), (drop.stand_x1, -1.0)):
        if way[0] * sign > 0.0 and (point[0] - side) * sign < 0.0:
            run = (side - point[0]) / way[0]
            y, z = point[1] + run * way[1], point[2] + run * way[2]
            if drop.stand_front < y < drop.plane and z < drop.stand_top:
                for k in range(3):
                    colour[k] = stand_rgb[k] * 0.62
                return True
    if way[2] < 0.0 and point[2] > drop.stand_top:
        run = (drop.stand_top - point[2]) / way[2]
        x, y = point[0] + run * way[0], point[1] + run * way[1]
        if drop.stand_x0 < x < drop.stand_x1 and drop.stand_front < y < drop.plane:
            for k in range(3):
                colour[k] = stand_rgb[k] * 1.7
            return True
    return False


def _gradient(scene: Scene) -> Floats:
    ends = np.array(
        [[int(code[k : k + 2], 16) for k in (1, 3, 5)] for code in (scene.background.top, scene.background.bottom)]
    )
    share = np.linspace(0.0, 1.0, 64)[:, None]
    rows = to_linear(ends[:1].astype(np.uint8)) * (1 - share) + to_linear(ends[1:].astype(np.uint8)) * share
    return np.asarray(rows[:, None, :])


def _image(scene: Scene, path: Path) -> Floats:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)  # a large photo is no attack; it is reduced
            with Image.open(path) as image:
                image.draft("RGB", (MOST_SIDE_PX, MOST_SIDE_PX))
                image.thumbnail((MOST_SIDE_PX, MOST_SIDE_PX))
                return to_linear(np.asarray(image.convert("RGB")))
    except FileNotFoundError:
        problem, remedy = f"{path} does not exist", "Give the path from the scene file's folder, or colours."
    except Image.DecompressionBombError:
        problem, remedy = f"{path} has more pixels than can be read safely", "Scale it down to 4000 pixels."
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError):
        problem, remedy = f"{path} is no image that can be read, or is damaged", "Save it again as PNG or JPEG."
    raise SceneError(str(scene.file), [Fault("background.image", problem, remedy)])
