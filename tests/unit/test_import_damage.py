"""Damaged files: one clear message each, or a piece; never anything else."""

from __future__ import annotations

import os
import struct
import tracemalloc
from pathlib import Path

import numpy as np
import pytest
import trimesh

from sim.errors import BedjointError, MeshError
from sim.pieces.importing import ImportedPiece, ImportOptions, import_piece
from sim.pieces.reading import read_mesh

KINDS = ("stl", "ply", "obj", "glb")
MUTATIONS = 60  # of each kind


def whole_files() -> dict[str, bytes]:
    mesh = trimesh.creation.icosphere(1, radius=60.0)
    mesh.visual.vertex_colors = np.tile([120, 110, 100, 255], (len(mesh.vertices), 1)).astype(np.uint8)
    exported = {kind: mesh.export(file_type=kind) for kind in (*KINDS, "3mf")}
    return {kind: data.encode() if isinstance(data, str) else bytes(data) for kind, data in exported.items()}


WHOLE = whole_files()


def mutated(data: bytes, random: np.random.Generator) -> bytes:
    """Cut short, or with some bytes changed, doubled or taken out."""
    kind = random.integers(4)
    place = int(random.integers(len(data)))
    if kind == 0:
        return data[:place]
    if kind == 1:
        values = bytearray(data)
        for at in random.integers(len(data), size=random.integers(1, 30)):
            values[at] = random.integers(256)
        return bytes(values)
    length = int(random.integers(1, 40))
    if kind == 2:
        return data[:place] + data[place + length :]
    return data[:place] + data[place : place + length] * 3 + data[place + length :]


def outcome(file: Path) -> ImportedPiece | str:
    try:
        return import_piece(file, ImportOptions(longest_mm=120.0))
    except BedjointError as error:
        return str(error)


@pytest.mark.parametrize("kind", [*KINDS, "3mf"])
def test_mutated_files_give_a_piece_or_a_message(kind: str, tmp_path: Path) -> None:
    random = np.random.default_rng(20_000 + ord(kind[0]))
    messages = 0
    for number in range(MUTATIONS):
        file = tmp_path / f"{number}.{kind}"
        file.write_bytes(mutated(WHOLE[kind], random))
        result = outcome(file)
        if isinstance(result, str):
            assert result.startswith(f"{file}: ")
            messages += 1
        else:
            assert result.body.volume_m3 > 0.0
            assert np.isfinite(result.body.vertices_m).all()
    assert messages > 0


def binary_stl(triangles: np.ndarray, claimed: int | None = None) -> bytes:
    rows = np.zeros(len(triangles), dtype=[("n", "<f4", 3), ("v", "<f4", (3, 3)), ("a", "<u2")])
    rows["v"] = triangles
    return b"\0" * 80 + struct.pack("<I", len(rows) if claimed is None else claimed) + rows.tobytes()


BALL = trimesh.creation.icosphere(1, radius=60.0).triangles.astype(np.float32)


def spoilt(value: float) -> bytes:
    triangles = BALL.copy()
    triangles[3, 1, 2] = value
    return binary_stl(triangles)


BAD = {
    "empty.stl": (b"", "is empty"),
    "random.stl": (np.random.default_rng(3).bytes(5000), "no STL file"),
    "random.ply": (np.random.default_rng(3).bytes(5000), "is no PLY file"),
    "random.obj": (np.random.default_rng(3).bytes(5000), "is no OBJ file"),
    "random.glb": (np.random.default_rng(3).bytes(5000), "is no GLB file"),
    "random.3mf": (np.random.default_rng(3).bytes(5000), "is no 3MF file"),
    "random.gltf": (np.random.default_rng(3).bytes(5000), "GLTF"),
    "text.stl": (b"These are my stones, weighed on Sunday.\n" * 9, "STL file"),
    "text.ply": (b"These are my stones, weighed on Sunday.\n" * 9, "is no PLY file"),
    "text.obj": (b"These are my stones, weighed on Sunday.\n" * 9, "holds no triangles|cannot be read as OBJ"),
    "text.txt": (b"These are my stones, weighed on Sunday.\n" * 9, "no kind of mesh"),
    "truncated.stl": (binary_stl(BALL)[:2000], r"claims 80 facets but its length fits 38"),
    "huge.stl": (binary_stl(BALL[:4], 10_000_000), r"claims 10,000,000 facets but its length fits 4"),
    "huge.ply": (
        b"ply\nformat binary_little_endian 1.0\nelement vertex 10000000\nproperty float x\nproperty float y\n"
        b"property float z\nelement face 10000000\nproperty list uchar int vertex_indices\nend_header\n" + b"\0" * 100,
        "cut short",
    ),
    "huge_text.ply": (
        b"ply\nformat ascii 1.0\nelement vertex 10000000\nproperty float x\nproperty float y\nproperty float z\n"
        b"element face 10000000\nproperty list uchar int vertex_indices\nend_header\n0 0 0\n",
        "cut short",
    ),
    "nan.stl": (spoilt(float("nan")), "1 of 240 vertices have coordinates that are no numbers"),
    "infinite.stl": (spoilt(float("inf")), "1 of 240 vertices have coordinates that are no numbers"),
    "flat.stl": (binary_stl(BALL * [1.0, 1.0, 0.0]), "no volume"),
    "triangle.stl": (binary_stl(BALL[:1]), "1 usable triangles"),
    "point.stl": (binary_stl(BALL * 0.0), "0 units across"),
    "points.ply": (
        b"ply\nformat ascii 1.0\nelement vertex 1\nproperty float x\nproperty float y\nproperty float z\n"
        b"end_header\n1 2 3\n",
        "holds no triangles",
    ),
}


@pytest.mark.parametrize("name", BAD)
def test_bad_files_say_what_is_wrong(name: str, tmp_path: Path) -> None:
    data, message = BAD[name]
    file = tmp_path / name
    file.write_bytes(data)
    with pytest.raises(MeshError, match=message) as error:
        import_piece(file, ImportOptions(longest_mm=100.0))
    assert str(file) in str(error.value)


@pytest.mark.parametrize("name", [name for name in BAD if name.startswith("huge")])
def test_claims_beyond_the_file_allocate_nothing(name: str, tmp_path: Path) -> None:
    file = tmp_path / name
    file.write_bytes(BAD[name][0])
    tracemalloc.start()
    try:
        with pytest.raises(MeshError):
            read_mesh(file)
        assert tracemalloc.get_traced_memory()[1] < 2_000_000
    finally:
        tracemalloc.stop()


def glb(header: bytes, data: bytes = b"") -> bytes:
    header += b" " * (-len(header) % 4)
    body = struct.pack("<I4s", len(header), b"JSON") + header + struct.pack("<I4s", len(data), b"BIN\0") + data
    return b"glTF" + struct.pack("<II", 2, 12 + len(body)) + body


def test_a_glb_of_claimed_zeros_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "zeros.glb"
    accessor = b'{"count": 4000000000, "componentType": 5126, "type": "VEC3"}'
    file.write_bytes(glb(b'{"asset": {"version": "2.0"}, "bufferViews": [], "accessors": [' + accessor + b"]}"))
    with pytest.raises(MeshError, match="more values than the file holds"):
        read_mesh(file)


def test_missing_files_and_folders(tmp_path: Path) -> None:
    with pytest.raises(MeshError, match="No such file"):
        read_mesh(tmp_path / "missing.ply")
    with pytest.raises(MeshError, match="is a folder"):
        read_mesh(tmp_path)
    (tmp_path / "folder.stl").mkdir()
    with pytest.raises(MeshError, match="is a folder"):
        read_mesh(tmp_path / "folder.stl")


def test_a_file_that_may_not_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "locked.stl"
    file.write_bytes(binary_stl(BALL))
    file.chmod(0)
    if os.access(file, os.R_OK):  # an administrator may read everything, so the refusal is acted

        def refuse(*_: object, **__: object) -> None:
            raise PermissionError(13, "Permission denied")

        monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(MeshError, match=r"cannot be read \(Permission denied\)"):
        read_mesh(file)


def test_a_closed_surface_that_cuts_through_itself_is_told(tmp_path: Path) -> None:
    mesh = trimesh.creation.icosphere(2, radius=60.0)
    whole = tmp_path / "whole.stl"
    mesh.export(whole)
    assert not import_piece(whole, ImportOptions(units="mm")).warnings
    # the top pushed out through the bottom, as a bad alignment of two scans does it
    mesh.vertices[np.argmax(mesh.vertices[:, 2])] = [0.0, 0.0, -90.0]
    crossed = tmp_path / "crossed.stl"
    mesh.export(crossed)
    (warning,) = import_piece(crossed, ImportOptions(units="mm")).warnings
    assert "cuts through itself" in warning
