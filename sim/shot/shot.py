"""The front shot: what the camera of a scene sees, as a picture."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.scene import Scene
from sim.shot.backdrop import Backdrop, backdrop_of, filmed, outside
from sim.shot.codes import BACK, FILM, OUTSIDE
from sim.shot.lens import Lens
from sim.shot.shading import shaded
from sim.shot.stage import Stage, room_of
from sim.shot.tones import developed
from sim.shot.trace import Room, in_parts, trace, workers
from sim.shot.water import through_water, water_line

Floats = NDArray[np.float64]

SAMPLES = 9  # in a pixel that needs them
CONTRAST = 0.045  # between neighbours as shown, from which on a pixel gets more samples


@dataclass(frozen=True, slots=True, eq=False)
class Studio:
    """Stage, backdrop and water: all that stays when only the camera moves."""

    stage: Stage
    room: Room
    backdrop: Backdrop
    flooded: bool


def studio_of(scene: Scene, stage: Stage, flooded: bool) -> Studio:
    """A scene ready to be photographed, dry or flooded."""
    return Studio(stage, room_of(scene, stage, flooded), backdrop_of(scene), flooded)


def take(studio: Studio, lens: Lens, size_px: tuple[int, int], fine: bool = True) -> NDArray[np.uint8]:
    """The picture (height, width, 3), sRGB.

    Parameters
    ----------
    size_px : (width, height)
    fine : bool
        Take nine samples where neighbouring pixels differ. Else one sample per pixel, for a preview.
    """
    width, height = size_px
    u, v = np.meshgrid(np.arange(width) + 0.5, np.arange(height) + 0.5)
    pixels = np.stack([u.ravel(), v.ravel()], axis=1)
    light = seen_light(studio, lens, pixels, size_px)
    if fine:
        rough = np.flatnonzero(_uneven(developed(light).reshape(height, width, 3)).ravel())
        total = light[rough]
        for shift in _shifts(SAMPLES - 1):
            total = total + seen_light(studio, lens, pixels[rough] + shift, size_px)
        light[rough] = total / SAMPLES
    return np.asarray(developed(light) * 255.0 + 0.5, dtype=np.uint8).reshape(height, width, 3)


def seen_light(studio: Studio, lens: Lens, pixels: Floats, size_px: tuple[int, int]) -> Floats:
    """Linear light (n, 3) that comes in at pixels (n, 2)."""
    light = np.empty((len(pixels), 3))

    def part(one: slice) -> None:
        ways = lens.directions(pixels[one], size_px)
        eyes = lens.position_m[None]
        light[one] = _light(studio, eyes, ways, 1.0 / lens.focal_px(size_px))

    with workers() as pool:
        list(pool.map(part, in_parts(len(pixels))))
    return light


def _light(studio: Studio, eyes_m: Floats, ways: Floats, pixel: float) -> Floats:
    blind = np.isnan(ways[:, 0])  # where a distorted lens shows nothing
    if blind.any():
        ways = np.where(blind[:, None], [0.0, -1.0, 0.0], ways)
    ends = trace(studio.room, eyes_m, ways)
    reach = float(np.linalg.norm(studio.stage.inner_m / 2.0 - eyes_m[0]))
    colours = shaded(studio.stage, ends, studio.flooded, studio.backdrop.light, pixel * reach)
    out = np.flatnonzero(ends.end == OUTSIDE)
    colours[out] = outside(studio.backdrop, ends.point_m[out], ends.way[out])
    film = np.flatnonzero((ends.end == FILM) & (ends.wall == BACK))
    colours[film] = filmed(studio.backdrop, ends.point_m[film])
    colours = through_water(colours, ends)
    light = np.stack([np.bincount(ends.ray, colours[:, k], len(ways)).astype(np.float64) for k in range(3)], axis=1)
    light[blind] = 0.0
    return water_line(light, ends.entry_m, studio.room.basin.level_m)


def _uneven(shown: Floats) -> NDArray[np.bool_]:
    """Pixels (height, width) that differ from a neighbour."""
    uneven = np.zeros(shown.shape[:2], np.bool_)
    for axis in (0, 1):
        differs = np.abs(np.diff(shown, axis=axis)).max(axis=2) > CONTRAST
        if axis == 0:
            uneven[1:] |= differs
            uneven[:-1] |= differs
        else:
            uneven[:, 1:] |= differs
            uneven[:, :-1] |= differs
    return uneven


def _shifts(count: int) -> Floats:
    """Places (count, 2) spread evenly over a pixel about its middle: a two-dimensional golden-ratio sequence."""
    golden = 1.32471795724474602596
    return np.asarray((0.5 + np.outer(np.arange(1, count + 1), [1 / golden, 1 / golden**2])) % 1.0 - 0.5)
