"""The shot of `bedjoint shot` over a photo or a concept picture."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import click

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from sim.scene import Scene

PREVIEW_PX = 640


@dataclass(frozen=True, slots=True)
class Over:
    """What is asked of the overlay."""

    under: str  # "photo" or "concept" of the scene, or a path
    manner: Literal["blend", "edges", "beside"]
    opacity: float | None  # of the shot
    flooded: bool
    lens_mm: float | None
    fill: bool
    size_px: tuple[int, int] | None
    preview: bool


def lay_shot_over(scene: Scene, wanted: Over, output: Path) -> None:
    """Draw the shot, or only its outlines, over a picture, or both side by side, and write that."""
    from sim.cli.progress import stages
    from sim.files import write_atomically
    from sim.shot.overlay import lay_over, picture_bytes, read_photo

    under, _ = read_photo(picture_under(scene, wanted.under))
    opacity = 1.0 - scene.photo.opacity if wanted.opacity is None else wanted.opacity
    if wanted.opacity is None and wanted.manner == "edges":
        opacity = 1.0
    with stages() as tell:
        tell("Taking the shot (compiles on first use)", 0, 1)
        shot, shapes = _drawn(scene, wanted)
    write_atomically(output, picture_bytes(lay_over(shot, under, opacity, wanted.manner, shapes), output))
    click.echo(f"Written: {output}")


def picture_under(scene: Scene, name: str) -> Path:
    """The picture that "photo", "concept" or a path means."""
    from sim.errors import Fault, SceneError

    if name not in ("photo", "concept"):
        return Path(name)
    key = "matched" if name == "photo" else "concept"
    path = scene.photo.matched if name == "photo" else scene.photo.concept
    if path is None:
        remedy = f"Write it there, {'match the camera first, ' if name == 'photo' else ''}or give the path with --over."
        raise SceneError(str(scene.file), [Fault(f"photo.{key}", "the scene names no such picture", remedy)])
    return scene.folder / path


def _drawn(scene: Scene, wanted: Over) -> tuple[NDArray[np.uint8], NDArray[np.int32] | None]:
    """The shot (height, width, 3), and for outlines which piece each pixel shows; the shot is left black then."""
    import numpy as np

    from sim.pieces.placing import place_pieces
    from sim.shot.lens import lens_of
    from sim.shot.seen import look
    from sim.shot.shot import studio_of, take
    from sim.shot.stage import set_stage

    lens = lens_of(scene, wanted.lens_mm, wanted.fill)
    size_px = wanted.size_px or (lens.size_px(PREVIEW_PX) if wanted.preview else lens.size_px())
    outlines = wanted.manner == "edges"
    stage = set_stage(scene, place_pieces(scene), lit=not outlines)
    if outlines:
        seen = look(scene, stage, lens, wanted.flooded, size_px)
        shapes = np.where(seen.inside, seen.shown, -2).astype(np.int32)
        return np.zeros((size_px[1], size_px[0], 3), np.uint8), shapes
    return take(studio_of(scene, stage, wanted.flooded), lens, size_px, fine=not wanted.preview), None
