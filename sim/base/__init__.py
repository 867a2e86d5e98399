"""What the panes, the stand and the floor carry.

Glossary
--------
pane       a plate of glass, carried by its rim or on a mat
footing    where a stone presses on the base: its footprint, spread by what lies between
tension    principal tensile stress on either face of the pane
bedding    pressure of a mat per depth of compression (Winkler modulus)
"""

from sim.base.judging import BaseJudge, PaneJudgement, pane_of
from sim.base.lifting import Lift, lift_over_rim
from sim.base.plate import BentPane, Pane, Patch, disc, polygon, rectangle
from sim.base.sides import SideJudge, SideJudgement, side_pane_of
from sim.base.weights import Weights, glass_mass_kg, weights_of

__all__ = [
    "BaseJudge",
    "BentPane",
    "Lift",
    "Pane",
    "PaneJudgement",
    "Patch",
    "SideJudge",
    "SideJudgement",
    "Weights",
    "disc",
    "glass_mass_kg",
    "lift_over_rim",
    "pane_of",
    "polygon",
    "rectangle",
    "side_pane_of",
    "weights_of",
]
