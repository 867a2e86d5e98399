"""The pictures and the account of `bedjoint shot`."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from sim.scene import Scene
    from sim.shot.account import Account
    from sim.shot.lens import Lens
    from sim.shot.stage import Stage

MOST_PIXELS = 24_000_000  # some 100 bytes each while the picture is made
ACCOUNT_WIDTH_PX = 1200  # fine enough for shares within some thousandths


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is asked of the pictures."""

    output: Path | None
    lenses_mm: tuple[float, ...]
    fillings: tuple[bool, ...]  # flooded or not
    size_px: tuple[int, int] | None
    fill: bool
    guides: tuple[str, ...]
    preview: bool
    blurred: bool
    report: bool
    as_json: bool


def shoot(scene: Scene, wanted: Wanted) -> None:
    """Draw the pictures into one file, a contact sheet if there are several, and print the account if asked."""
    from sim.cli.progress import stages
    from sim.files import write_atomically
    from sim.pieces.placing import place_pieces
    from sim.report.shown import account_text, accounts_json
    from sim.shot.account import account
    from sim.shot.contact_sheet import contact_sheet
    from sim.shot.lens import lens_of
    from sim.shot.refraction import tank_of
    from sim.shot.sighting import require_outside
    from sim.shot.stage import set_stage

    if wanted.output is not None:
        _kind(wanted.output)
    lenses = [lens_of(scene, focal, wanted.fill) for focal in wanted.lenses_mm or (None,)]
    require_outside(scene, lenses[0].position_m, tank_of(scene, False))
    pictures: list[tuple[str, NDArray[np.uint8]]] = []
    accounts: list[Account] = []
    with stages() as tell:
        tell("Lighting the stones", 0, 1)
        stage = set_stage(scene, place_pieces(scene), lit=wanted.output is not None)
        count = len(lenses) * len(wanted.fillings)
        for lens in lenses:
            for flooded in wanted.fillings if wanted.output is not None else ():
                tell("Taking the shot (compiles on first use)", len(pictures), count)
                label = f"{lens.focal_m * 1000:g} mm, {'flooded' if flooded else 'dry'}"
                pictures.append((label, _picture(scene, stage, lens, flooded, wanted)))
            if wanted.report:
                tell("Looking at what shows", len(accounts), len(lenses))
                accounts.append(account(scene, stage, lens, wanted.fillings, lens.size_px(ACCOUNT_WIDTH_PX)))
    if wanted.output is not None:
        shown = pictures[0][1] if len(pictures) == 1 else contact_sheet(pictures, len(wanted.fillings))
        write_atomically(wanted.output, encoded(shown, wanted.output))
    if wanted.report:
        click.echo(accounts_json(accounts) if wanted.as_json else "\n\n".join(account_text(one) for one in accounts))
    if wanted.output is not None:
        click.echo(f"Written: {wanted.output}", err=wanted.as_json)


def _picture(scene: Scene, stage: Stage, lens: Lens, flooded: bool, wanted: Wanted) -> NDArray[np.uint8]:
    from sim.shot.composition import composition
    from sim.shot.guides import with_guides
    from sim.shot.seen import look
    from sim.shot.shot import studio_of, take, take_blurred
    from sim.units import MM_PER_M

    size_px = wanted.size_px or lens.size_px(640 if wanted.preview else 1920)
    if size_px[0] * size_px[1] > MOST_PIXELS:
        raise click.UsageError(f"--size: at most {MOST_PIXELS // 1_000_000} million pixels, as 6000x4000.")
    studio = studio_of(scene, stage, flooded)
    if wanted.blurred and not wanted.preview:
        picture = take_blurred(studio, lens, size_px)
    else:
        picture = take(studio, lens, size_px, fine=not wanted.preview)
    if not wanted.guides:
        return picture
    shape = composition(look(scene, stage, lens, flooded, size_px), scene.tank.inner_mm[1] / MM_PER_M)
    return with_guides(picture, wanted.guides, shape)


def _kind(output: Path) -> str:
    from sim.errors import OutputError

    kind = {".png": "PNG", ".jpg": "JPEG", ".jpeg": "JPEG", ".webp": "WEBP"}.get(output.suffix.lower())
    if kind is None:
        raise OutputError(f'{output}: "{output.suffix}" is no kind of picture. Name the file .png, .jpg or .webp.')
    return kind


def encoded(picture: NDArray[np.uint8], output: Path) -> bytes:
    """The picture as a file of the kind that the name says."""
    import io

    from PIL import Image

    stream = io.BytesIO()
    Image.fromarray(picture).save(stream, _kind(output), quality=93)
    return stream.getvalue()
