"""One state of a stack, judged by everything that is quick: what the check of a scene asks for."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from sim.contact import Assembly, Contacts, Poses
from sim.joints import Joint
from sim.statics.glued import Glued, fall_motion, glued
from sim.statics.loads import Loads
from sim.statics.margins import Equilibrium, equilibrium
from sim.statics.mechanism import Motion, motions
from sim.statics.programme import WEIGHTLESS, Feasibility, Feasible
from sim.statics.strict import Strict, StrictAnswer
from sim.statics.system import System, assemble_system, limit_joints

Floats = NDArray[np.float64]

TOP_M = 1.0e-3  # what lies this little below the highest point belongs to the top


class Verdict(Enum):
    """Answer of the fast judges on one state."""

    STANDS = "stands"
    FALLS = "falls"
    UNKNOWN = "undetermined"


class Reason(Enum):
    """Why a state does not stand, or is not known to."""

    NONE = ""
    COMES_DOWN = "no contact forces hold it"
    FLOATS = "it floats and nothing holds it down"
    UNSUPPORTED = "it touches nothing"
    WEDGED = "it is held by wedging alone"
    GLUE_BREAKS = "its glue breaks"
    SOLVER = "the solver gave no sound answer"
    NO_DIRECTION = "its margin is unknown"


@dataclass(frozen=True, slots=True, eq=False)
class Judgement:
    """Verdict on one state, and everything that it rests on."""

    verdict: Verdict
    reason: Reason
    pieces: tuple[int, ...]  # that the reason is about
    note: str
    system: System  # with the joints that hold
    feasibility: Feasibility
    strict: StrictAnswer
    margins: Equilibrium | None  # None unless it stands
    glue: Glued | None  # None without joints
    moving: tuple[Motion, ...]  # of the collapse, or at the critical tilt of what stands


def judge(
    assembly: Assembly,
    poses: Poses,
    contacts: Contacts,
    loads: Loads,
    joints: tuple[Joint, ...] = (),
    quick: bool = False,
    tops_m: Floats | None = None,
) -> Judgement:
    """Judge pieces at given poses on given contacts.

    Parameters
    ----------
    contacts : from `find_contacts`, dry or wet friction as the state has it
    joints : glued ones; none for the dry-laid state
    quick : leave pushes and friction reserve out
    tops_m : (n, 3) where each piece is pushed; default its highest point

    Returns
    -------
    Judgement
        'stands' only when forces were found whose balance was recomputed, that arise by loading
        alone, and within the strength of the glue.
    """
    tops = highest_points(assembly, poses) if tops_m is None and not quick else tops_m
    system = assemble_system(poses.position_m, contacts, assembly.fixed, joints)
    return judge_system(system, loads, quick, tops)


def judge_system(system: System, loads: Loads, quick: bool = False, tops_m: Floats | None = None) -> Judgement:
    """Judge an assembled system; see `judge`."""
    held = glued(system, loads)
    found, strict = held.feasibility, held.strict
    glue = held if system.joints else None
    reach = system.length_m
    if held.verdict is not Strict.STANDS:
        moving = motions(fall_motion(held, loads), system.centre_m, reach)
        verdict, reason, pieces = _failure(held, loads, [motion.piece for motion in moving])
        return Judgement(verdict, reason, pieces, held.note, held.left, found, strict, None, glue, moving)
    margins = equilibrium(limit_joints(held.left), loads, tops_m, quick) if np.any(system.free) else None
    moving = motions(margins.tilt.mechanism, system.centre_m, reach) if margins and margins.tilt else ()
    weightless = not np.any(np.abs(loads.weight_n[system.free]) > WEIGHTLESS)
    if margins and np.isnan(margins.critical_tilt_deg) and not weightless:
        note = margins.tilt.note if margins.tilt else ""
        return Judgement(
            Verdict.UNKNOWN, Reason.NO_DIRECTION, (), note, held.left, found, strict, margins, glue, moving
        )
    return Judgement(Verdict.STANDS, Reason.NONE, (), "", held.left, found, strict, margins, glue, moving)


def highest_points(assembly: Assembly, poses: Poses) -> Floats:
    """Top (n, 3) of each piece: its highest point, of a flat top the middle."""
    tops = poses.position_m.copy()
    samples, bodies = assembly.samples, assembly.bodies
    for i in range(len(tops)):
        clusters = slice(bodies.cluster_start[i], bodies.cluster_end[i])
        own = slice(samples.cluster_start[clusters].min(), samples.cluster_end[clusters].max())
        points = samples.point[own] @ poses.rotation[i].T + poses.position_m[i]
        upper = points[points[:, 2] >= points[:, 2].max() - TOP_M]
        tops[i] = [*((upper.min(axis=0) + upper.max(axis=0)) / 2.0)[:2], points[:, 2].max()]
    return tops


def _failure(held: Glued, loads: Loads, down: list[int]) -> tuple[Verdict, Reason, tuple[int, ...]]:
    if held.verdict is Strict.UNKNOWN:
        return Verdict.UNKNOWN, Reason.SOLVER, ()
    system = held.left
    if held.feasibility.status is Feasible.YES:
        return Verdict.FALLS, Reason.WEDGED, tuple(down)
    floating = [piece for piece in down if loads.weight_n[piece] < -WEIGHTLESS]
    if floating:
        return Verdict.FALLS, Reason.FLOATS, tuple(floating)
    touching = np.union1d(system.contacts.a, system.contacts.b)
    glued_ones = [side for joint in system.joints for side in (joint.a, joint.b)]
    lonely = [int(i) for i in np.flatnonzero(system.free) if i not in touching and i not in glued_ones]
    if lonely:
        return Verdict.FALLS, Reason.UNSUPPORTED, tuple(lonely)
    if held.broken:
        return Verdict.FALLS, Reason.GLUE_BREAKS, tuple(down)
    return Verdict.FALLS, Reason.COMES_DOWN, tuple(down)
