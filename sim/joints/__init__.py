"""Glued joints: the patch, its section, its strength; pure functions.

Glossary
--------
patch          the outline that glue can bridge between two pieces
contact fraction  share of the outline that is really wetted: glue sits in dabs on rough stone
wrench         what a joint carries: two shears, tension, two moments, torsion
utilisation    used share of the design strength; a joint over 1 breaks at once, since glue is brittle
"""

from sim.joints.amount import GlueAmount, bed_amount, glue_amount, outline_of
from sim.joints.gluing import Declared, Unusable, declared_joints
from sim.joints.joint import SHEAR_TO_NORMAL_STIFFNESS, Joint, design_strength_pa, glue_stiffness_pa_m
from sim.joints.patch import JointPatch, joint_patch, utilisation

__all__ = [
    "Declared",
    "GlueAmount",
    "Joint",
    "JointPatch",
    "SHEAR_TO_NORMAL_STIFFNESS",
    "Unusable",
    "bed_amount",
    "declared_joints",
    "design_strength_pa",
    "glue_amount",
    "glue_stiffness_pa_m",
    "joint_patch",
    "outline_of",
    "utilisation",
]
