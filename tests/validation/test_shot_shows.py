"""Shares of edges and panes that show, against counts from the independent ray trace, within 0.005."""

from __future__ import annotations

import functools

import numpy as np
import pytest
import trimesh
from ray_trace import Box, aim, camera_ways, enter, trace
from shots import stones_text

from sim.materials import water_index
from sim.pieces.placing import place_pieces
from sim.scene import parse_scene
from sim.shot.codes import SEAM
from sim.shot.lens import lens_of
from sim.shot.seen import look
from sim.shot.shows import Showing, showing
from sim.shot.stage import Stage, set_stage

SIZE = (900, 600)
EYE_M, LOOK_AT_M, FOCAL_MM, FOCUS_M = (0.40, -1.00, 0.30), (0.45, 0.225, 0.20), 28, 1.2
TANK = """
format = 1
[tank]
inner_mm = [900, 450, 450]
base_mm = 10
side_mm = 12
[water]
level_mm = 430
[camera]
position_mm = [400, -1000, 300]
look_at_mm = [450, 225, 200]
focal_mm = 28
focus_mm = 1200
"""
STONES = [
    ("block", 3, (150, 120, 190), (120, 300, 0), 20),
    ("block", 9, (120, 100, 150), (770, 340, 0), 10),
    ("shard", 4, (90, 80, 330), (850, 380, 0), 40),
    ("slab", 5, (160, 120, 44), (430, 150, 0), -10),
    ("cobble", 7, (90, 80, 60), (40, 130, 0), 0),
]


@functools.cache
def staged() -> Stage:
    return set_stage(scene(), place_pieces(scene()), lit=False)


@functools.cache
def scene():
    return parse_scene(TANK + stones_text(STONES), "shows.toml")


@functools.cache
def shown(flooded: bool) -> Showing:
    return showing(scene(), staged(), lens_of(scene()), flooded, SIZE)


def box(flooded: bool) -> Box:
    return Box((0.9, 0.45, 0.45), 0.012, 0.43 if flooded else 0.0, water_index(24.0))


@functools.cache
def meshes() -> tuple[trimesh.Trimesh, np.ndarray, trimesh.Trimesh, np.ndarray]:
    """Pieces with the floor, and the floor alone."""
    corners = np.array([[-0.02, -0.02, 0], [0.92, -0.02, 0], [0.92, 0.47, 0], [-0.02, 0.47, 0]])
    floor = trimesh.Trimesh(corners, [[0, 1, 2], [0, 2, 3]], process=False)
    bodies = [trimesh.Trimesh(p.vertices_m(), p.body.faces, process=False) for p in place_pieces(scene())]
    owner = np.repeat(np.arange(len(bodies) + 1), [len(mesh.faces) for mesh in (*bodies, floor)])
    return trimesh.util.concatenate([*bodies, floor]), owner, floor, np.full(2, len(bodies))


@functools.cache
def counted(flooded: bool) -> tuple[np.ndarray, np.ndarray]:
    """What each ray met first, with pieces and without."""
    full, owner, floor, floor_owner = meshes()
    ways = camera_ways(EYE_M, LOOK_AT_M, FOCAL_MM / 1000, FOCUS_M, (0.036, 0.024), SIZE)
    eye = np.array(EYE_M)
    return trace(full, owner, box(flooded), eye, ways)[1], trace(floor, floor_owner, box(flooded), eye, ways)[1]


@pytest.mark.parametrize("flooded", [True, False], ids=["flooded", "dry"])
@pytest.mark.parametrize(("name", "code"), [("left pane", 100), ("right pane", 101), ("back pane", 103), ("base", 5)])
def test_panes_and_base(name: str, code: int, flooded: bool) -> None:
    full, empty = counted(flooded)
    there = empty == code
    if name != "base":  # silicone counts by itself
        bare = look(scene(), staged(), lens_of(scene()), flooded, SIZE, with_pieces=False)
        there &= (bare.end != SEAM).ravel()
    part = shown(flooded).part(name)
    assert part.unobstructed == pytest.approx(there.sum(), rel=0.005)
    assert part.share == pytest.approx((full[there] == code).mean(), abs=0.005)
    assert 0.05 < part.share < 0.99


@pytest.mark.parametrize("flooded", [True, False], ids=["flooded", "dry"])
@pytest.mark.parametrize(("name", "x"), [("back left edge", 0.0), ("back right edge", 0.9)])
def test_upright_back_edges(name: str, x: float, flooded: bool) -> None:
    """The same edge by rays found with the trace itself, 1000 of them; only what lies under water when flooded."""
    full, _, _, _ = meshes()
    z = (np.arange(1000) + 0.5) / 1000 * (0.43 if flooded else 0.45)
    points = np.column_stack([np.full(1000, np.clip(x, 1e-4, 0.9 - 1e-4)), np.full(1000, 0.45 - 1e-4), z])
    eye = np.array(EYE_M)
    ways = aim(box(flooded), eye, points, flooded)
    starts, inside = enter(box(flooded), eye, ways / np.linalg.norm(ways, axis=1)[:, None], flooded)
    opening = (starts[:, 0] > 0) & (starts[:, 0] < 0.9) & (starts[:, 2] > 0)
    opening &= starts[:, 2] < (0.43 if flooded else 0.45)
    along = points - starts
    distance = np.linalg.norm(along, axis=1)
    assert np.allclose(along / distance[:, None], inside, atol=1e-9)
    _, ray, spot = full.ray.intersects_id(starts, inside, multiple_hits=False, return_locations=True)
    run = np.full(1000, np.inf)
    run[ray] = np.linalg.norm(spot - starts[ray], axis=1)
    want = (run > distance - 3e-4)[opening].mean()
    part = shown(flooded).part(name)
    assert part.unobstructed == pytest.approx(opening.mean() * 1000 * z[-1], abs=3.0)
    assert part.share == pytest.approx(want, abs=0.005)
    assert sum(end - start for start, end in part.runs_mm) == pytest.approx(part.seen, abs=0.01)
    assert sum(share for _, share in part.hidden_by) == pytest.approx(1.0 - part.share, abs=1e-9)


def test_a_side_pane_in_view_of_a_filled_tank_mirrors() -> None:
    """Common practice, no source: it always shows the stones mirrored in it; dry it lets light through."""
    assert shown(True).mirrored_pane_share == pytest.approx(1.0)
    assert shown(False).mirrored_pane_share == 0.0
    assert shown(True).mirrored_pieces
