"""What a mesh file claims to hold, compared with its length before anything is allocated."""

from __future__ import annotations

import json
import struct
import zipfile
from pathlib import Path

from sim.errors import MeshError

MAX_UNPACKED_BYTES = 4_000_000_000  # of a 3MF archive: ten times a scan of five million triangles
MAX_ACCESSOR_BYTES = 4_000_000_000
STL_HEADER_BYTES, STL_FACET_BYTES = 84, 50
PLY_HEADER_LIMIT = 65_536
PLY_TYPE_BYTES = {
    **dict.fromkeys(("char", "uchar", "int8", "uint8"), 1),
    **dict.fromkeys(("short", "ushort", "int16", "uint16"), 2),
    **dict.fromkeys(("int", "uint", "int32", "uint32", "float", "float32"), 4),
    **dict.fromkeys(("double", "float64", "int64", "uint64"), 8),
}
GLTF_TYPE_BYTES = {5120: 1, 5121: 1, 5122: 2, 5123: 2, 5125: 4, 5126: 4}


def check_claims(path: Path, kind: str) -> None:
    """Refuse a file whose header promises more than the file holds.

    Parameters
    ----------
    path : Path
        An existing, readable file.
    kind : str
        ``stl``, ``ply``, ``obj``, ``glb``, ``gltf`` or ``3mf``.

    Raises
    ------
    MeshError
        When header and length disagree, or the header is none of its kind.
    OSError
        When the file cannot be read.
    """
    check = {"stl": _check_stl, "ply": _check_ply, "obj": _check_obj, "glb": _check_glb, "3mf": _check_3mf}.get(kind)
    if check is not None:
        check(path)


def _check_stl(path: Path) -> None:
    size = path.stat().st_size
    with path.open("rb") as stream:
        start = stream.read(1024)
    if start.lstrip()[:5].lower() == b"solid" and b"facet" in start.lower():
        return
    if size < STL_HEADER_BYTES:
        raise MeshError(f"{path}: is no STL file. Export the scan again as STL, PLY, OBJ, GLB or 3MF.")
    (facets,) = struct.unpack_from("<I", start, 80)
    if size != STL_HEADER_BYTES + STL_FACET_BYTES * facets:
        held = (size - STL_HEADER_BYTES) // STL_FACET_BYTES
        raise MeshError(
            f"{path}: claims {facets:,} facets but its length fits {held:,}: cut short, or no STL file. "
            "Copy or export the scan again."
        )


def _check_ply(path: Path) -> None:
    size = path.stat().st_size
    with path.open("rb") as stream:
        start = stream.read(PLY_HEADER_LIMIT)
    header, end, _ = start.partition(b"end_header")
    if not start.startswith(b"ply") or not end:
        raise MeshError(f"{path}: is no PLY file. Export the scan again as STL, PLY, OBJ, GLB or 3MF.")
    lines = [line.split() for line in header.decode("latin-1").splitlines()]
    is_text = any(line[:2] == ["format", "ascii"] for line in lines)
    needed, count = 0, 0
    for line in lines:
        if line[:1] == ["element"]:
            count = int(line[2]) if len(line) == 3 and line[2].isdecimal() else -1
            if count < 0:
                raise MeshError(f"{path}: has a broken PLY header. Export the scan again.")
        elif line[:1] == ["property"] and len(line) >= 3:
            # a list takes at least its own count, a number as text one digit and one blank
            known = PLY_TYPE_BYTES.get(line[2] if line[1] == "list" else line[1], 1)
            needed += count * (2 if is_text else known)
    if needed > size:
        raise MeshError(
            f"{path}: claims elements of at least {needed:,} bytes but is {size:,} bytes long: cut short. "
            "Copy or export the scan again."
        )


def _check_obj(path: Path) -> None:
    with path.open("rb") as stream:
        if b"\0" in stream.read(4096):
            raise MeshError(f"{path}: is no OBJ file. Export the scan again as STL, PLY, OBJ, GLB or 3MF.")


def _check_glb(path: Path) -> None:
    size = path.stat().st_size
    with path.open("rb") as stream:
        start = stream.read(20)
        if len(start) < 20 or start[:4] != b"glTF":
            raise MeshError(f"{path}: is no GLB file. Export the scan again as STL, PLY, OBJ, GLB or 3MF.")
        total, json_length = struct.unpack_from("<8xII", start)
        if total > size or json_length > size - 20:
            raise MeshError(
                f"{path}: claims {max(total, json_length):,} bytes but is {size:,} bytes long: cut short. "
                "Copy or export the scan again."
            )
        text = stream.read(json_length)
    _check_accessors(path, text, size)


def _check_accessors(path: Path, text: bytes, size: int) -> None:
    """An accessor without data is filled with zeros by the reader: its count must be bounded here."""
    try:
        accessors = json.loads(text).get("accessors", [])
        needed = max((int(a["count"]) * GLTF_TYPE_BYTES.get(a["componentType"], 1) for a in accessors), default=0)
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        raise MeshError(f"{path}: has a broken GLB header. Export the scan again.") from None
    packed = b"KHR_draco_mesh_compression" in text or b"EXT_meshopt_compression" in text
    if needed > (MAX_ACCESSOR_BYTES if packed else size):
        raise MeshError(f"{path}: claims more values than the file holds: cut short. Copy or export the scan again.")


def _check_3mf(path: Path) -> None:
    try:
        with zipfile.ZipFile(path) as archive:
            unpacked = sum(entry.file_size for entry in archive.infolist())
    except (zipfile.BadZipFile, ValueError, NotImplementedError):
        raise MeshError(f"{path}: is no 3MF file, or is cut short. Copy or export the scan again.") from None
    if unpacked > MAX_UNPACKED_BYTES:
        raise MeshError(f"{path}: unpacks to {unpacked:,} bytes, too much for a scan. Export fewer triangles.")
