"""Pictures of a sheet: the shot, a thumbnail of each piece, the stack before and after each step.

Each stack of the steps is drawn once, in its own colours: it is the picture before the next step, and with the new
piece marked the picture after its own. Marks are outlines as well as colours, so that they survive a black-and-white
printer.
"""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy.ndimage import binary_dilation

from sim.errors import SceneError
from sim.pieces.body import Body
from sim.pieces.placing import PlacedPiece
from sim.pieces.reducing import DISPLAY_TRIANGLES, reduce_for_display
from sim.report.picture import MOVES_RGB
from sim.report.sheet.blocks import Photo
from sim.report.sheet.gathering import MANY, Bench, Tell, pieces_before
from sim.shot.camera import View, overview
from sim.shot.drawing import FLOOR_RGB, TABLE_RGB, box_shape, tank_shapes
from sim.shot.lens import lens_of
from sim.shot.raycast import Picture, Shape, render
from sim.shot.scene_picture import arrow_over, draw_scene, piece_shape
from sim.shot.shot import studio_of, take
from sim.shot.stage import set_stage
from sim.units import MM_PER_M

Floats = NDArray[np.float64]
Pixels = NDArray[np.uint8]

SHOT_PX = 1400
STEP_PX, SMALL_PX = (480, 320), (270, 180)
THUMB_PX = (240, 180)
MODULE_PX = (660, 440)
NEW_RGB = (92, 132, 172)
TINT = 0.45
ROOM_MM = 30.0
TABLE = 4.0  # times the size of the tank
QUALITY = 88


@dataclass(frozen=True, slots=True, eq=False)
class Pictures:
    """All pictures of a sheet; they are the same on any paper."""

    shot: Photo
    thumbnails: dict[str, Photo]  # by piece
    steps: list[tuple[Photo, Photo]]  # before and after
    modules: dict[tuple[str, ...], Photo]  # by the pieces of a module


def draw_pictures(bench: Bench, tell: Tell) -> Pictures:
    """Draw everything.

    Parameters
    ----------
    tell : called with what is being done, steps done and steps in all
    """
    groups = [check.answer.pieces for check in bench.modules] + [one.check.answer.pieces for one in bench.proposals]
    return Pictures(
        shot=shot(bench, tell),
        thumbnails=thumbnails(bench, tell),
        steps=step_photos(bench, tell),
        modules={group: module_photo(bench, group) for group in groups},
    )


def photo(rgb: Pixels, caption: str = "") -> Photo:
    """A picture (height, width, 3) as JPEG."""
    stream = io.BytesIO()
    Image.fromarray(rgb).save(stream, "JPEG", quality=QUALITY)
    return Photo(stream.getvalue(), (rgb.shape[1], rgb.shape[0]), caption)


def shot(bench: Bench, tell: Tell) -> Photo:
    """What the camera sees of the full tank; an overview where the camera cannot stand where the scene has it."""
    tell("Taking the shot (compiles on first use)", 0, 1)
    scene, flooded = bench.scene, bench.scene.water_level_mm > 0.0
    try:
        lens = lens_of(scene, None, False)
        studio = studio_of(scene, set_stage(scene, bench.pieces), flooded)
        rgb = take(studio, lens, lens.size_px(SHOT_PX))
    except SceneError as problem:
        why = problem.faults[0].problem if problem.faults else str(problem)
        return photo(draw_scene(scene, bench.pieces, (1200, 800)).rgb, f"Overview; no shot: {why}.")
    filled = f"flooded to {bench.measures.length(scene.water_level_mm)}" if flooded else "dry"
    x, y, z = (float(value) * MM_PER_M for value in lens.position_m)
    where = (
        f"{bench.measures.length(-y)} in front of the pane, x {bench.measures.length(x)}, z {bench.measures.length(z)}"
    )
    return photo(rgb, f"The shot, {filled}: lens {lens.focal_m * MM_PER_M:g} mm, {where}.")


def thumbnails(bench: Bench, tell: Tell) -> dict[str, Photo]:
    """Every piece by itself, turned as it will lie, seen from the front, a little left and above."""
    found = {}
    for k, piece in enumerate(light(bench.pieces)):
        tell("Drawing the pieces", k, len(bench.pieces))
        vertices = piece.vertices_m()
        view = _closer(overview(vertices.min(axis=0), vertices.max(axis=0)))
        found[piece.id] = photo(_on_white(render([piece_shape(piece)], view, THUMB_PX)))
    return found


def _closer(view: View) -> View:
    return replace(view, focal_m=view.focal_m * 1.25)


def _on_white(picture: Picture) -> Pixels:
    """The same on bare paper."""
    rgb = picture.rgb.copy()
    rgb[picture.shape < 0] = 255
    return rgb


def step_photos(bench: Bench, tell: Tell) -> list[tuple[Photo, Photo]]:
    """Of every step the stack before it and after it."""
    steps = bench.order.steps
    found: list[tuple[Photo, Photo]] = []
    if not steps:
        return found
    display = {piece.id: piece for piece in light(bench.pieces)}
    look = _Look.at(bench)
    before = look.draw([display[piece.id] for piece in pieces_before(bench, 0)])
    for k, step in enumerate(steps):
        tell("Drawing the steps", k, len(steps))
        there = [display[piece.id] for piece in pieces_before(bench, k + 1)]
        plain = look.draw(there)
        after = plain
        if step.holds:
            after = look.draw(there, {hold.piece: np.array(hold.force_n) for hold in step.holds})
        marked = _marked(after, [n for n, piece in enumerate(there) if piece.id in step.pieces], NEW_RGB)
        held = [n for n, piece in enumerate(there) if piece.id in step.holding]
        found.append(
            (photo(before.rgb, "before"), photo(_marked(replace(after, rgb=marked), held, MOVES_RGB), "after"))
        )
        before = plain
    return found


def module_photo(bench: Bench, names: Sequence[str]) -> Photo:
    """The pieces of a module, in their places, without the rest."""
    pieces = light([piece for piece in bench.pieces if piece.id in names])
    vertices = np.concatenate([piece.vertices_m() for piece in pieces])
    view = _closer(overview(vertices.min(axis=0), vertices.max(axis=0)))
    return photo(_on_white(render([piece_shape(piece) for piece in pieces], view, MODULE_PX)))


@dataclass(frozen=True, slots=True, eq=False)
class _Look:
    """The tank without its pieces, and a view of them all, the same for every step."""

    view: View
    tank: list[Shape]  # its edges and a plain floor: a fine one takes longer than the stones
    size_px: tuple[int, int]

    @classmethod
    def at(cls, bench: Bench) -> _Look:
        scene, places = bench.scene, bench.places.values()
        low = np.min([place.low_mm for place in places], axis=0) - ROOM_MM
        high = np.max([place.high_mm for place in places], axis=0) + ROOM_MM
        inner_m, base_m = np.array(scene.tank.inner_mm) / MM_PER_M, scene.tank.base_mm / MM_PER_M
        edges = [one for one in tank_shapes(inner_m, base_m, scene.water_level_mm / MM_PER_M) if one.line]
        far = TABLE * inner_m
        floor = box_shape(
            np.array([0.0, 0.0, -base_m / 2.0]), inner_m * [1.0, 1.0, 0.0] - [0.0, 0.0, 1.0e-4], FLOOR_RGB
        )
        table = box_shape(np.array([-far[0], -far[1], -base_m - 0.01]), far * [1, 1, 0] - [0, 0, base_m], TABLE_RGB)
        small = len(bench.order.steps) > MANY
        return cls(overview(low / MM_PER_M, high / MM_PER_M), [*edges, floor, table], SMALL_PX if small else STEP_PX)

    def draw(self, pieces: list[PlacedPiece], forces: Mapping[str, Floats] | None = None) -> Picture:
        """The pieces in the tank, with arrows where a force is given."""
        shapes = [piece_shape(piece) for piece in pieces]
        for piece, shape in zip(pieces, list(shapes), strict=True):
            force = (forces or {}).get(piece.id)
            if force is not None and np.linalg.norm(force) > 0.0:
                shapes.append(arrow_over(piece, shape, force))
        return render([*shapes, *self.tank], self.view, self.size_px)


def _marked(picture: Picture, shapes: list[int], rgb: tuple[int, int, int]) -> Pixels:
    """Shapes tinted and outlined."""
    shown = picture.rgb.copy()
    inside = np.isin(picture.shape, shapes)
    if not inside.any():
        return shown
    shown[inside] = (shown[inside] * (1.0 - TINT) + np.array(rgb) * TINT).astype(np.uint8)
    shown[binary_dilation(inside, iterations=2) & ~inside] = 0
    return shown


def light(pieces: Sequence[PlacedPiece]) -> list[PlacedPiece]:
    """The same pieces with as many triangles as a small picture shows."""
    made: dict[int, Body] = {}
    found = []
    for piece in pieces:
        body = piece.body
        if len(body.faces) > DISPLAY_TRIANGLES:
            if id(body) not in made:
                reduced = reduce_for_display(body.vertices_m, body.faces, body.colours)
                made[id(body)] = replace(
                    body, vertices_m=reduced.vertices_m, faces=reduced.faces, colours=reduced.colours
                )
            body = made[id(body)]
        found.append(replace(piece, body=body))
    return found
