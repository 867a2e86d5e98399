"""What must not change mass properties, and what must change them by a known factor."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from sim.errors import MeshError
from sim.pieces.body import Faces, Floats
from sim.pieces.mass import make_body, mass_properties

seeds = st.integers(0, 10_000)


def lump(seed: int) -> tuple[Floats, Faces]:
    """A closed lump off the origin."""
    rng = np.random.default_rng(seed)
    ball = trimesh.creation.icosphere(2)
    bumps = 1.0 + 0.2 * np.sin(ball.vertices @ rng.normal(size=3) * 2.0 + rng.uniform(0, 6))
    shape = ball.vertices * bumps[:, None] * rng.uniform(0.02, 0.08, 3) + rng.uniform(-0.5, 0.5, 3)
    return np.asarray(shape), np.asarray(ball.faces)


@given(seeds)
def test_rigid_motion(seed: int) -> None:
    vertices, faces = lump(seed)
    turn = Rotation.random(rng=np.random.default_rng(seed)).as_matrix()
    shift = np.random.default_rng(seed + 1).uniform(-2, 2, 3)
    one, other = mass_properties(vertices, faces), mass_properties(vertices @ turn.T + shift, faces)
    assert other.volume_m3 == pytest.approx(one.volume_m3, rel=1e-9)
    assert other.area_m2 == pytest.approx(one.area_m2, rel=1e-9)
    assert other.centre_m == pytest.approx(turn @ one.centre_m + shift, abs=1e-12)
    assert other.inertia_m5 == pytest.approx(turn @ one.inertia_m5 @ turn.T, rel=1e-6, abs=1e-15)


@given(seeds)
def test_mirror(seed: int) -> None:
    vertices, faces = lump(seed)
    flip = np.diag([-1.0, 1.0, 1.0])
    one, other = mass_properties(vertices, faces), mass_properties(vertices @ flip, faces[:, ::-1])
    assert other.volume_m3 == pytest.approx(one.volume_m3, rel=1e-12)
    assert other.centre_m == pytest.approx(flip @ one.centre_m, abs=1e-14)
    assert other.inertia_m5 == pytest.approx(flip @ one.inertia_m5 @ flip, rel=1e-9, abs=1e-18)


@given(seeds, st.floats(0.05, 20.0))
def test_uniform_scale(seed: int, scale: float) -> None:
    vertices, faces = lump(seed)
    one, other = mass_properties(vertices, faces), mass_properties(vertices * scale, faces)
    assert other.volume_m3 == pytest.approx(one.volume_m3 * scale**3, rel=1e-9)
    assert other.inertia_m5 == pytest.approx(one.inertia_m5 * scale**5, rel=1e-6, abs=1e-12 * scale**5)


@given(seeds)
def test_vertex_order(seed: int) -> None:
    vertices, faces = lump(seed)
    rng = np.random.default_rng(seed)
    order = rng.permutation(len(vertices))
    shuffled = np.argsort(order)[faces][rng.permutation(len(faces))]
    one, other = mass_properties(vertices, faces), mass_properties(vertices[order], shuffled)
    assert other.volume_m3 == pytest.approx(one.volume_m3, rel=1e-12)
    assert other.inertia_m5 == pytest.approx(one.inertia_m5, rel=1e-9, abs=1e-18)


@given(seeds)
def test_facet_subdivision(seed: int) -> None:
    vertices, faces = lump(seed)
    finer, finer_faces = trimesh.remesh.subdivide(vertices, faces)
    one, other = mass_properties(vertices, faces), mass_properties(finer, finer_faces)
    assert other.volume_m3 == pytest.approx(one.volume_m3, rel=1e-9)
    assert other.centre_m == pytest.approx(one.centre_m, abs=1e-12)
    assert other.inertia_m5 == pytest.approx(one.inertia_m5, rel=1e-6, abs=1e-16)


def test_a_body_is_centred() -> None:
    vertices, faces = lump(1)
    body = make_body(vertices, faces)
    assert mass_properties(body.vertices_m, body.faces).centre_m == pytest.approx([0, 0, 0], abs=1e-12)


@pytest.mark.parametrize("spoil", ["inside out", "flat", "not a number", "few"])
def test_what_encloses_nothing_is_refused(spoil: str) -> None:
    vertices, faces = lump(2)
    if spoil == "inside out":
        faces = faces[:, ::-1]
    elif spoil == "flat":
        vertices = vertices * [1.0, 1.0, 0.0]
    elif spoil == "not a number":
        vertices = np.where(np.arange(len(vertices))[:, None] == 3, np.nan, vertices)
    else:
        faces = faces[:3]
    with pytest.raises(MeshError):
        make_body(vertices, faces)
