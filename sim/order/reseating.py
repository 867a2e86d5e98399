"""A part of a stack comes to rest by itself, a little beside where it ends.

In the finished stack the pieces above press a stone onto its bed. Before they are there it may rest on other points,
a fraction of a millimetre away: no step fails because of that, as long as it comes to rest nearby (within the drift
that a trial allows too) and stands there.
"""

from __future__ import annotations

import numpy as np

from sim.contact import find_contacts
from sim.contact.assembly import part_of
from sim.order.judging import Part, Standing, loads_of, renumbered
from sim.order.problem import Problem, bits
from sim.states import Stage
from sim.statics import (
    Feasible,
    Strict,
    assemble_system,
    carried,
    critical_tilt,
    limit_joints,
    lumps_of,
    shaken,
    unsliding,
)
from sim.statics.glued import glued
from sim.units import MM_PER_M

MOST_STEPS = 400


class Reseating:
    """Lets parts of one stage come to rest."""

    def __init__(self, stage: Stage, problem: Problem) -> None:
        self.stage, self.problem = stage, problem

    def __call__(self, part: Part) -> Standing | None:
        """Where the part comes to rest nearby and stands, that answer; else None."""
        stage, problem = self.stage, self.problem
        chosen = stage.dry.fixed.copy()
        chosen[bits(part[0])] = True
        index = {int(piece): k for k, piece in enumerate(np.flatnonzero(chosen))}
        assembly, poses = part_of(stage.dry, stage.poses, chosen)
        joints = renumbered([problem.joints[k] for k in bits(part[1])], index)
        (copy,) = shaken(
            assembly, poses, lumps_of(joints, len(index)), count=1, shift_m=0.0, turn_deg=0.0, most_steps=MOST_STEPS
        )
        moved_m = float(copy.moved_m.max(initial=0.0))
        if not copy.at_rest or moved_m > stage.scene.check.drift_mm / MM_PER_M:
            return None
        contacts = find_contacts(assembly, copy.poses, stage.scene.check.contact_mm / MM_PER_M)
        mine = loads_of(problem.loads, np.flatnonzero(chosen))
        system = assemble_system(copy.poses.position_m, contacts, assembly.fixed, carried(joints, poses, copy.poses))
        if glued(system, mine).verdict is not Strict.STANDS:
            return None
        tilt = critical_tilt(limit_joints(unsliding(system)), mine)
        margin = tilt.least_deg if tilt.status is Feasible.YES else np.nan
        return Standing(Strict.STANDS, (), (), settled_m=max(moved_m, 1.0e-9), margin_deg=margin)
