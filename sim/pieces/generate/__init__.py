"""Pieces out of nothing: layered slab, block and lintel, cobble, shard and branching root.

They serve the demo, the teaching scenes and the tests. Same shape, seed and sizes: same piece.
"""

from __future__ import annotations

import functools
import hashlib
import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.errors import MeshError
from sim.pieces.body import Body, Floats
from sim.pieces.cache import keep, recall
from sim.pieces.generate import block, cobble, lintel, root, shard, slab
from sim.pieces.generate.solid import Solid, mesh_solid

__all__ = ["SHAPES", "Shape", "generate"]


@dataclass(frozen=True, slots=True)
class Shape:
    """A generator and the sizes that it chooses between when none are asked for."""

    make: Callable[..., Solid]
    smallest_mm: Floats  # (3,)
    largest_mm: Floats  # (3,)
    options: tuple[str, ...]


SHAPES = {
    "slab": Shape(slab.slab, slab.SMALLEST_MM, slab.LARGEST_MM, ("rock", "faces")),
    "block": Shape(block.block, block.SMALLEST_MM, block.LARGEST_MM, ("rock", "faces")),
    "lintel": Shape(lintel.lintel, lintel.SMALLEST_MM, lintel.LARGEST_MM, ("rock", "faces")),
    "cobble": Shape(cobble.cobble, cobble.SMALLEST_MM, cobble.LARGEST_MM, ("faces",)),
    "shard": Shape(shard.shard, shard.SMALLEST_MM, shard.LARGEST_MM, ("rock", "faces")),
    "root": Shape(root.root, root.SMALLEST_MM, root.LARGEST_MM, ("limbs", "faces")),
}


def generate(shape: str, seed: int, size_mm: Sequence[float] | None = None, **options: Any) -> Body:
    """Generate a coloured piece.

    Parameters
    ----------
    shape : str
        A key of `SHAPES`.
    seed : int
        Same seed, same piece.
    size_mm : three numbers or None
        Exact extents of the bounding box along x, y, z, 10 to 1000 mm; None draws natural ones from the seed.
    **options
        `rock`: palette "sandstone", "limestone" or "slate" (layered shapes and shard);
        `limbs`: branches of a root; `faces`: triangles to keep, about.

    Raises
    ------
    MeshError
        Unknown shape or option, or sizes out of range.
    """
    if shape not in SHAPES:
        raise MeshError(f'generate: no shape is called "{shape}". Choose one of {", ".join(SHAPES)}.')
    maker = SHAPES[shape]
    unknown = sorted(set(options) - set(maker.options))
    if unknown:
        raise MeshError(f'generate {shape}: no option is called "{unknown[0]}". Known: {", ".join(maker.options)}.')
    rng = np.random.default_rng([seed, list(SHAPES).index(shape)])
    drawn = np.round(rng.uniform(maker.smallest_mm, maker.largest_mm))
    size = drawn if size_mm is None else np.asarray(size_mm, dtype=np.float64)
    if size.shape != (3,) or not np.isfinite(size).all() or size.min() < 10.0 or size.max() > 1000.0:
        raise MeshError(f"generate {shape}: size_mm = {size_mm} is no size. Give three numbers from 10 to 1000 mm.")
    key = hashlib.sha256(json.dumps([shape, seed, size.tolist(), sorted(options.items())]).encode()).hexdigest()
    kept = _unpacked(recall(_kind(), key))
    if kept is not None:
        return kept
    made = mesh_solid(maker.make(rng, size, **options), size)
    keep(_kind(), key, _packed(made))
    return made


@functools.cache
def _kind() -> str:
    """Kind of cache entry: the generators' own text is part of it, so that another version finds nothing old."""
    digest = hashlib.sha256(np.__version__.encode())
    for file in sorted(Path(__file__).parent.glob("*.py")):
        digest.update(file.read_bytes())
    return f"generated-{digest.hexdigest()[:12]}"


def _packed(body: Body) -> dict[str, NDArray[Any]]:
    colours = np.zeros((0, 3), np.uint8) if body.colours is None else body.colours
    return {
        "vertices_m": body.vertices_m,
        "faces": body.faces,
        "colours": colours,
        "volume_area": np.array([body.volume_m3, body.area_m2]),
        "inertia_m5": body.inertia_m5,
    }


def _unpacked(arrays: dict[str, NDArray[Any]] | None) -> Body | None:
    if arrays is None or not {"vertices_m", "faces", "colours", "volume_area", "inertia_m5"} <= set(arrays):
        return None
    volume_m3, area_m2 = arrays["volume_area"]
    colours = arrays["colours"] if len(arrays["colours"]) else None
    return Body(arrays["vertices_m"], arrays["faces"], colours, float(volume_m3), float(area_m2), arrays["inertia_m5"])
