"""A slab: wide, low, bedded; the stone that piers are stacked of."""

from __future__ import annotations

import numpy as np

from sim.pieces.body import Floats
from sim.pieces.generate.solid import Solid
from sim.pieces.generate.strata import Bedding, layered

SMALLEST_MM, LARGEST_MM = np.array([130.0, 90.0, 26.0]), np.array([190.0, 135.0, 46.0])


def slab(rng: np.random.Generator, size_mm: Floats, rock: str = "sandstone", faces: int = 14000) -> Solid:
    """Make a slab of about `size_mm`; `rock` names the palette."""
    count = int(rng.integers(6, 9))
    turn = rng.uniform(0.0, 360.0)
    bedding = Bedding(
        bed_mm=(4.0, 11.0),
        step_mm=2.6,
        sides=tuple(turn + 360.0 / count * np.arange(count)),
        jitter_deg=0.42 * 360.0 / count,
        squareness=2.8,
        cut=(0.78, 1.0),
        spall=0.14,
        chips=6,
    )
    return layered(rng, size_mm, bedding, rock, faces)
