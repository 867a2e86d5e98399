"""The dynamic trial: pieces as convex parts in a rigid-body engine, left alone for a while.

Glossary
--------
trial      one stack, in one engine, several times with small changes
run        one of these times
lump       pieces glued together, which move as one body
clearing   shifting pieces apart until nothing overlaps; an overlap would act as a preload and hold what falls
settling   letting them come to rest without speed, since convex parts bulge and do not touch where stones do
drift      the largest movement of a corner of a piece's bounding box, counted from the settled pose
"""

from sim.trial.engine import (
    Engine,
    EngineTrouble,
    TrialBody,
    TrialBox,
    TrialRun,
    TrialSetup,
    World,
    engine,
    engines_installed,
    tank_boxes,
)
from sim.trial.repeats import Spread, Trial, TrialRules, difference, trial, varied
from sim.trial.running import run
from sim.trial.staging import Push, Staged, lifts, rules_of, spread_of, stage

__all__ = [
    "TrialBody",
    "TrialBox",
    "TrialSetup",
    "TrialRun",
    "Trial",
    "TrialRules",
    "Spread",
    "trial",
    "difference",
    "varied",
    "run",
    "stage",
    "Staged",
    "Push",
    "lifts",
    "rules_of",
    "spread_of",
    "Engine",
    "EngineTrouble",
    "World",
    "engine",
    "engines_installed",
    "tank_boxes",
]
