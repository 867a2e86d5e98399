"""What the tip of a stone does to bare glass, after Hertz. No pass comes of it: it tells why a soft layer is needed.

    a = (3 F R / (4 E*))^(1/3),  p0 = 3 F / (2 pi a^2),  tension at the contact's edge (1 - 2 nu) p0 / 3
    1 / E* = (1 - nu1^2) / E1 + (1 - nu2^2) / E2

References
----------
Johnson, K. L. (1985). Contact Mechanics, sections 3.4 and 4.2 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sim.materials import glass
from sim.materials.glasses import TIP_POISSON, TIP_RADIUS_M, TIP_YOUNGS_PA


@dataclass(frozen=True, slots=True)
class Tip:
    """A round tip pressed onto glass."""

    radius_m: float  # of the contact
    peak_pa: float  # pressure in its middle
    edge_tension_pa: float  # radial tension in the glass around it


def tip_on_glass(
    force_n: float,
    tip_radius_m: float = TIP_RADIUS_M,
    youngs_pa: float = TIP_YOUNGS_PA,
    poisson: float = TIP_POISSON,
) -> Tip:
    """Stress of an elastic sphere on annealed glass.

    Parameters
    ----------
    force_n : above 0
    tip_radius_m : radius of curvature of the stone where it touches
    youngs_pa, poisson : of the stone
    """
    kind = glass("annealed")
    compliance = (1.0 - kind.poisson.default**2) / kind.youngs_pa.default + (1.0 - poisson**2) / youngs_pa
    radius_m = (0.75 * force_n * tip_radius_m * compliance) ** (1.0 / 3.0)
    peak_pa = 1.5 * force_n / (np.pi * radius_m**2)
    return Tip(radius_m, float(peak_pa), float((1.0 - 2.0 * kind.poisson.default) * peak_pa / 3.0))
