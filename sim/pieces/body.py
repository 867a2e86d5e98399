"""A piece's body: a closed triangle mesh about its centre of volume."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Faces = NDArray[np.int32]
Colours = NDArray[np.uint8]


@dataclass(frozen=True, slots=True, eq=False)
class Body:
    """A closed, outward-oriented manifold mesh, and what of it a picture needs.

    The frame's origin is the centre of volume, its axes are those of the mesh file.
    """

    vertices_m: Floats  # (n, 3)
    faces: Faces  # (m, 3), counter-clockwise seen from outside
    colours: Colours | None = None  # (n, 3) sRGB per vertex, or None: the material's own colour
    volume_m3: float = 0.0
    area_m2: float = 0.0
    inertia_m5: Floats = field(default_factory=lambda: np.zeros((3, 3)))  # (3, 3) at density 1, about the origin

    def content_hash(self) -> str:
        """Hash of the shape alone (not the colours): the key of every cache."""
        digest = hashlib.sha256()
        digest.update(np.ascontiguousarray(self.vertices_m, dtype="<f8").tobytes())
        digest.update(np.ascontiguousarray(self.faces, dtype="<i4").tobytes())
        return digest.hexdigest()
