"""Does it stand? The fast judges: equilibrium, the strict check, margins, glue.

Glossary
--------
system       equilibrium of pieces on contacts and joints, assembled once
loads        effective weights: gravity less buoyancy, and where they act
feasible     some admissible contact forces balance the loads
mechanism    velocities by which an unstable stack comes down
strict       stands by loading alone, without preload or dilatancy
critical tilt  least tilt of the tank that brings the stack down
copy         the stack with every piece a little off, come to rest again
lump         pieces glued together, which move as one
bracket      least and most of a force over all admissible states
"""

from sim.statics.copies import Copy, Fate, shaken
from sim.statics.glued import Glued, glued
from sim.statics.judge import Judgement, Reason, Verdict, highest_points, judge, judge_system
from sim.statics.loads import Loads, loads_at, submerged_part, weights
from sim.statics.lumps import HELD, carried, lumps_of
from sim.statics.margins import (
    Equilibrium,
    Push,
    equilibrium,
    friction_reserve,
    least_pushes,
    topple_energies,
)
from sim.statics.mechanism import Lacking, Motion, collapse_motion, lacking_support, motions
from sim.statics.nominal import Bracket, Footprint, bracket, footprints, nominal_forces, peak_pressure
from sim.statics.programme import Feasibility, Feasible, LoadFactor, feasible, load_factor
from sim.statics.robust import Robust, robust
from sim.statics.strict import Strict, StrictAnswer, rests, strict_check
from sim.statics.system import System, assemble_system, limit_joints
from sim.statics.tilt import CriticalTilt, critical_tilt, sliding_tilt, unsliding

__all__ = [
    "Bracket",
    "Copy",
    "CriticalTilt",
    "Equilibrium",
    "Fate",
    "Feasibility",
    "Feasible",
    "Footprint",
    "Glued",
    "HELD",
    "Judgement",
    "Lacking",
    "LoadFactor",
    "Loads",
    "Motion",
    "Push",
    "Reason",
    "Robust",
    "Strict",
    "StrictAnswer",
    "System",
    "Verdict",
    "assemble_system",
    "bracket",
    "carried",
    "collapse_motion",
    "critical_tilt",
    "equilibrium",
    "feasible",
    "footprints",
    "friction_reserve",
    "glued",
    "highest_points",
    "judge",
    "judge_system",
    "lacking_support",
    "least_pushes",
    "limit_joints",
    "load_factor",
    "loads_at",
    "lumps_of",
    "motions",
    "nominal_forces",
    "peak_pressure",
    "rests",
    "robust",
    "shaken",
    "sliding_tilt",
    "strict_check",
    "submerged_part",
    "topple_energies",
    "unsliding",
    "weights",
]
