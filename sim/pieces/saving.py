"""Save imported pieces all together or not at all, and load bodies again."""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from sim.errors import BedjointError, MeshError, OutputError
from sim.pieces.body import Body, Colours, Faces, Floats
from sim.pieces.importing import ImportedPiece
from sim.pieces.mass import make_body
from sim.pieces.reading import read_mesh
from sim.pieces.repair import repair
from sim.units import METRES_PER_UNIT, MM_PER_M


def save_piece(piece: ImportedPiece, folder: str | os.PathLike[str]) -> tuple[Path, Path]:
    """Write a piece's body and its light display mesh; see `save_pieces`."""
    body, display = save_pieces([piece], folder)
    return body, display


def save_pieces(pieces: Sequence[ImportedPiece], folder: str | os.PathLike[str]) -> list[Path]:
    """Write ``<id>.ply`` and ``<id>.display.ply`` of every piece, in mm, all or none.

    Raises
    ------
    MeshError
        When two pieces have one name, or a piece would overwrite the scan that it came from.
    OutputError
        When the folder cannot be written.
    """
    target = Path(folder)
    _check_names(pieces, target)
    contents: dict[Path, bytes] = {}
    for piece in pieces:
        body, display = piece.body, piece.display
        contents[target / f"{piece.id}.ply"] = ply_bytes(body.vertices_m, body.faces, body.colours)
        contents[target / f"{piece.id}.display.ply"] = ply_bytes(display.vertices_m, display.faces, display.colours)
    write_together(contents)
    return list(contents)


def _check_names(pieces: Sequence[ImportedPiece], folder: Path) -> None:
    files: dict[str, str] = {}
    for piece in pieces:
        # ids that differ in case only are one file on some systems
        twin = files.get(piece.id.lower())
        if twin is not None:
            raise MeshError(f"{twin} and {piece.file}: would both be saved as {piece.id}.ply. Rename one of the files.")
        files[piece.id.lower()] = piece.file
        for name in (f"{piece.id}.ply", f"{piece.id}.display.ply"):
            with contextlib.suppress(OSError):
                if (folder / name).samefile(piece.file):
                    raise MeshError(
                        f"{piece.file}: would be overwritten by the piece made of it. Choose another folder with -o."
                    )


def ply_bytes(vertices_m: Floats, faces: Faces, colours: Colours | None) -> bytes:
    """A binary PLY file in mm; double precision, so that what was closed stays closed.

    References
    ----------
    Turk, G. (1994). The PLY Polygon File Format.
    """
    columns: list[tuple[str, str] | tuple[str, str, tuple[int]]] = [("xyz", "<f8", (3,))]
    properties = [f"property double {axis}" for axis in "xyz"]
    if colours is not None:
        columns.append(("rgb", "u1", (3,)))
        properties += [f"property uchar {channel}" for channel in ("red", "green", "blue")]
    rows = np.zeros(len(vertices_m), dtype=columns)
    rows["xyz"] = vertices_m * MM_PER_M
    if colours is not None:
        rows["rgb"] = colours
    triangles = np.zeros(len(faces), dtype=[("count", "u1"), ("corners", "<i4", (3,))])
    triangles["count"], triangles["corners"] = 3, faces
    header = [
        "ply",
        "format binary_little_endian 1.0",
        "comment millimetres; the origin is the centre of volume",
        f"element vertex {len(rows)}",
        *properties,
        f"element face {len(triangles)}",
        "property list uchar int vertex_indices",
        "end_header",
    ]
    return "\n".join(header).encode("ascii") + b"\n" + rows.tobytes() + triangles.tobytes()


def write_together(contents: dict[Path, bytes]) -> None:
    """Write several files into one folder, all or none.

    They are written in full to a staging folder beside them first, so that a full disk is met
    before anything is replaced; what was replaced is put back when a later file cannot be.

    Raises
    ------
    OutputError
        When the folder cannot be written.
    """
    if not contents:
        return
    folder = next(iter(contents)).parent
    made = _missing_folders(folder)
    staging, done = "", []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        staging = tempfile.mkdtemp(prefix=".bedjoint-", dir=folder)
        for path, data in contents.items():
            with (Path(staging) / path.name).open("wb") as stream:
                stream.write(data)
                stream.flush()
                os.fsync(stream.fileno())
        for path in contents:
            if path.is_dir():
                raise IsADirectoryError(21, f"{path.name} is a folder there")
            kept = Path(staging) / f"{path.name}.before"
            if path.exists():
                path.replace(kept)
            done.append((path, kept))
            (Path(staging) / path.name).replace(path)
    except OSError as error:
        for path, kept in reversed(done):
            with contextlib.suppress(OSError):
                path.unlink(missing_ok=True)
                if kept.exists():
                    kept.replace(path)
        reason = error.strerror or str(error)
        _clear(staging, made)
        raise OutputError(
            f"{folder}: cannot be written ({reason}). Choose another folder with -o, or free space there."
        ) from error
    _clear(staging, [])


def _missing_folders(folder: Path) -> list[Path]:
    """Folders that writing would make, the innermost first."""
    return [place for place in (folder, *folder.parents) if not place.exists()]


def _clear(staging: str, folders: list[Path]) -> None:
    if staging:
        shutil.rmtree(staging, ignore_errors=True)
    for folder in folders:
        with contextlib.suppress(OSError):
            folder.rmdir()


def load_body(path: str | os.PathLike[str], units: str = "mm", scale: float = 1.0) -> Body:
    """Read a closed mesh whose units are known.

    Split vertices are welded, faces turned outward and the largest body kept; an open mesh is
    refused, since capping is to be seen and agreed to when a piece is imported.

    Parameters
    ----------
    path : path
        An STL, PLY, OBJ, GLB, GLTF or 3MF file.
    units : str
        ``mm``, ``cm``, ``m`` or ``in``.
    scale : float
        Factor on all sizes.

    Raises
    ------
    MeshError
        When the file cannot be read, or its mesh is not closed.
    """
    if units not in METRES_PER_UNIT:
        raise MeshError(f"{path}: units {units!r} are unknown. Allowed: {', '.join(METRES_PER_UNIT)}.")
    if not (np.isfinite(scale) and scale > 0.0):
        raise MeshError(f"{path}: scale {scale} is no factor. Give a number above 0.")
    repaired = repair(read_mesh(path), caps=False)
    try:
        return make_body(repaired.vertices * (METRES_PER_UNIT[units] * scale), repaired.faces, repaired.colours)
    except BedjointError as error:
        raise MeshError(f"{path}: {error}") from error
