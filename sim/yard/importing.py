"""Scans and pictures that come in by upload: what is taken, where it goes, and the report of it.

A name that comes with an upload is only ever a word: files are written under names of our own making.
"""

from __future__ import annotations

import io
import tempfile
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PIL import Image, UnidentifiedImageError

from sim.errors import BedjointError, MeshError
from sim.files import write_atomically
from sim.pieces.importing import ImportedPiece, ImportOptions, import_piece, piece_id
from sim.pieces.saving import save_piece
from sim.scene import set_key
from sim.units import MM_PER_M
from sim.yard.protocol import Imported
from sim.yard.showing import triple
from sim.yard.words import free_name

if TYPE_CHECKING:
    from sim.yard.session import Session

KINDS = (".stl", ".ply", ".obj", ".glb", ".3mf")
PICTURES = {"PNG": ".png", "JPEG": ".jpg"}
LARGEST_MB = 200
LARGEST_PICTURE_MB = 30
MOST_PIXELS = 80_000_000


def kind_of(name: str) -> str:
    """The kind of mesh file that a name promises.

    Raises
    ------
    MeshError
        When it is none that is taken.
    """
    ending = Path(name.replace("\\", "/").rsplit("/", 1)[-1]).suffix.lower()
    if ending not in KINDS:
        raise MeshError(f"{spoken(name)}: no kind of scan that can be read. Give one of {', '.join(KINDS)}.")
    return ending


def spoken(name: str) -> str:
    """A name from outside as it is shown: its last part, printable, not too long."""
    last = name.replace("\\", "/").rsplit("/", 1)[-1]
    return "".join(sign for sign in last if sign.isprintable())[:80] or "the file"


def stones_folder(session: Session) -> Path:
    """Where uploaded stones go: a folder beside the scene."""
    return session.keeping.file.with_name(f"{session.keeping.file.stem}_stones")


def import_scan(session: Session, name: str, data: Path, options: ImportOptions, place: bool) -> Imported:
    """Make a piece of an uploaded scan, save it beside the scene, and lay it on the shelf or into the tank.

    Parameters
    ----------
    name : as it came with the upload: a word, never a path
    data : the file that was received, under a name of ours

    Raises
    ------
    MeshError, UnitsQuestion, MaterialError
        When it cannot become a piece; nothing has changed then.
    """
    try:
        made = import_piece(data, options)
    except BedjointError as error:
        raise _renamed(error, data, name) from None
    if made.mass_kg is None:
        raise MeshError(f"{spoken(name)}: nothing says how heavy it is. Give its rock, its wood or its mass.")
    with session.lock:
        folder = stones_folder(session)
        there = {path.stem for path in folder.glob("*.ply")} if folder.is_dir() else set()
        stem = free_name(piece_id(Path(spoken(name)).stem + ".x"), there)
        body, _ = save_piece(replace(made, id=stem, file=spoken(name)), folder)
        keys = _keys(f"{folder.name}/{body.name}", options)
        item = session.add_to_shelf(stem, keys)
        piece = session.take(item) if place else None
        shown = next(one for one in session.state().shelf if item == one.item or piece in one.used_by)
    return _report(item, piece, shown.mesh, spoken(name), made)


def options_of(query: Mapping[str, str]) -> ImportOptions:
    """What the user knows about a scan, from the query of an upload."""

    def number(key: str) -> float | None:
        text = query.get(key, "").strip()
        try:
            return float(text) if text else None
        except ValueError:
            raise MeshError(f"{key}: {text[:20]!r} is no number.") from None

    def word(key: str) -> str | None:
        return query.get(key, "").strip()[:64] or None

    return ImportOptions(
        units=word("units"),
        scale=number("scale"),
        longest_mm=number("longest_mm"),
        rock=word("rock"),
        wood=word("wood"),
        mass_kg=number("mass_kg"),
        mass_in_water_kg=number("mass_in_water_kg"),
    )


def set_concept(session: Session, data: bytes) -> int:
    """Lay a picture over the shot: it is written anew beside the scene, and named in it.

    Raises
    ------
    BedjointError
        When it is no PNG or JPEG, or a very large one.
    """
    try:
        with Image.open(io.BytesIO(data), formats=list(PICTURES)) as image:
            if image.width * image.height > MOST_PIXELS:
                raise BedjointError("The picture has too many pixels. Make it smaller.")
            image.load()
            plain = image.convert("RGB")
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError, Image.DecompressionBombError):
        raise BedjointError("This is no PNG or JPEG picture that can be read.") from None
    stream = io.BytesIO()
    plain.save(stream, "PNG")
    with session.lock:
        target = session.keeping.file.with_name(f"{session.keeping.file.stem}_concept.png")
        write_atomically(target, stream.getvalue())
        return session.edit("concept picture", lambda document: set_key(document, "photo", "concept", target.name))


def receiving_folder() -> tempfile.TemporaryDirectory[str]:
    """A folder by itself for one upload: what a scan names beside itself is not found there."""
    return tempfile.TemporaryDirectory(prefix="bedjoint-upload-")


def _renamed(error: BedjointError, data: Path, name: str) -> BedjointError:
    """The same complaint about the file as the user knows it."""
    words = str(error).replace(str(data), spoken(name)).replace(data.name, spoken(name))
    error.args = (words,)
    return error


def _keys(mesh: str, options: ImportOptions) -> dict[str, Any]:
    keys: dict[str, Any] = {"mesh": mesh}
    for key in ("rock", "wood", "mass_kg", "mass_in_water_kg"):
        if getattr(options, key) is not None:
            keys[key] = getattr(options, key)
    return keys


def _report(item: str, piece: str | None, mesh: str, file: str, made: ImportedPiece) -> Imported:
    return Imported(
        item=item,
        piece=piece,
        file=file,
        mesh=mesh,
        size_mm=triple(made.body.vertices_m.max(axis=0) * MM_PER_M - made.body.vertices_m.min(axis=0) * MM_PER_M),
        longest_mm=made.longest_mm,
        volume_ml=made.volume_ml,
        mass_kg=made.mass_kg,
        triangles=len(made.body.faces),
        units=made.units,
        units_because=made.units_because,
        repaired=made.repaired,
        volume_moved_percent=made.volume_moved_percent,
        warnings=made.warnings,
    )
