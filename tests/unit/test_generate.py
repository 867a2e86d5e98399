"""Generated pieces: closed, not cutting through themselves, exactly as large as asked, the same every time."""

from __future__ import annotations

import tomllib
from pathlib import Path

import numpy as np
import pytest
import trimesh

from sim.errors import MeshError
from sim.pieces.crossings import crossing_pairs
from sim.pieces.generate import SHAPES, generate
from sim.pieces.saving import load_body, ply_bytes

MESHES = Path(__file__).resolve().parents[2] / "meshes"
RECIPES = sorted(MESHES.glob("*.recipe.toml"))
SIZES = {
    "slab": (150, 120, 40),
    "block": (110, 100, 80),
    "lintel": (320, 110, 45),
    "cobble": (60, 50, 36),
    "shard": (90, 60, 30),
    "root": (200, 120, 90),
}
FILLS = {"slab": (0.35, 0.95), "block": (0.3, 0.95), "lintel": (0.35, 0.95), "cobble": (0.35, 0.75)}


@pytest.mark.parametrize("shape", sorted(SHAPES))
def test_closed_embedded_and_of_exact_size(shape: str) -> None:
    body = generate(shape, 3, SIZES[shape], faces=3000)
    mesh = trimesh.Trimesh(body.vertices_m, body.faces, process=False)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert len(mesh.split(only_watertight=False)) == 1
    assert crossing_pairs(body.vertices_m, body.faces) == 0
    assert np.ptp(body.vertices_m, axis=0) * 1000 == pytest.approx(SIZES[shape], abs=1e-6)
    low, high = FILLS.get(shape, (0.03, 0.7))
    assert low < body.volume_m3 / np.prod(np.array(SIZES[shape]) / 1000) < high
    assert body.colours is not None
    assert np.std(body.colours.astype(float), axis=0).max() > 4.0  # no flat paint


def test_same_seed_same_bytes() -> None:
    one, two, other = (generate("cobble", seed, faces=800) for seed in (5, 5, 6))
    assert ply_bytes(one.vertices_m, one.faces, one.colours) == ply_bytes(two.vertices_m, two.faces, two.colours)
    assert one.content_hash() != other.content_hash()


@pytest.mark.parametrize(
    ("shape", "size", "options"),
    [("pyramid", None, {}), ("slab", (1, 2), {}), ("slab", (5, 50, 50), {}), ("cobble", None, {"limbs": 3})],
)
def test_nonsense_is_named(shape: str, size: tuple[float, ...] | None, options: dict[str, int]) -> None:
    with pytest.raises(MeshError, match="generate"):
        generate(shape, 1, size, **options)


def test_strata_are_steps_and_not_only_paint() -> None:
    """Faces of a layered block turn in and out: its side normals vary far more than a smooth block's."""
    body = generate("block", 5, SIZES["block"], faces=4000)
    mesh = trimesh.Trimesh(body.vertices_m, body.faces, process=False)
    side = np.abs(mesh.face_normals[:, 2])
    overhang_or_ledge = mesh.area_faces[(side > 0.3)].sum() / mesh.area_faces.sum()
    top_and_bottom = 2 * 110 * 100 / (2 * 110 * 100 + 2 * 80 * (110 + 100))
    assert overhang_or_ledge > top_and_bottom


def test_there_are_meshes_to_try() -> None:
    assert len(RECIPES) >= 12


@pytest.mark.parametrize("recipe", RECIPES, ids=lambda path: path.name.removesuffix(".recipe.toml"))
def test_a_mesh_file_follows_from_its_recipe(recipe: Path) -> None:
    keys = tomllib.loads(recipe.read_text())
    made = generate(keys.pop("shape"), keys.pop("seed"), keys.pop("size_mm"), **keys)
    kept = load_body(recipe.with_name(recipe.name.replace(".recipe.toml", ".ply")))
    assert len(kept.faces) == len(made.faces)
    # meshes are drawn with floating-point functions that differ in the last bits between machines
    assert kept.volume_m3 == pytest.approx(made.volume_m3, rel=1e-6)
    assert kept.vertices_m.max(axis=0) == pytest.approx(made.vertices_m.max(axis=0), abs=1e-6)
