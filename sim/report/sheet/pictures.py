"""Pictures of a sheet: the shot, a thumbnail of each piece, the stack before and after each step."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from sim.errors import SceneError
from sim.pieces.placing import PlacedPiece
from sim.report.building import StepPicture, step_pictures
from sim.report.sheet.blocks import Photo
from sim.report.sheet.gathering import MANY, Bench, Tell
from sim.shot.camera import View, overview
from sim.shot.lens import lens_of
from sim.shot.raycast import Picture, render
from sim.shot.scene_picture import draw_scene, light, piece_shape
from sim.shot.shot import studio_of, take
from sim.shot.stage import set_stage
from sim.threads import threads
from sim.units import MM_PER_M

Floats = NDArray[np.float64]
Pixels = NDArray[np.uint8]

SHOT_PX = 1400
STEP_PX, SMALL_PX = (480, 320), (270, 180)
THUMB_PX = (240, 180)
MODULE_PX = (660, 440)
QUALITY = 88


@dataclass(frozen=True, slots=True, eq=False)
class Pictures:
    """All pictures of a sheet; they are the same on any paper."""

    shot: Photo
    thumbnails: dict[str, Photo]  # by piece
    steps: list[tuple[Photo, Photo]]  # before and after
    modules: dict[tuple[str, ...], Photo]  # by the pieces of a module


def draw_pictures(bench: Bench, tell: Tell, drawn: Sequence[StepPicture] | None = None) -> Pictures:
    """Draw everything.

    Parameters
    ----------
    tell : called with what is being done, steps done and steps in all
    drawn : pictures of the steps where they are drawn already
    """
    groups = [check.answer.pieces for check in bench.modules] + [one.check.answer.pieces for one in bench.proposals]
    return Pictures(
        shot=shot(bench, tell),
        thumbnails=thumbnails(bench, tell),
        steps=step_photos(bench, tell, drawn),
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
    found: dict[str, Photo] = {}
    with threads() as pool:
        for piece, drawn in zip(bench.pieces, pool.map(_thumbnail, light(bench.pieces)), strict=True):
            found[piece.id] = drawn
            tell("Drawing the pieces", len(found), len(bench.pieces))
    return found


def _thumbnail(piece: PlacedPiece) -> Photo:
    return _alone([piece], THUMB_PX)


def _alone(pieces: Sequence[PlacedPiece], size_px: tuple[int, int]) -> Photo:
    """Pieces in their places, without the rest."""
    vertices = np.concatenate([piece.vertices_m() for piece in pieces])
    view = _closer(overview(vertices.min(axis=0), vertices.max(axis=0)))
    return photo(_on_white(render([piece_shape(piece) for piece in pieces], view, size_px)))


def _closer(view: View) -> View:
    return replace(view, focal_m=view.focal_m * 1.25)


def _on_white(picture: Picture) -> Pixels:
    """The same on bare paper."""
    rgb = picture.rgb.copy()
    rgb[picture.shape < 0] = 255
    return rgb


def step_photos(bench: Bench, tell: Tell, drawn: Sequence[StepPicture] | None = None) -> list[tuple[Photo, Photo]]:
    """Of every step the stack before it and after it; from pictures that are drawn already where there are any."""
    small = len(bench.order.steps) > MANY
    size_px = SMALL_PX if small else STEP_PX
    if drawn is None:

        def progress(done: int, of: int) -> None:
            tell("Drawing the steps", done, of)

        drawn = step_pictures(bench.scene, bench.pieces, bench.order, progress, size_px)
    return [
        (photo(_of_size(one.before, size_px), "before"), photo(_of_size(one.after, size_px), "after")) for one in drawn
    ]


def _of_size(rgb: Pixels, size_px: tuple[int, int]) -> Pixels:
    """A picture at another size."""
    if (rgb.shape[1], rgb.shape[0]) == size_px:
        return rgb
    return np.asarray(Image.fromarray(rgb).resize(size_px, Image.Resampling.LANCZOS))


def module_photo(bench: Bench, names: Sequence[str]) -> Photo:
    """The pieces of a module, in their places, without the rest."""
    return _alone(light([piece for piece in bench.pieces if piece.id in names]), MODULE_PX)
