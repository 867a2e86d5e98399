"""A lintel: a long bedded slab, squared by two joint sets, that can bridge two piers."""

from __future__ import annotations

import numpy as np

from sim.pieces.body import Floats
from sim.pieces.generate.solid import Solid
from sim.pieces.generate.strata import Bedding, layered

SMALLEST_MM, LARGEST_MM = np.array([290.0, 95.0, 42.0]), np.array([340.0, 125.0, 58.0])


def lintel(rng: np.random.Generator, size_mm: Floats, rock: str = "sandstone", faces: int = 18000) -> Solid:
    """Make a lintel of about `size_mm`, longest along x; `rock` names the palette."""
    bedding = Bedding(
        bed_mm=(5.0, 15.0),
        step_mm=3.2,
        sides=(0.0, 52.0, 84.0, 97.0, 128.0, 180.0, 228.0, 263.0, 276.0, 310.0),
        jitter_deg=8.0,
        squareness=3.6,
        cut=(0.86, 1.0),
        spall=0.08,
        chips=10,
    )
    return layered(rng, size_mm, bedding, rock, faces)
