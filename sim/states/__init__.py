"""A scene in all its states: dry-laid and glued, in air, while it is filled, flooded and drained.

Glossary
--------
stage      everything that the states of one scene share
water      one filling, with its level and what it weighs
as built   the state that counts: glued where joints are declared, else dry-laid
answer     what the judges say about one state, in the units of a report
"""

from sim.states.answer import (
    ORDER,
    BaseAnswer,
    EquilibriumAnswer,
    FootprintAnswer,
    ForceRange,
    JointUse,
    LevelAnswer,
    MotionAnswer,
    PushAnswer,
    RobustAnswer,
    StateAnswer,
    StrictAnswer,
    TrialAnswer,
    worst,
)
from sim.states.judging import answer_of, confirmed, judge_laid, undetermined, with_copies, with_trial
from sim.states.misplaced import Misplaced, hovering, misplaced
from sim.states.report import (
    DryLaid,
    GlueTotal,
    Handling,
    JointReport,
    LiftReport,
    ModuleAnswer,
    PieceReport,
    Report,
    Total,
    WeightsReport,
)
from sim.states.stage import Stage, set_stage
from sim.states.water import Filling, Water, waters_of

__all__ = [
    "ORDER",
    "BaseAnswer",
    "EquilibriumAnswer",
    "Filling",
    "FootprintAnswer",
    "ForceRange",
    "JointUse",
    "LevelAnswer",
    "Misplaced",
    "WeightsReport",
    "Total",
    "Report",
    "PieceReport",
    "LiftReport",
    "ModuleAnswer",
    "Handling",
    "JointReport",
    "DryLaid",
    "GlueTotal",
    "MotionAnswer",
    "PushAnswer",
    "RobustAnswer",
    "Stage",
    "StateAnswer",
    "StrictAnswer",
    "TrialAnswer",
    "Water",
    "answer_of",
    "confirmed",
    "hovering",
    "judge_laid",
    "misplaced",
    "set_stage",
    "undetermined",
    "waters_of",
    "with_copies",
    "with_trial",
    "worst",
]
