"""Where a point of the tank is in the picture, and what hides it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

from sim.base.ground import layer_depth_m
from sim.pieces.placing import PlacedPiece
from sim.scene import Scene
from sim.shot.lens import Lens
from sim.shot.refraction import Tank
from sim.shot.sighting import SIDE, SURFACE, WAYS, Sights, require_outside, sights

Floats = NDArray[np.float64]

TOUCHING_M = 2e-5  # a point on a piece's own surface is not hidden by it
STEP_M = 1e-3  # along a ray, between looks at the ground
GROUND, WATER, FILM, FRONT, FRAME = "ground", "water surface", "film", "front opening", "frame"


@dataclass(frozen=True, slots=True)
class Place:
    """A point in the picture.

    Attributes
    ----------
    px : (float, float) or None
        Right and down from the upper left corner; None: behind the camera.
    visible : bool
    hidden_by : str or None
        A piece's id, "ground", "water surface" (which reflects totally from below), "film" (on a side pane), "front
        opening" (the light would pass beside the pane), "frame" (outside the picture); None when visible.
    way : str
        "pane", "surface", "top" or "side".
    in_frame : bool
    """

    px: tuple[float, float] | None
    visible: bool
    hidden_by: str | None
    way: str
    in_frame: bool


def where(
    scene: Scene,
    pieces: Sequence[PlacedPiece],
    points_m: Floats,
    lens: Lens,
    tank: Tank,
    size_px: tuple[int, int] | None = None,
) -> list[Place]:
    """Where each of some points is in the picture, whether it shows, and what hides it.

    Parameters
    ----------
    pieces : those of the scene, placed
    points_m : (n, 3) inside the tank
    size_px : width and height of the picture

    Raises
    ------
    SceneError
        When the camera stands neither in front of the front pane nor above the rim.
    """
    require_outside(scene, lens.position_m, tank)
    size = size_px or lens.size_px()
    found = sights(points_m, lens.position_m, tank)
    pixels = lens.pixels(found.directions, size)
    with np.errstate(invalid="ignore"):
        framed = np.all((pixels >= 0.0) & (pixels <= np.array(size)), axis=1).tolist()
    blocker = _first_pieces(pieces, found, points_m)
    places = []
    for number, point in enumerate(points_m):
        hidden = _hidden_by(scene, tank, found, number, point, blocker[number])
        if hidden is None and not framed[number]:
            hidden = FRAME
        u, v = (float(value) for value in pixels[number])
        places.append(
            Place(
                px=None if np.isnan(u) else (u, v),
                visible=hidden is None,
                hidden_by=hidden,
                way=WAYS[int(found.way[number])],
                in_frame=framed[number],
            )
        )
    return places


def _hidden_by(
    scene: Scene, tank: Tank, found: Sights, number: int, point_m: Floats, blocker: str | None
) -> str | None:
    if not found.open[number]:
        entry = found.entry_m[number]
        in_pane = 0.0 <= entry[0] <= tank.inner_m[0] and 0.0 <= entry[2] <= tank.inner_m[2]
        return WATER if in_pane else FRONT
    if found.way[number] == SIDE and ("left" if found.entry_m[number][0] <= 0.0 else "right") in scene.tank.film:
        return FILM
    if blocker is not None:
        return blocker
    for start, end in _legs(found, number, point_m):
        if _under_ground(scene, start, end):
            return GROUND
    return None


def _legs(found: Sights, number: int, point_m: Floats) -> list[tuple[Floats, Floats]]:
    """The straight parts of a ray inside the tank, from the camera on."""
    entry, bend = found.entry_m[number], found.bend_m[number]
    return [(entry, bend), (bend, point_m)] if found.way[number] == SURFACE else [(entry, point_m)]


def _first_pieces(pieces: Sequence[PlacedPiece], found: Sights, points_m: Floats) -> list[str | None]:
    """The first piece (n,) on the way from the camera to each point."""
    first: list[str | None] = [None] * len(points_m)
    if not pieces:
        return first
    triangles, owners = _joined(pieces)
    for number, point in enumerate(points_m):
        if not found.open[number]:
            continue
        for start, end in _legs(found, number, point):
            along = end - start
            length = float(np.linalg.norm(along))
            if first[number] is not None or length <= TOUCHING_M:
                continue
            hit = triangles.run(start[None].astype(np.float32), (along / length)[None].astype(np.float32), output=True)
            if hit["geomID"][0] != -1 and float(hit["tfar"][0]) < length - TOUCHING_M:
                first[number] = pieces[int(owners[hit["primID"][0]])].id
    return first


def _joined(pieces: Sequence[PlacedPiece]) -> tuple[EmbreeScene, NDArray[np.intp]]:
    scene, corners = EmbreeScene(), [piece.vertices_m()[piece.body.faces] for piece in pieces]
    TriangleMesh(scene, np.concatenate(corners).astype(np.float32))
    return scene, np.repeat(np.arange(len(pieces)), [len(part) for part in corners])


def _under_ground(scene: Scene, start_m: Floats, end_m: Floats) -> bool:
    if not scene.ground.layers:
        return False
    count = max(2, int(np.ceil(np.linalg.norm(end_m - start_m) / STEP_M)) + 1)
    steps = start_m + np.linspace(0.0, 1.0, count)[:, None] * (end_m - start_m)
    top = sum((layer_depth_m(layer, scene, steps[:, :2]) for layer in scene.ground.layers), np.zeros(count))
    return bool((steps[:, 2] < top - TOUCHING_M).any())
