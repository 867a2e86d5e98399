"""The front shot: what the camera of a scene sees, as a picture."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.scene import Scene
from sim.shot.ambient import unit
from sim.shot.backdrop import Backdrop, backdrop_of, filmed, outside
from sim.shot.codes import BACK, FILM, OUTSIDE
from sim.shot.lens import Lens
from sim.shot.refraction import tank_of
from sim.shot.shading import shaded
from sim.shot.sighting import require_outside
from sim.shot.stage import Stage, room_of
from sim.shot.tones import developed
from sim.shot.trace import Room, in_parts, trace, workers
from sim.shot.uneven import uneven
from sim.shot.water import through_pane, through_water, water_line

Floats = NDArray[np.float64]

PLASTIC = 1.32471795724474602596  # the number whose powers fill a square most evenly
APERTURE_SAMPLES = 40
SAMPLES = 9  # in a pixel that needs them
CONTRAST = 0.045  # between neighbours as shown, from which on a pixel gets more samples


@dataclass(frozen=True, slots=True, eq=False)
class Studio:
    """Stage, backdrop and water: all that stays when only the camera moves."""

    scene: Scene
    stage: Stage
    room: Room
    backdrop: Backdrop
    flooded: bool


def studio_of(scene: Scene, stage: Stage, flooded: bool) -> Studio:
    """A scene ready to be photographed, dry or flooded."""
    return Studio(scene, stage, room_of(scene, stage, flooded), backdrop_of(scene), flooded)


def take(studio: Studio, lens: Lens, size_px: tuple[int, int], fine: bool = True) -> NDArray[np.uint8]:
    """The picture (height, width, 3), sRGB, everything sharp.

    Parameters
    ----------
    size_px : (width, height)
    fine : bool
        Take nine samples where neighbouring pixels differ. Else one sample per pixel, for a preview.

    Raises
    ------
    SceneError
        When the camera stands inside, behind or beside the tank.
    """
    pixels = _middles(studio, lens, size_px)
    light = seen_light(studio, lens, pixels, size_px)
    if fine:
        rough = np.flatnonzero(uneven(developed(light).reshape(size_px[1], size_px[0], 3), CONTRAST))
        total = light[rough]
        for shift in _spread(SAMPLES - 1):
            total = total + seen_light(studio, lens, pixels[rough] + shift, size_px)
        light[rough] = total / SAMPLES
    return _bytes(light, size_px)


def take_blurred(
    studio: Studio, lens: Lens, size_px: tuple[int, int], samples: int = APERTURE_SAMPLES
) -> NDArray[np.uint8]:
    """The picture with the depth of field of the lens at its aperture.

    A thin lens: rays of one pixel start all over the opening, f / N wide, and meet where in air
    the focus lies; each is then bent by pane and water for itself.
    """
    return _bytes(exposed(studio, lens, size_px, samples), size_px)


def exposed(studio: Studio, lens: Lens, size_px: tuple[int, int], samples: int | None = None) -> Floats:
    """Linear light (height * width, 3), row by row: through the middle of the lens, or by samples of its opening."""
    pixels = _middles(studio, lens, size_px)
    if samples is None:
        return seen_light(studio, lens, pixels, size_px)
    light = np.zeros((len(pixels), 3))
    radius = lens.focal_m / lens.aperture / 2.0
    for shift, (one, other) in zip(_spread(samples), _disc(samples), strict=True):
        opening = (lens.axes[0] * one + lens.axes[1] * other) * radius
        light += seen_light(studio, lens, pixels + shift, size_px, opening)
    return light / samples


def _middles(studio: Studio, lens: Lens, size_px: tuple[int, int]) -> Floats:
    require_outside(studio.scene, lens.position_m, tank_of(studio.scene, studio.flooded))
    u, v = np.meshgrid(np.arange(size_px[0]) + 0.5, np.arange(size_px[1]) + 0.5)
    return np.stack([u.ravel(), v.ravel()], axis=1)


def _bytes(light: Floats, size_px: tuple[int, int]) -> NDArray[np.uint8]:
    # half a step of noise, always the same, so that smooth gradients show no bands
    noise = np.random.default_rng(0).random((len(light), 1))
    return np.asarray(developed(light) * 254.99 + noise, dtype=np.uint8).reshape(size_px[1], size_px[0], 3)


def seen_light(
    studio: Studio, lens: Lens, pixels: Floats, size_px: tuple[int, int], opening_m: Floats | None = None
) -> Floats:
    """Linear light (n, 3) that comes in at pixels (n, 2), through a point (3,) of the lens off its middle."""
    light = np.empty((len(pixels), 3))

    def part(one: slice) -> None:
        ways = lens.directions(pixels[one], size_px)
        eyes = lens.position_m[None]
        if opening_m is not None:
            sharp = eyes + ways * (lens.focus_m / (ways @ lens.axes[2]))[:, None]
            eyes = eyes + opening_m
            ways = unit(sharp - eyes)
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
    basin = studio.room.basin
    return water_line(through_pane(light, ends.entry_m, basin), ends.entry_m, basin.level_m)


def _spread(count: int) -> Floats:
    """Places (count, 2) spread evenly over a pixel about its middle: a two-dimensional golden-ratio sequence."""
    return np.asarray((0.5 + np.outer(np.arange(1, count + 1), [1 / PLASTIC, 1 / PLASTIC**2])) % 1.0 - 0.5)


def _disc(count: int) -> Floats:
    """Places (count, 2) spread evenly over the unit disc: a sunflower's spiral, taken in an order that jumps about."""
    number = np.arange(count)
    radius, turn = np.sqrt((number + 0.5) / count), number * 2.399963  # golden angle
    return np.stack([radius * np.cos(turn), radius * np.sin(turn)], axis=1)
