"""Silhouettes against known shapes, and against the union of all projected triangles."""

from __future__ import annotations

from typing import Literal

import numpy as np
import pytest
import shapely
import trimesh

from sim.pieces.body import Body
from sim.pieces.generate import generate
from sim.pieces.placing import PlacedPiece
from sim.pieces.turning import rotation_from_turns
from sim.report.sheet.outlines import long_side, rings_of, silhouette

Turn = tuple[float, float, float]
Seen = Literal["above", "front"]


def placed(body: Body, turn_deg: Turn = (0.0, 0.0, 0.0)) -> PlacedPiece:
    return PlacedPiece("one", body, None, 2700.0, 1.0, rotation_from_turns(turn_deg), np.array([0.2, 0.1, 0.05]))


def solid(mesh: trimesh.Trimesh) -> Body:
    return Body(np.array(mesh.vertices) / 1000.0, np.array(mesh.faces, np.int32))


def test_a_box_is_a_rectangle_from_above_and_from_the_front() -> None:
    piece = placed(solid(trimesh.creation.box((60, 40, 20))))
    assert silhouette(piece, "above").bounds == pytest.approx((170.0, 80.0, 230.0, 120.0), abs=1e-3)
    assert silhouette(piece, "above").area == pytest.approx(2400.0, rel=1e-6)
    assert silhouette(piece, "front").bounds == pytest.approx((170.0, 40.0, 230.0, 60.0), abs=1e-3)
    assert len(rings_of(silhouette(piece, "above"))) == 1


def test_a_ring_has_its_hole_from_above_and_none_from_the_front() -> None:
    piece = placed(solid(trimesh.creation.annulus(r_min=20, r_max=40, height=10, sections=64)))
    above = silhouette(piece, "above")
    sector = 64 * 0.5 * np.sin(2 * np.pi / 64)  # area of the polygon of 64 corners in the unit circle
    assert above.area == pytest.approx(sector * (40**2 - 20**2), rel=0.01)
    assert len(rings_of(above)) == 2
    assert len(rings_of(silhouette(piece, "front"))) == 1
    assert silhouette(piece, "front").area == pytest.approx(80.0 * 10.0, rel=0.01)


@pytest.mark.parametrize("shape", ["slab", "block", "cobble", "shard", "root"])
@pytest.mark.parametrize("turn_deg", [(0.0, 0.0, 0.0), (25.0, -40.0, 130.0)])
@pytest.mark.parametrize("seen_from", ["above", "front"])
def test_it_is_the_union_of_all_projected_triangles(shape: str, turn_deg: Turn, seen_from: Seen) -> None:
    piece = placed(generate(shape, 3, (120, 90, 50), faces=1500), turn_deg)
    found = silhouette(piece, seen_from)
    axes = [0, 1] if seen_from == "above" else [0, 2]
    triangles = shapely.polygons(piece.vertices_m()[piece.body.faces][:, :, axes] * 1000.0)
    flat = triangles[shapely.area(triangles) > 1.0e-9]
    whole = shapely.union_all(flat, grid_size=1.0e-4)
    assert found.symmetric_difference(whole).area < 2.0e-3 * whole.area
    assert found.buffer(0.2).covers(whole)
    assert whole.buffer(0.2).covers(found)


def test_the_long_side_has_its_length_and_its_direction() -> None:
    piece = placed(solid(trimesh.creation.box((100, 40, 20))), (0.0, 0.0, 34.0))
    assert long_side(silhouette(piece, "above")) == pytest.approx((100.0, 40.0, 34.0), abs=0.02)
    piece = placed(solid(trimesh.creation.box((40, 100, 20))), (0.0, 0.0, 10.0))
    assert long_side(silhouette(piece, "above")) == pytest.approx((100.0, 40.0, -80.0), abs=0.02)
