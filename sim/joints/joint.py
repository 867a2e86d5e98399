"""A glued joint as the statics needs it: which pieces, which patch, how strong, how stiff."""

from __future__ import annotations

from dataclasses import dataclass

from sim.joints.patch import JointPatch
from sim.materials import STONE_DIVISOR, Adhesive, Glass, Rock, Wood
from sim.units import PA_PER_MPA

SHEAR_TO_NORMAL_STIFFNESS = 1.0 / 2.6  # of an isotropic layer, G/E = 1 / (2 (1 + nu)) at nu = 0.3


@dataclass(frozen=True, slots=True, eq=False)
class Joint:
    """Glue between piece a and piece b (negative: base or pane)."""

    a: int
    b: int
    patch: JointPatch
    design_strength_pa: float
    stiffness_pa_m: float  # pull per opening: modulus of the glue over its thickness


def design_strength_pa(glue: Adhesive, *sides: Rock | Wood | Glass) -> float:
    """Design strength in tension and shear: the glue's, or that of a weaker stone beside it.

    Parameters
    ----------
    glue : row of the table
    sides : what it joins; wood and glass set no limit here

    Returns
    -------
    float
        ``min(f_d, tensile strength of each stone / 6.75)`` in Pa, from the tables' usual values.
    """
    stones = [side.tensile_mpa.default / STONE_DIVISOR for side in sides if isinstance(side, Rock)]
    return min([glue.permanent_mpa.default, *stones]) * PA_PER_MPA


def glue_stiffness_pa_m(glue: Adhesive, thickness_m: float) -> float:
    """Pull per opening of a bond line, Pa/m; `thickness_m` is positive."""
    return glue.youngs_pa.default / thickness_m
