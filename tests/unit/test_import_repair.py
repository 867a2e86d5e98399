"""What repair does to meshes with one known fault each."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from sim.errors import MeshError
from sim.pieces.closing import cap_rim
from sim.pieces.facing import find_edges
from sim.pieces.reading import RawMesh, read_mesh
from sim.pieces.reducing import reduce_body, surface_error
from sim.pieces.repair import Repaired, repair

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]


def raw(vertices: Floats, faces: Indices, colours: NDArray[np.uint8] | None = None) -> RawMesh:
    return RawMesh("stone.stl", np.asarray(vertices, dtype=float), np.asarray(faces, dtype=np.int64), colours, None)


def ball(subdivisions: int = 3) -> tuple[Floats, Indices]:
    mesh = trimesh.creation.icosphere(subdivisions)
    return np.asarray(mesh.vertices) * 50.0, np.asarray(mesh.faces, dtype=np.int64)


def box(sides: tuple[float, float, float] = (120.0, 80.0, 35.0)) -> tuple[Floats, Indices]:
    mesh = trimesh.creation.box(sides)
    return np.asarray(mesh.vertices), np.asarray(mesh.faces, dtype=np.int64)


def signed_volume(vertices: Floats, faces: Indices) -> float:
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    return float((a * np.cross(b, c)).sum() / 6.0)


def is_closed(mesh: Repaired) -> bool:
    edges = find_edges(mesh.faces.astype(np.int64))
    return len(edges.open) == 0 and len(edges.crowded) == 0


def soup(vertices: Floats, faces: Indices) -> tuple[Floats, Indices]:
    return vertices[faces].reshape(-1, 3), np.arange(3 * len(faces)).reshape(-1, 3)


def test_split_vertices_are_welded() -> None:
    vertices, faces = ball()
    mesh = repair(raw(*soup(vertices, faces)))
    assert len(mesh.vertices) == len(vertices)
    assert len(mesh.faces) == len(faces)
    assert is_closed(mesh)
    assert mesh.volume == pytest.approx(signed_volume(vertices, faces), rel=1e-9)


def test_nearly_equal_vertices_are_welded_along_the_seams() -> None:
    vertices, faces = ball()
    split, corners = soup(vertices, faces)
    shaken = split + np.random.default_rng(1).uniform(-1e-5, 1e-5, split.shape)
    mesh = repair(raw(shaken, corners))
    assert len(mesh.vertices) == len(vertices)
    assert mesh.volume == pytest.approx(signed_volume(vertices, faces), rel=1e-5)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_faces_turned_at_random_are_turned_outward(seed: int) -> None:
    vertices, faces = ball(2)
    flip = np.random.default_rng(seed).random(len(faces)) < 0.5
    mesh = repair(raw(vertices, np.where(flip[:, None], faces[:, ::-1], faces)))
    assert mesh.volume == pytest.approx(signed_volume(vertices, faces), rel=1e-9)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 2**32 - 1), st.floats(1e-3, 1e3), st.booleans())
def test_moving_mirroring_scaling_and_shuffling_change_nothing_else(seed: int, factor: float, mirror: bool) -> None:
    vertices, faces = box()
    random = np.random.default_rng(seed)
    turn, _ = np.linalg.qr(random.normal(size=(3, 3)))
    turn[0] *= np.sign(np.linalg.det(turn)) * (-1.0 if mirror else 1.0)
    order = random.permutation(len(vertices))
    place = np.empty_like(order)
    place[order] = np.arange(len(order))
    moved = (vertices @ turn.T + random.normal(size=3) * 100.0)[order] * factor
    mesh = repair(raw(moved, place[random.permutation(faces)]))
    assert mesh.volume == pytest.approx(120.0 * 80.0 * 35.0 * factor**3, rel=1e-9)
    assert signed_volume(mesh.vertices - mesh.vertices.mean(axis=0), mesh.faces) > 0.0


def test_degenerate_and_repeated_faces_go() -> None:
    vertices, faces = ball()
    more = np.vstack([faces, faces[:5], faces[5:8][:, [1, 2, 0]], [[7, 7, 9]]])
    mesh = repair(raw(vertices, more))
    assert len(mesh.faces) == len(faces)
    assert any("1 degenerate face" in note for note in mesh.notes)
    assert any("8 repeated faces" in note for note in mesh.notes)


def test_a_two_sided_export_becomes_one_sided() -> None:
    vertices, faces = ball()
    mesh = repair(raw(vertices, np.vstack([faces, faces[:, ::-1]])))
    assert len(mesh.faces) == len(faces)
    assert mesh.volume == pytest.approx(signed_volume(vertices, faces), rel=1e-9)


def test_the_larger_of_two_bodies_stays_and_the_other_is_told() -> None:
    vertices, faces = ball()
    small, corners = box((20.0, 20.0, 20.0))
    mesh = repair(raw(np.vstack([small + 200.0, vertices]), np.vstack([corners, faces + len(small)])))
    assert mesh.volume == pytest.approx(signed_volume(vertices, faces), rel=1e-9)
    assert any("dropped 1 smaller body" in note for note in mesh.notes)


def test_small_holes_are_closed() -> None:
    vertices, faces = ball(4)
    mesh = repair(raw(vertices, np.delete(faces, [3, 700, 701], axis=0)))
    assert is_closed(mesh)
    assert mesh.volume == pytest.approx(signed_volume(vertices, faces), rel=1e-3)
    assert any("small hole" in note for note in mesh.notes)
    assert not mesh.warnings


def half_ball(lean_deg: float = 0.0, rings: int = 24, meridians: int = 90) -> tuple[Floats, Indices]:
    """Upper half of a ball of radius 50, open below, turned about x."""
    turns = np.linspace(0.0, 2.0 * np.pi, meridians, endpoint=False)
    heights = np.linspace(0.0, np.pi / 2.0, rings, endpoint=False)
    h, t = (grid.reshape(-1) for grid in np.meshgrid(heights, turns, indexing="ij"))
    vertices = np.column_stack([np.cos(h) * np.cos(t), np.cos(h) * np.sin(t), np.sin(h)])
    here = np.arange(meridians)
    onward = np.roll(here, -1)
    bands = [
        np.vstack(
            [
                np.column_stack([here, onward, onward + meridians]),
                np.column_stack([here, onward + meridians, here + meridians]),
            ]
        )
        + ring * meridians
        for ring in range(rings - 1)
    ]
    last = (rings - 1) * meridians
    top = np.column_stack([here + last, onward + last, np.full(meridians, last + meridians)])
    c, s = np.cos(np.radians(lean_deg)), np.sin(np.radians(lean_deg))
    turn = np.array([[1.0, 0.0, 0.0], [0.0, c, -s], [0.0, s, c]])
    return np.vstack([vertices, [[0.0, 0.0, 1.0]]]) @ turn.T * 50.0, np.vstack([*bands, top])


@pytest.mark.parametrize("lean_deg", [0.0, 25.0])
def test_an_open_underside_gets_a_flat_cap(lean_deg: float) -> None:
    mesh = repair(raw(*half_ball(lean_deg)))
    assert is_closed(mesh)
    # half of a ball: 2/3 pi r^3, less what facets cut off
    assert mesh.volume == pytest.approx(2.0 / 3.0 * np.pi * 50.0**3, rel=0.01)
    assert any("flat cap" in note for note in mesh.notes)


def test_the_departure_of_an_uneven_rim_is_told() -> None:
    vertices, faces = half_ball()
    rim = np.abs(vertices[:, 2]) < 1e-9
    vertices[rim, 2] = 3.0 * np.sin(3.0 * np.arctan2(vertices[rim, 1], vertices[rim, 0]))
    mesh = repair(raw(vertices, faces))
    # 3 of 100 across
    assert any("3.0 % of its width" in note for note in mesh.notes)
    assert any("3.0 % of its width" in warning for warning in mesh.warnings)


def test_an_open_mesh_is_refused_where_capping_is_not_agreed_to() -> None:
    with pytest.raises(MeshError, match=r"is open along \d+ edges"):
        repair(raw(*half_ball()), caps=False)


def test_a_bowl_whose_floor_bulges_through_its_rim_is_refused() -> None:
    vertices, faces = half_ball()
    spike = np.argmax(vertices[:, 2])
    vertices[spike] = [0.0, 3.0, -40.0]
    with pytest.raises(MeshError, match="cut through its surface"):
        repair(raw(vertices, faces))


def test_a_concave_rim_is_capped_inside_only() -> None:
    corners = np.array([[0, 0], [40, 0], [40, 10], [10, 10], [10, 30], [0, 30]], dtype=float)
    points = np.column_stack([corners, np.zeros(6)])
    cap = cap_rim(points, np.arange(6), 40.0)
    a, b, c = (points[cap.faces[:, k]] for k in range(3))
    # an L of 40 x 10 and 10 x 20
    assert np.cross(b - a, c - a)[:, 2].sum() / 2.0 == pytest.approx(600.0)
    assert (np.cross(b - a, c - a)[:, 2] > 0.0).all()


@pytest.mark.parametrize("height", [0.0, 1e-9])
def test_a_flat_mesh_is_refused(height: float) -> None:
    vertices, faces = box((50.0, 50.0, 1.0))
    vertices[:, 2] *= height
    with pytest.raises(MeshError, match="no volume"):
        repair(raw(vertices, faces))


def test_a_moebius_strip_is_refused() -> None:
    turns = np.linspace(0.0, 2.0 * np.pi, 40, endpoint=False)
    sides = [
        np.column_stack([np.cos(turns) * r, np.sin(turns) * r, w * np.sin(turns / 2.0)])
        for w, r in ((w, 10.0 + w * np.cos(turns / 2.0)) for w in (-2.0, 2.0))
    ]
    here = np.arange(40)
    low, high = here, here + 40
    next_low, next_high = np.append(low[1:], high[0]), np.append(high[1:], low[0])
    faces = np.vstack([np.column_stack([low, next_low, high]), np.column_stack([next_low, next_high, high])])
    with pytest.raises(MeshError, match="one side"):
        repair(raw(np.vstack(sides), faces))


def test_a_fin_on_the_surface_is_taken_off() -> None:
    vertices, faces = ball()
    fin = np.array([[faces[0, 0], faces[0, 1], len(vertices)]])
    mesh = repair(raw(np.vstack([vertices, [[90.0, 0.0, 0.0]]]), np.vstack([faces, fin])))
    assert is_closed(mesh)
    assert mesh.volume == pytest.approx(signed_volume(vertices, faces), rel=0.01)


def test_colours_follow_their_vertices() -> None:
    vertices, faces = ball()
    colours = np.rint((vertices / 50.0 + 1.0) * 127.0).astype(np.uint8)
    split, corners = soup(vertices, faces)
    mesh = repair(raw(split, corners, colours[faces].reshape(-1, 3)))
    assert mesh.colours is not None
    np.testing.assert_allclose(mesh.colours, (mesh.vertices / 50.0 + 1.0) * 127.0, atol=1.0)


def test_reduction_stays_within_its_error() -> None:
    vertices, faces = ball(7)
    reduced = reduce_body(vertices / 1000.0, faces.astype(np.int32), None)
    assert reduced is not None
    assert len(reduced.faces) <= 150_000
    assert reduced.error_m <= 0.05e-3
    # of a ball the distance of a vertex from the surface is known without any search
    off_m = np.abs(np.linalg.norm(reduced.vertices_m, axis=1) - 0.05)
    assert off_m.max() <= 0.05e-3


def test_the_surface_error_of_two_balls_is_the_difference_of_their_radii() -> None:
    vertices, faces = ball(5)
    corners = faces.astype(np.int32)
    error_m = surface_error(vertices / 1000.0, corners, vertices * 1.0004 / 1000.0, corners)
    assert error_m == pytest.approx(0.02e-3, rel=0.05)


def test_every_kind_of_file_gives_the_same_body(tmp_path: Path) -> None:
    mesh = trimesh.creation.box((120.0, 80.0, 35.0))
    for kind in ("stl", "ply", "obj", "glb", "3mf"):
        file = tmp_path / f"brick.{kind}"
        mesh.export(file)
        assert repair(read_mesh(file)).volume == pytest.approx(120.0 * 80.0 * 35.0, rel=1e-6), kind


def test_a_texture_becomes_vertex_colours(tmp_path: Path) -> None:
    from PIL import Image

    vertices, faces = box()
    picture = Image.new("RGB", (8, 8), (200, 40, 10))
    visual = trimesh.visual.TextureVisuals(
        uv=np.full((len(vertices), 2), 0.5), material=trimesh.visual.material.PBRMaterial(baseColorTexture=picture)
    )
    trimesh.Trimesh(vertices, faces, visual=visual, process=False).export(tmp_path / "red.glb")
    colours = read_mesh(tmp_path / "red.glb").colours
    assert colours is not None
    assert (colours == [200, 40, 10]).all()
