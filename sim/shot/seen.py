"""What every pixel shows: which piece, seen directly or in a mirror, and which part of the tank lies behind.

One ray per pixel, through its middle. Light passes what lets it pass and is mirrored where nothing passes:
a wet side pane or the water's surface from below. A faint reflection in a dry pane hides nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.pieces.placing import PlacedPiece, place_pieces
from sim.scene import Scene
from sim.shot.codes import NO_WALL, OUTSIDE, SOIL, SOLID
from sim.shot.lens import Lens, lens_of
from sim.shot.refraction import tank_of
from sim.shot.sighting import require_outside
from sim.shot.stage import Stage, room_of, set_stage
from sim.shot.trace import in_parts, trace, workers

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

NOTHING = -1


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """What the pixels of a picture show; all arrays (height, width, ...).

    Pieces are numbered as in the scene; the floor comes after them; -1: neither.
    """

    floor: int  # number of the floor
    shown: Ints  # piece or floor, mirrors included
    mirrored: NDArray[np.bool_]  # whether it is seen in a mirror
    direct: Ints  # piece or floor met before any mirror
    end: NDArray[np.int8]  # what was met first, of `sim.shot.codes`; GOES_ON: a mirror
    wall: NDArray[np.int8]  # pane met first, NO_WALL where something stands before it
    point_m: Floats  # (..., 3) where that is
    inside: NDArray[np.bool_]  # whether the pixel looks into the tank


def piece_ids(
    scene: Scene,
    flooded: bool,
    size_px: tuple[int, int] | None = None,
    pieces: Sequence[PlacedPiece] | None = None,
    lens: Lens | None = None,
) -> Ints:
    """Which piece each pixel of the shot shows, directly or in a mirror.

    Parameters
    ----------
    flooded : bool
        Filled to the scene's water level, or dry.
    size_px : (width, height), default 1920 wide

    Returns
    -------
    ids : (height, width)
        Number of the piece in the scene, -1 where there is none.

    Raises
    ------
    SceneError
        When the camera stands inside, behind or beside the tank.
    """
    placed = list(pieces) if pieces is not None else place_pieces(scene)
    seen = look(scene, set_stage(scene, placed, lit=False), lens or lens_of(scene), flooded, size_px)
    return np.where(seen.shown == seen.floor, NOTHING, seen.shown).astype(np.int32)


def look(
    scene: Scene,
    stage: Stage,
    lens: Lens,
    flooded: bool,
    size_px: tuple[int, int] | None = None,
    with_pieces: bool = True,
) -> Seen:
    """Look at every pixel of a stage's room, or of the same room without its pieces."""
    require_outside(scene, lens.position_m, tank_of(scene, flooded))
    width, height = size_px or lens.size_px()
    room = room_of(scene, stage, flooded, with_pieces)
    count = width * height
    owner = np.append(stage.owner if with_pieces else stage.owner[stage.owner == stage.floor_owner], NOTHING)
    owner = owner.astype(np.int32)
    shown, direct = np.full(count, NOTHING, np.int32), np.full(count, NOTHING, np.int32)
    mirrored, inside = np.zeros(count, np.bool_), np.zeros(count, np.bool_)
    end, wall = np.full(count, OUTSIDE, np.int8), np.full(count, NO_WALL, np.int8)
    point = np.full((count, 3), np.nan)

    def part(one: slice) -> None:
        number = np.arange(one.start, one.stop)
        pixels = np.stack([number % width + 0.5, number // width + 0.5], axis=1)
        ways = lens.directions(pixels, (width, height))
        seeing = np.flatnonzero(~np.isnan(ways[:, 0]))
        ends = trace(room, lens.position_m[None], ways[seeing], split=False)
        at = number[seeing]
        shown[at[ends.ray]], mirrored[at[ends.ray]] = owner[ends.face], ends.mirrored
        direct[at], end[at], wall[at] = owner[ends.first.face], ends.first.end, ends.first.wall
        point[at] = ends.first.point_m
        inside[at] = ~np.isnan(ends.entry_m[:, 0]) | (ends.first.end == SOIL) | (ends.first.end == SOLID)

    with workers() as pool:
        list(pool.map(part, in_parts(count)))
    shape = (height, width)
    return Seen(
        floor=stage.floor_owner,
        shown=shown.reshape(shape),
        mirrored=(mirrored & (shown >= 0)).reshape(shape),
        direct=direct.reshape(shape),
        end=end.reshape(shape),
        wall=wall.reshape(shape),
        point_m=point.reshape(*shape, 3),
        inside=inside.reshape(shape),
    )
