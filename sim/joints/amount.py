"""How much glue a joint takes, and how long it needs.

    V = A g + p f^2 / 2 + A phi d,   m = rho V (1 + waste)

A the glued outline, g the mean gap, p its perimeter, f the leg of the bead around it, phi the stone's porosity and d
how deep the glue sinks in.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sim.errors import BedjointError
from sim.joints.patch import JointPatch
from sim.materials import Adhesive, Rock, Wood
from sim.units import MM_PER_M


@dataclass(frozen=True, slots=True)
class GlueAmount:
    """Glue for one joint."""

    volume_m3: float  # that ends in the joint
    mass_kg: float  # to buy, waste included
    fixture_min: float  # until it holds the piece by itself
    cure_h: float  # until full strength


def outline_of(patch: JointPatch) -> tuple[float, float]:
    """Area in m2 and perimeter in m of a patch's whole outline, contact fraction left out."""
    corners = patch.corners_m
    sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    return patch.area_m2 / patch.contact_fraction, float(sides.sum())


def bed_amount(
    glue: Adhesive, patch: JointPatch, gap_m: float, fillet_m: float = 0.0, sides: tuple[Rock | Wood | None, ...] = ()
) -> GlueAmount:
    """`glue_amount` of the whole outline of a patch."""
    return glue_amount(glue, *outline_of(patch), gap_m, fillet_m, sides)


def glue_amount(
    glue: Adhesive,
    area_m2: float,
    perimeter_m: float,
    gap_m: float,
    fillet_m: float = 0.0,
    sides: tuple[Rock | Wood | None, ...] = (),
) -> GlueAmount:
    """Volume, mass and times of one glued joint.

    Parameters
    ----------
    area_m2, perimeter_m : of the glued outline; positive
    gap_m : mean thickness, not negative
    fillet_m : leg of the bead around it; 0: none
    sides : what it joins; porous rock takes up glue on each side that is one

    Raises
    ------
    BedjointError
        For sizes that are not positive.

    References
    ----------
    A 45-degree bead of leg f has the section ``f^2 / 2``. The waste allowance is that of the table of glues.
    """
    if not (area_m2 > 0.0 and perimeter_m > 0.0 and gap_m >= 0.0 and fillet_m >= 0.0):
        raise BedjointError("glue: area and perimeter must be over 0, gap and bead not under 0.")
    depth_m = glue.pore_depth_mm.default / MM_PER_M
    pores = sum(side.porosity.default for side in sides if isinstance(side, Rock))
    volume = area_m2 * gap_m + perimeter_m * fillet_m**2 / 2.0 + area_m2 * pores * depth_m
    mass = glue.density_kg_m3.default * volume * glue.waste.default
    return GlueAmount(volume, mass, glue.fixture_min.default, glue.cure_h.default)
