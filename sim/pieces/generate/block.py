"""A block: bedded like a slab, but as high as it is deep."""

from __future__ import annotations

import numpy as np

from sim.pieces.body import Floats
from sim.pieces.generate.solid import Solid
from sim.pieces.generate.strata import Bedding, layered

SMALLEST_MM, LARGEST_MM = np.array([110.0, 85.0, 70.0]), np.array([150.0, 120.0, 105.0])


def block(rng: np.random.Generator, size_mm: Floats, rock: str = "sandstone", faces: int = 14000) -> Solid:
    """Make a block of about `size_mm`; `rock` names the palette."""
    count = int(rng.integers(5, 8))
    turn = rng.uniform(0.0, 360.0)
    bedding = Bedding(
        bed_mm=(8.0, 24.0),
        step_mm=3.4,
        sides=tuple(turn + 360.0 / count * np.arange(count)),
        jitter_deg=0.36 * 360.0 / count,
        squareness=3.4,
        cut=(0.8, 1.0),
        spall=0.12,
        chips=9,
    )
    return layered(rng, size_mm, bedding, rock, faces)
