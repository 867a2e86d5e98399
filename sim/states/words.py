"""Reasons and margins in words that a builder uses."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sim.statics import Judgement, Motion, Reason

Floats = NDArray[np.float64]

COMPASS = ("right", "back right", "back", "back left", "left", "front left", "front", "front right")
UPWARD = 0.8  # vertical share of a direction that counts as up or down
MOST_NAMED = 4


def towards(azimuth_deg: float) -> str:
    """Direction on the base in words; 0 is to the right, 90 to the back."""
    return COMPASS[round(azimuth_deg / 45.0) % 8]


def listed(names: list[str]) -> str:
    """Names with 'and' before the last; of many the first few."""
    if len(names) > MOST_NAMED:
        names = [*names[: MOST_NAMED - 1], f"{len(names) - MOST_NAMED + 1} more"]
    return " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else "".join(names)


def way(direction: Floats) -> str:
    """A direction in space in words."""
    if not np.isfinite(direction).all():
        return "on the spot"
    if abs(direction[2]) > UPWARD:
        return "upward" if direction[2] > 0.0 else "downward"
    return f"to the {towards(float(np.degrees(np.arctan2(direction[1], direction[0]))))}"


def motion_words(motion: Motion, names: list[str]) -> str:
    """How one piece sets out: 'lintel tips to the front'."""
    name = names[motion.piece]
    if np.isfinite(motion.direction).all() and abs(motion.direction[2]) > UPWARD:
        verb = "rises" if motion.direction[2] > 0.0 else "drops"
        return f"{name} {verb}"
    return f"{name} {'tips' if motion.turns else 'slides'} {way(motion.direction)}"


def reason_words(judgement: Judgement, names: list[str], joint_names: list[str]) -> str:
    """Why a state does not stand, or is not known to."""
    first = motion_words(judgement.moving[0], names) if judgement.moving else ""
    also = [names[motion.piece] for motion in judgement.moving[1:]]
    with_others = f", and with it {listed(also)}" if also else ""
    about = listed([names[piece] for piece in judgement.pieces])
    if judgement.reason is Reason.FLOATS:
        return f"{about} floats: nothing holds it down"
    if judgement.reason is Reason.UNSUPPORTED:
        return f"{about} touches nothing"
    if judgement.reason is Reason.WEDGED:
        return f"{about} is held by wedging alone, which nothing presses home" if about else "held by wedging alone"
    if judgement.reason is Reason.GLUE_BREAKS and judgement.glue is not None:
        broken = listed([joint_names[k] for k in judgement.glue.broken])
        return f"the joint breaks at {broken}; then {first}{with_others}" if first else f"the joint breaks at {broken}"
    if judgement.reason is Reason.SOLVER:
        return f"the solver gave no sound answer{': ' + judgement.note if judgement.note else ''}"
    if judgement.reason is Reason.NO_DIRECTION:
        return f"its margin is unknown{': ' + judgement.note if judgement.note else ''}"
    if judgement.reason is Reason.COMES_DOWN:
        return f"{first}{with_others}" if first else "it comes down"
    return ""
