"""The stones that the benchmark stacks are built of: generated ones, and scanned ones where there are scans.

They are made once (about a second each) and used in many stacks.
"""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import manifold3d
import numpy as np
from numpy.typing import NDArray

from sim.pieces.body import Body, Faces
from sim.pieces.convex import convex_parts
from sim.pieces.generate import generate
from sim.pieces.importing import ImportOptions, import_piece
from sim.pieces.mass import make_body
from sim.pieces.rest import rest_poses
from sim.pieces.saving import load_body, save_piece
from sim.pieces.turning import rotation_from_turns

Floats = NDArray[np.float64]
Part = tuple[Floats, Faces]  # vertices (n, 3) in metres, faces (m, 3)

ROCK = "granite"
SMALLEST_MM = {"slab": (75, 60, 18), "block": (50, 45, 35), "cobble": (50, 40, 26), "shard": (80, 45, 14)}
LARGEST_MM = {"slab": (140, 100, 34), "block": (90, 75, 65), "cobble": (85, 65, 45), "shard": (140, 80, 26)}
SMALLEST_MM |= {"lintel": (190, 60, 24), "bed": (210, 150, 28)}
LARGEST_MM |= {"lintel": (250, 85, 38), "bed": (240, 170, 36)}
SCANS = (
    "masonry-study/stone_15*.obj",
    "masonry-study/wall_stone_0[0-4]*.obj",
    "moon-rocks/*.ply",
    "moon-samples/*.ply",
)
SCANNED_MM = (40.0, 150.0)  # longest side
SEAM = 1.001  # convex parts are taken so much larger, or their union has hairline cracks between them


@dataclass(frozen=True, slots=True, eq=False)
class Stone:
    """A body and the line of a scene file that makes it."""

    body: Body
    source: str
    turns: tuple[Floats, ...]  # (3, 3) each: natural ways to lie
    shares: Floats  # of those, adding up to 1
    tilts_deg: Floats  # by which a level floor would tip each over


@dataclass(frozen=True, slots=True, eq=False)
class Quarry:
    """Stones by shape; "scan" is empty where there are no scans."""

    stones: dict[str, list[Stone]]

    def draw(self, rng: np.random.Generator, *shapes: str) -> Stone:
        """One stone of any of the shapes."""
        choice = [stone for shape in shapes for stone in self.stones[shape]]
        return choice[int(rng.integers(len(choice)))]


@lru_cache(maxsize=4)
def quarry(
    per_shape: int = 6, scans: Path | None = None, faces: int = 4000, shapes: tuple[str, ...] = tuple(SMALLEST_MM)
) -> Quarry:
    """Break stones: `per_shape` of each generated shape, and scans scaled to 40-150 mm."""
    rng = np.random.default_rng(per_shape)
    stones: dict[str, list[Stone]] = {"scan": _scanned(scans, rng) if scans is not None else []}
    for shape in shapes:
        stones[shape] = [_generated(shape, k, rng, faces) for k in range(2 if shape == "bed" else per_shape)]
    return Quarry(stones)


def _generated(shape: str, seed: int, rng: np.random.Generator, faces: int) -> Stone:
    size_mm = [int(v) for v in rng.integers(SMALLEST_MM[shape], np.array(LARGEST_MM[shape]) + 1)]
    maker = "slab" if shape == "bed" else shape
    source = f'generate = {{ shape = "{maker}", seed = {seed}, size_mm = {size_mm}, faces = {faces} }}'
    return stone_of(generate(maker, seed, size_mm, faces=faces), source)


def _scanned(scans: Path, rng: np.random.Generator) -> list[Stone]:
    folder = Path(tempfile.mkdtemp(prefix="stacks-"))
    stones = []
    for file in sorted(file for pattern in SCANS for file in scans.glob(pattern)):
        longest_mm = float(np.round(rng.uniform(*SCANNED_MM)))
        path, _ = save_piece(import_piece(file, ImportOptions(longest_mm=longest_mm, rock=ROCK)), folder)
        stones.append(stone_of(load_body(path, "mm", 1.0), f'mesh = "{path.as_posix()}"'))
    return stones


@lru_cache(maxsize=4)
def exact_quarry(
    per_shape: int = 6, scans: Path | None = None, faces: int = 4000, shapes: tuple[str, ...] = tuple(SMALLEST_MM)
) -> tuple[Quarry, dict[str, tuple[Part, ...]]]:
    """As `quarry`, but every stone is the union of its convex parts: these too, by the body's content hash.

    What an engine collides is then the very shape that everything else sees.
    """
    parts: dict[str, tuple[Part, ...]] = {}
    made: dict[str, list[Stone]] = {}
    for shape, stones in quarry(per_shape, scans, faces, shapes).stones.items():
        united = [one for one in map(_united, stones) if one is not None]
        made[shape] = [stone for stone, _ in united]
        parts |= {stone.body.content_hash(): own for stone, own in united}
    return Quarry(made), parts


def _united(stone: Stone) -> tuple[Stone, tuple[Part, ...]] | None:
    """A stone that is exactly the union of convex parts; None where the union falls into pieces."""
    grown, solids = [], []
    parts = convex_parts(stone.body).parts
    for vertices_m, faces in parts:
        middle_m = vertices_m.mean(axis=0)
        grown.append((middle_m + (SEAM if len(parts) > 1 else 1.0) * (vertices_m - middle_m), faces))
        solids.append(manifold3d.Manifold(manifold3d.Mesh64(grown[-1][0], faces.astype(np.uint64))))
    whole = manifold3d.Manifold.batch_boolean(solids, manifold3d.OpType.Add)
    if whole.genus() != 0 or len(whole.decompose()) != 1:
        return None
    mesh = whole.to_mesh64()
    vertices_m = np.ascontiguousarray(np.asarray(mesh.vert_properties)[:, :3])
    body = make_body(vertices_m, np.asarray(mesh.tri_verts).astype(np.int32))
    away_m = (body.vertices_m - vertices_m)[0]
    return stone_of(body, stone.source), tuple((points_m + away_m, faces) for points_m, faces in grown)


def stone_of(body: Body, source: str) -> Stone:
    """A body with the natural ways in which it lies."""
    lying = rest_poses(body, 0.05) or rest_poses(body)[:1]
    shares = np.array([pose.share for pose in lying])
    tilts_deg = np.array([pose.least_tilt_deg for pose in lying])
    return Stone(body, source, tuple(pose.rotation for pose in lying), shares / shares.sum(), tilts_deg)


def lying(rng: np.random.Generator, stone: Stone) -> Floats:
    """A natural way for a stone to lie, by share, turned about the vertical at random."""
    return way_to_lie(rng, stone)[0]


def way_to_lie(rng: np.random.Generator, stone: Stone) -> tuple[Floats, float]:
    """As `lying`, and the tilt of a level floor that would tip it over, degrees."""
    k = int(rng.choice(len(stone.turns), p=stone.shares))
    return rotation_from_turns((0.0, 0.0, float(rng.uniform(-180.0, 180.0)))) @ stone.turns[k], float(
        stone.tilts_deg[k]
    )
