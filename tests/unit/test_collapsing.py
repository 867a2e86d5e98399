"""Fewer triangles: the same from every thread."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from trimesh.creation import icosphere

from sim.pieces.body import Faces, Floats
from sim.pieces.collapsing import collapse_edges


def rough_spheres(count: int) -> list[tuple[Floats, Faces]]:
    """Different spheres of 50 mm with 20,480 triangles."""
    rng = np.random.default_rng(5)
    sphere = icosphere(subdivisions=5)
    radii_mm = 50.0 * (1.0 + 0.03 * rng.standard_normal((count, len(sphere.vertices), 1)))
    return [(np.asarray(sphere.vertices) * radius_mm, np.asarray(sphere.faces)) for radius_mm in radii_mm]


def test_meshes_of_several_threads_do_not_mix() -> None:
    spheres = rough_spheres(8)
    alone = [collapse_edges(vertices, faces, 1000) for vertices, faces in spheres]
    with ThreadPoolExecutor(4) as pool:
        together = list(pool.map(lambda sphere: collapse_edges(*sphere, 1000), spheres))
    for (vertices, faces), (vertices_too, faces_too) in zip(alone, together, strict=True):
        assert np.array_equal(vertices, vertices_too)
        assert np.array_equal(faces, faces_too)


@pytest.mark.parametrize("count", [200, 2000])
def test_the_surface_stays_where_it_is(count: int) -> None:
    sphere = icosphere(subdivisions=4)
    vertices, faces = collapse_edges(np.asarray(sphere.vertices) * 50.0, np.asarray(sphere.faces), count)
    assert len(faces) == pytest.approx(count, rel=0.02)
    radii = np.linalg.norm(vertices, axis=1)
    # flat triangles of a sphere: their corners lie outside it by no more than the sagitta of one of them
    sagitta_mm = 4.0 * np.pi * 50.0 / count / np.sqrt(3.0) * 2.0
    assert abs(radii - 50.0).max() < sagitta_mm
