"""Scanned stones as published: their volumes, their units, and two scans with open undersides.

Sources: masonry-study, doi 10.1016/j.engstruct.2025.119695 (74 stones, two of them in metres among
centimetres); moon-samples and moon-rocks (photogrammetry, in metres); a stump scanned on the ground
and a laser-scanned branched colony, both open underneath. The volumes to compare with are summed
here from the files' own text or bytes, with no code of the project.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from sim.errors import MeshError, UnitsQuestion
from sim.pieces.importing import ImportOptions, import_piece
from sim.pieces.reading import read_mesh
from sim.pieces.repair import repair

METRES = {"mm": 0.001, "cm": 0.01, "m": 1.0}
IN_METRES = ("stone_174.obj", "stone_177.obj")


def closed_stones(scans: Path) -> list[tuple[Path, str]]:
    """Every closed stone with its units, as SOURCES.md beside them says."""
    masonry = sorted((scans / "masonry-study").glob("*.obj"))
    moon = sorted((scans / "moon-samples").glob("*.ply")) + sorted((scans / "moon-rocks").glob("*.ply"))
    return [(file, "m" if file.name in IN_METRES else "cm") for file in masonry] + [(file, "m") for file in moon]


def triangles_of(file: Path) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Vertices and triangles straight from an OBJ's text or a binary PLY's bytes."""
    if file.suffix == ".obj":
        rows = [line.split() for line in file.read_text().splitlines()]
        points = np.array([[float(number) for number in row[1:4]] for row in rows if row[:1] == ["v"]])
        corners = [[int(corner.split("/")[0]) - 1 for corner in row[1:]] for row in rows if row[:1] == ["f"]]
        assert all(len(corner) == 3 for corner in corners)
        return points, np.array(corners)
    header, _, data = file.read_bytes().partition(b"end_header\n")
    lines = header.decode().splitlines()
    counts = {line.split()[1]: int(line.split()[2]) for line in lines if line.startswith("element")}
    properties = [line.split()[1:] for line in lines if line.startswith("property")]
    types = {"float": "<f4", "double": "<f8", "uchar": "u1", "int": "<i4", "uint": "<u4"}
    vertex = np.dtype([(name[-1], types[name[0]]) for name in properties if name[0] != "list"])
    (index,) = [name for name in properties if name[0] == "list"]
    face = np.dtype([("n", types[index[1]]), ("v", types[index[2]], (3,))])
    table = np.frombuffer(data, vertex, counts["vertex"])
    faces = np.frombuffer(data, face, counts["face"], offset=table.nbytes)
    assert (faces["n"] == 3).all()
    return np.column_stack([table[axis] for axis in "xyz"]).astype(float), faces["v"].astype(np.int64)


def largest_volume(points: NDArray[np.float64], corners: NDArray[np.int64]) -> float:
    """Signed-volume sum of the largest body, vertices merged where their coordinates are equal."""
    _, merged = np.unique(points, axis=0, return_inverse=True)
    parent = list(range(merged.max() + 1))

    def root(node: int) -> int:
        while parent[node] != node:
            parent[node] = parent[parent[node]]
            node = parent[node]
        return node

    for a, b, c in merged.reshape(-1)[corners]:
        parent[root(a)] = root(b)
        parent[root(b)] = root(c)
    body = np.array([root(merged.reshape(-1)[corner]) for corner in corners[:, 0]])
    a, b, c = (points[corners[:, k]] for k in range(3))
    sixths = (a * np.cross(b, c)).sum(axis=1) / 6.0
    return max(abs(sixths[body == one].sum()) for one in np.unique(body))


def test_all_closed_stones_keep_their_volume(scans: Path) -> None:
    stones = closed_stones(scans)
    assert len(stones) == 82
    for file, units in stones:
        piece = import_piece(file, ImportOptions(units=units))
        expected_ml = largest_volume(*triangles_of(file)) * METRES[units] ** 3 * 1e6
        assert piece.volume_ml == pytest.approx(expected_ml, rel=0.005), file.name
        assert piece.id == file.stem


def told_units(file: Path) -> set[str]:
    """The units that a file is recognised in, or those that are asked about."""
    try:
        return {import_piece(file).units}
    except UnitsQuestion as question:
        return set(question.candidates)


def test_units_are_right_or_asked(scans: Path) -> None:
    for file, units in closed_stones(scans):
        assert units in told_units(file), file.name
    for name in IN_METRES:
        assert told_units(scans / "masonry-study" / name) == {"m"}


def test_a_wall_stone_of_two_bodies_tells_what_it_dropped(scans: Path) -> None:
    piece = import_piece(scans / "masonry-study" / "wall_stone_106.obj", ImportOptions(units="cm"))
    assert any("dropped 1 smaller body" in note for note in piece.repaired)


def test_vertex_colours_survive(scans: Path) -> None:
    file = scans / "masonry-study" / "stone_174.obj"
    piece = import_piece(file)
    first = [float(text) for text in file.read_text().split("\nv ", 2)[1].split()]
    nearest = np.argmin(np.linalg.norm(piece_points(piece.body.vertices_m, file) - first[:3], axis=1))
    assert piece.body.colours is not None
    np.testing.assert_allclose(piece.body.colours[nearest] / 255.0, first[3:], atol=0.02)


def piece_points(vertices_m: NDArray[np.float64], file: Path) -> NDArray[np.float64]:
    """Body vertices moved back to the middle of the file's box."""
    points, _ = triangles_of(file)
    return vertices_m - (vertices_m.min(axis=0) - points.min(axis=0))


def inside(points: NDArray[np.float64], triangles: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Winding number above one half.

    van Oosterom, A. and Strackee, J. (1983). The Solid Angle of a Plane Triangle, equation 8.
    """
    angles = np.zeros(len(points))
    for k, point in enumerate(points):
        a, b, c = (triangles[:, corner] - point for corner in range(3))
        la, lb, lc = (np.linalg.norm(side, axis=1) for side in (a, b, c))
        triple = (a * np.cross(b, c)).sum(axis=1)
        dots = (a * b).sum(axis=1) * lc + (b * c).sum(axis=1) * la + (c * a).sum(axis=1) * lb
        angles[k] = 2.0 * np.arctan2(triple, la * lb * lc + dots).sum()
    return angles / (4.0 * np.pi) > 0.5


def test_an_open_stump_is_capped_and_its_volume_is_right(scans: Path) -> None:
    file = scans / "defects" / "open_stump.obj"
    piece = import_piece(file, ImportOptions(units="m", scale=0.2))
    assert any("flat cap" in note for note in piece.repaired)
    # winding number of the open surface, without the cap: one half is passed just where a flat cap is
    points, corners = triangles_of(file)
    points = points * 0.2
    random = np.random.default_rng(5)
    low, high = points.min(axis=0), points.max(axis=0)
    cast = low + (high - low) * random.random((800, 3))
    share = inside(cast, points[corners]).mean()
    expected_ml = share * np.prod(high - low) * 1e6
    # one standard deviation of the casting is 1.8 % of the box
    four_sigma_ml = 4.0 * np.sqrt(share * (1.0 - share) / 800) * np.prod(high - low) * 1e6
    assert abs(piece.volume_ml - expected_ml) < four_sigma_ml + 0.02 * expected_ml


def test_a_branched_colony_is_refused_with_the_reason(scans: Path) -> None:
    with pytest.raises(MeshError, match=r"open side .* cut through its surface .* Close it in the scanning program"):
        repair(read_mesh(scans / "defects" / "open_branching_colony.ply"))
