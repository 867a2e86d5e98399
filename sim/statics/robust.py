"""The robust margin: does the stack still stand, and how far can it be tilted, if every piece lay a little off?

A stack that rests on an edge stands on paper and falls at a touch: among its copies (see `copies`)
some fall, or stand with next to no tilt left. Every state of water judges the same copies under
its own loads and friction.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.contact import CONTACT_M, Assembly, Poses, find_contacts
from sim.joints import Joint
from sim.statics.copies import Copy, Fate
from sim.statics.judge import Judgement, Verdict, judge_system
from sim.statics.loads import Loads
from sim.statics.lumps import carried
from sim.statics.programme import Feasible
from sim.statics.system import assemble_system, limit_joints
from sim.statics.tilt import critical_tilt, unsliding

Floats = NDArray[np.float64]

# Seating leaves bearing surfaces 6 um apart as a rule, now and then up to 20 um: `CONTACT_M` allows for that. On
# gently curved or finely faceted stone it also counts a rim of a millimetre or two that nothing bears on, which makes
# a tilt too high by up to its half. Where a narrower reach carries the stack, that is the margin.
NARROW_M = (1.0e-5, 1.5e-5)


@dataclass(frozen=True, slots=True, eq=False)
class Robust:
    """The least margin over the copies of one state and the stack as given; nan where no copy gave an answer.

    A copy that fell, comes down under these loads or lives on wedging counts with a tilt of 0.
    """

    least_tilt_deg: float  # sliding on the base included, as `Equilibrium.critical_tilt_deg`
    least_stack_tilt_deg: float  # on a base that it cannot slide on, as `Equilibrium.stack_tilt_deg`
    copies: int  # that gave an answer
    tilts_deg: Floats  # (c,) per copy, nan without an answer
    stack_tilts_deg: Floats  # (c,)
    falls: int  # copies that fell or come down
    moving: tuple[int, ...]  # pieces that set out, in the copy with the least tilt
    unknown: str  # why some copy gave no answer, else empty; only a least tilt of 0 is certain in spite of it


def robust(
    copies: Sequence[Copy],
    assembly: Assembly,
    nominal: Poses,
    loads_of: Callable[[Poses], Loads],
    joints: Sequence[Joint] = (),
    reach_m: float = CONTACT_M,
    workers: int | None = None,
) -> Robust:
    """Judge copies under the loads and friction of one state, and report the least margin.

    Parameters
    ----------
    copies : from `shaken`
    assembly : with the friction of the state, dry or wet
    nominal : poses at which the joints are given
    loads_of : loads of the state at given poses
    joints : glued ones, at the nominal poses; each goes where its piece goes
    reach_m : gaps below this count as contact. Up to `CONTACT_M` each copy is judged on the narrowest reach
        that carries it, from `NARROW_M` on
    workers : threads, default one per core

    Returns
    -------
    Robust
        Compare `least_tilt_deg` with `Equilibrium.critical_tilt_deg` of the stack as given.
    """

    def work(copy: Copy) -> _Answer:
        return _judged(copy, assembly, nominal, loads_of, joints, reach_m)

    if not copies:
        return Robust(np.nan, np.nan, 0, np.zeros(0), np.zeros(0), 0, (), "no copy was made")
    with ThreadPoolExecutor(max(1, min(len(copies), workers or os.cpu_count() or 1))) as pool:
        answers = list(pool.map(work, copies))
    tilts = np.array([answer.tilt_deg for answer in answers])
    stack = np.array([answer.stack_tilt_deg for answer in answers])
    known = [answer for answer in answers if not answer.unknown]
    # Copies that were pressed together stay up to 14 um inside each other, so that more of their rims touch. The
    # stack as given, where it stands, bounds the margin too; that it does not stand is said elsewhere.
    if known and not any(answer.falls for answer in known):
        given = work(Copy(nominal, Fate.AT_REST, -1, np.zeros(len(assembly.mass_kg)), 0))
        known += [] if given.unknown or given.falls else [given]
    lowest = min(known, key=lambda answer: np.nan_to_num(answer.tilt_deg, nan=np.inf), default=None)
    return Robust(
        least_tilt_deg=_least(np.array([answer.tilt_deg for answer in known])),
        least_stack_tilt_deg=_least(np.array([answer.stack_tilt_deg for answer in known])),
        copies=sum(not answer.unknown for answer in answers),
        tilts_deg=tilts,
        stack_tilts_deg=stack,
        falls=sum(answer.falls for answer in answers),
        moving=lowest.moving if lowest else (),
        unknown=next((answer.unknown for answer in answers if answer.unknown), ""),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Answer:
    tilt_deg: float
    stack_tilt_deg: float
    falls: bool
    moving: tuple[int, ...]
    unknown: str = ""


def _judged(
    copy: Copy,
    assembly: Assembly,
    nominal: Poses,
    loads_of: Callable[[Poses], Loads],
    joints: Sequence[Joint],
    reach_m: float,
) -> _Answer:
    if copy.fate is Fate.FELL:
        return _Answer(0.0, 0.0, True, (copy.fallen,))
    if copy.fate is Fate.UNKNOWN:
        return _Answer(np.nan, np.nan, False, (), copy.reason)
    loads = loads_of(copy.poses)
    found = _on_narrowest(assembly, copy.poses, loads, carried(joints, nominal, copy.poses), reach_m)
    moving = tuple(motion.piece for motion in found.moving)
    if found.verdict is Verdict.UNKNOWN:
        return _Answer(np.nan, np.nan, False, (), f"a copy: {found.reason.value}" + (found.note and f" ({found.note})"))
    if found.verdict is Verdict.FALLS:
        return _Answer(0.0, 0.0, True, moving or found.pieces)
    if found.margins is None:
        return _Answer(np.nan, np.nan, False, ())
    return _Answer(found.margins.critical_tilt_deg, _stack_tilt(found, loads), False, moving)


def _on_narrowest(
    assembly: Assembly, poses: Poses, loads: Loads, joints: tuple[Joint, ...], reach_m: float
) -> Judgement:
    """The judgement on the narrowest reach by which the stack stands; by the widest, whatever it says."""
    narrower = [reach for reach in NARROW_M if reach < reach_m <= CONTACT_M]
    for reach in [*narrower, reach_m]:
        contacts = find_contacts(assembly, poses, reach)
        found = judge_system(assemble_system(poses.position_m, contacts, assembly.fixed, joints), loads, quick=True)
        if found.verdict is Verdict.STANDS:
            break
    return found


def _stack_tilt(found: Judgement, loads: Loads) -> float:
    margins = found.margins
    if margins is None or not np.isnan(margins.stack_tilt_deg) or np.isnan(margins.critical_tilt_deg):
        return np.nan if margins is None else margins.stack_tilt_deg
    stuck = critical_tilt(unsliding(limit_joints(found.system)), loads)
    return stuck.least_deg if stuck.status is Feasible.YES else np.nan


def _least(values: Floats) -> float:
    known = values[~np.isnan(values)]
    return float(known.min()) if len(known) else np.nan
