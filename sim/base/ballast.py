"""Wood that floats: how strongly it lifts, how much stone must hold it, and whether that is there.

Soaking is left out: wood grows heavier over weeks, but it goes into the water dry.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sim.materials.ballast import BALLAST_FACTOR, BALLAST_STONE_KG_M3, stone_to_hold_kg
from sim.states import Stage, Water
from sim.statics import Judgement, Reason, Verdict, limit_joints, load_factor
from sim.units import STANDARD_GRAVITY_M_S2

Floats = NDArray[np.float64]

RESTS = 0.2  # vertical share of a contact's normal from which one piece rests on another
UP = 0.5  # vertical share of a motion that rises

HoldVerdict = Literal["held", "held, by too little", "floats off", "undetermined"]


@dataclass(frozen=True, slots=True)
class Held:
    """What the full tank does to the wood that floats."""

    wood: tuple[str, ...]  # pieces lighter than the water that they displace
    lift_n: float  # net, of all of them together
    needed_kg: float  # dry stone, covered by water, that must hold them
    stones: tuple[str, ...]  # that would have to rise with the wood: joined to it, or resting on it
    there_kg: float  # their dry mass
    there_n: float  # their weight in the water
    factor: float  # by which the lift may grow before anything moves; 0 where it floats, nan unknown, inf: no bound
    verdict: HoldVerdict
    reason: str


def net_lift_n(volume_m3: float, wood_kg_m3: float, water_kg_m3: float) -> float:
    """Net lift of covered wood, N: ``(rho_w - rho_wood) V g``, never negative."""
    return max(water_kg_m3 - wood_kg_m3, 0.0) * volume_m3 * STANDARD_GRAVITY_M_S2


def ballast_of(stage: Stage, water: Water, judgement: Judgement) -> Held | None:
    """Judge the hold of floating wood in one water, usually the full one; None where no wood floats.

    Whether it holds is asked of the statics, joints and ties with their strength: the lift is raised until something
    moves. The mass of stone is that of the formula, and of what hangs on the wood or lies on it.
    """
    loads = stage.loads_in(water)
    is_wood = np.array([piece.is_wood for piece in stage.pieces], np.bool_)
    net: Floats = np.where(is_wood, np.maximum(-loads.weight_n, 0.0), 0.0)
    floats = np.flatnonzero(net > 0.0)
    if not len(floats):
        return None
    stones = _riders(stage, judgement, set(floats.tolist()))
    volume = np.array([piece.volume_m3 for piece in stage.pieces])
    chosen = stones or [k for k, piece in enumerate(stage.pieces) if not piece.is_wood]
    density = BALLAST_STONE_KG_M3.default
    if chosen:
        density = float(sum(stage.pieces[k].mass_kg for k in chosen) / volume[chosen].sum())
    lift = float(net.sum())
    factor, verdict, reason = _hold(stage, judgement, water, net)
    return Held(
        wood=tuple(stage.pieces[int(k)].id for k in floats),
        lift_n=lift,
        needed_kg=stone_to_hold_kg(lift, density, water.density_kg_m3),
        stones=tuple(stage.pieces[k].id for k in stones),
        there_kg=float(sum(stage.pieces[k].mass_kg for k in stones)),
        there_n=float(sum(loads.weight_n[k] for k in stones)),
        factor=factor,
        verdict=verdict,
        reason=reason,
    )


def _riders(stage: Stage, judgement: Judgement, wood: set[int]) -> list[int]:
    """Stones that rise where the wood does: joined to it, resting on it, or on what rises."""
    contacts = judgement.system.contacts
    lies_on = [
        (int(b), int(a)) if n > 0.0 else (int(a), int(b))
        for a, b, n in zip(contacts.a, contacts.b, contacts.normal[:, 2], strict=True)
        if abs(n) > RESTS and min(a, b) >= 0
    ]
    joined = [(joint.a, joint.b) for joint in judgement.system.joints if min(joint.a, joint.b) >= 0]
    follows = lies_on + joined + [(b, a) for a, b in joined]
    rising, grows = set(wood), True
    while grows:
        more = {over for under, over in follows if under in rising} - rising
        rising |= more
        grows = bool(more)
    return sorted(k for k in rising if not stage.pieces[k].is_wood)


def _hold(stage: Stage, judgement: Judgement, water: Water, net: Floats) -> tuple[float, HoldVerdict, str]:
    """How far the lift may grow, the verdict and its reason."""
    if judgement.verdict is not Verdict.STANDS:
        rising = [one.piece for one in judgement.moving if one.direction[2] > UP and net[one.piece] > 0.0]
        if judgement.reason is Reason.FLOATS or rising:
            which = rising or [k for k in judgement.pieces if net[k] > 0.0] or np.flatnonzero(net > 0.0).tolist()
            return 0.0, "floats off", f"nothing holds {', '.join(stage.pieces[k].id for k in which)} down"
        return np.nan, "undetermined", "the stack does not stand in this water, for other reasons"
    loads = stage.loads_in(water)
    force = np.zeros((len(net), 3))
    force[:, 2] = net
    further = np.hstack([force, np.cross(loads.lift_arm_m, force)])
    factor = 1.0 + load_factor(limit_joints(judgement.system), loads, further).factor
    if np.isnan(factor):
        return factor, "undetermined", "the solver gave no sound answer"
    if factor < BALLAST_FACTOR.default:
        return factor, "held, by too little", f"wanted is a factor of {BALLAST_FACTOR.default:g}"
    return factor, "held", ""
