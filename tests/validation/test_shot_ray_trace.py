"""The picture against an independent ray trace: Snell at both faces, thick side glass, mirrors, the surface.

The trace in `tests/support/ray_trace.py` uses another form of Snell's law, follows rays through the glass of
the mirrors and has its own camera; it casts rays by trimesh. Laws: Snell 1621, total reflection at the outer
face; no published numbers are needed.
"""

from __future__ import annotations

import functools
from pathlib import Path

import numpy as np
import pytest
import trimesh
from ray_trace import Box, camera_ways, trace_ids
from scipy.ndimage import binary_dilation
from shots import stones_text

from sim.materials import water_index
from sim.pieces.placing import PlacedPiece, place_pieces
from sim.scene import Scene, parse_scene
from sim.shot.lens import lens_of
from sim.shot.seen import look, piece_ids
from sim.shot.stage import set_stage

SIZE = (960, 640)
INNER_M, GLASS_M, LEVEL_M = (0.9, 0.45, 0.45), 0.012, 0.36
EYE_M, LOOK_AT_M = (0.42, -0.75, 0.30), (0.45, 0.225, 0.19)

STONES = [  # shape, seed, size, place: some close to the side panes, one through the surface, one in the back corner
    ("block", 3, (150, 120, 110), (110, 200, 40), 20),
    ("slab", 5, (160, 120, 44), (330, 150, 30), -10),
    ("cobble", 7, (90, 80, 60), (840, 130, 35), 0),
    ("shard", 4, (70, 60, 280), (640, 260, 60), 40),
    ("block", 9, (120, 100, 150), (770, 340, 60), 10),
    ("cobble", 2, (60, 60, 40), (80, 60, 30), 0),
    ("slab", 8, (140, 110, 40), (450, 320, 120), 60),
]


def scene_text(camera: str, film: str = "") -> str:
    text = f"""
format = 1
[tank]
inner_mm = [900, 450, 450]
base_mm = 10
side_mm = 12
{film}
[water]
level_mm = 360
[camera]
{camera}
[[ground.layers]]
material = "gravel"
front_mm = 30
back_mm = 60
"""
    return text + stones_text(STONES)


def scene_at(focal_mm: float, film: str = "") -> Scene:
    eye, look_at = ([round(1000 * value, 6) for value in place] for place in (EYE_M, LOOK_AT_M))
    return parse_scene(
        scene_text(f"position_mm = {eye}\nlook_at_mm = {look_at}\nfocal_mm = {focal_mm}\nfocus_mm = 900", film),
        Path("mirrors.toml"),
    )


@functools.cache
def placed() -> tuple[PlacedPiece, ...]:
    return tuple(place_pieces(scene_at(24)))


def oracle(focal_mm: float, flooded: bool, with_pieces: bool = True, film: tuple[str, ...] = ()) -> np.ndarray:
    """Owners (height, width): pieces, then the ground, -1 for neither."""
    meshes = [(piece.vertices_m(), piece.body.faces) for piece in placed()] if with_pieces else []
    before = 0.03 - 0.03 * 0.01 / 0.45  # 10 mm in front of the pane
    reach = np.array([[-0.02, -0.01, before], [0.92, -0.01, before], [0.92, 0.45, 0.06], [-0.02, 0.45, 0.06]])
    meshes.append((reach, np.array([[0, 1, 2], [0, 2, 3]])))
    owner = np.repeat(np.arange(len(meshes)), [len(faces) for _, faces in meshes])
    mesh = trimesh.util.concatenate([trimesh.Trimesh(v, f, process=False) for v, f in meshes])
    box = Box(INNER_M, GLASS_M, LEVEL_M if flooded else 0.0, water_index(24.0), film=film, ground=(0.03, 0.06))
    ways = camera_ways(EYE_M, LOOK_AT_M, focal_mm / 1000, 0.9, (0.036, 0.024), SIZE)
    ids = trace_ids(mesh, owner, box, np.array(EYE_M), ways)
    return ids.reshape(SIZE[1], SIZE[0])


def near_an_edge(ids: np.ndarray) -> np.ndarray:
    edge = np.zeros(ids.shape, bool)
    edge[:, 1:] |= ids[:, 1:] != ids[:, :-1]
    edge[:, :-1] |= ids[:, 1:] != ids[:, :-1]
    edge[1:] |= ids[1:] != ids[:-1]
    edge[:-1] |= ids[1:] != ids[:-1]
    return binary_dilation(edge, np.ones((3, 3), bool))


@pytest.mark.parametrize("flooded", [True, False], ids=["flooded", "dry"])
@pytest.mark.parametrize("focal_mm", [14, 24, 35, 50])
def test_pieces_are_where_the_ray_trace_has_them(focal_mm: int, flooded: bool) -> None:
    ids = piece_ids(scene_at(focal_mm), flooded, SIZE, placed())
    want = oracle(focal_mm, flooded)
    want = np.where(want == len(STONES), -1, want)
    differ = ids != want
    assert len(np.unique(want)) > 4
    assert differ.mean() <= 2e-4
    assert not (differ & ~near_an_edge(want)).any()


def test_mirrors_show_something() -> None:
    """Flooded, stones are seen in side panes and surface; dry, total reflection is nowhere."""
    scene = scene_at(24)
    stage = set_stage(scene, list(placed()), lit=False)
    flooded = look(scene, stage, lens_of(scene), True, SIZE)
    dry = look(scene, stage, lens_of(scene), False, SIZE)
    assert (flooded.mirrored & (flooded.shown < len(STONES))).sum() > 2000
    assert not dry.mirrored.any()


def test_film_stops_the_mirror() -> None:
    film = 'film = ["left", "right"]'
    ids = piece_ids(scene_at(24, film), True, SIZE, placed())
    want = oracle(24, True, film=("left", "right"))
    want = np.where(want == len(STONES), -1, want)
    assert (ids != want).mean() <= 2e-4
    assert (want != np.where((o := oracle(24, True)) == len(STONES), -1, o)).mean() > 0.002
