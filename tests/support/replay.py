"""An order built step by step in a dynamic engine: does every step stand there too?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.contact import find_contacts
from sim.contact.assembly import part_of
from sim.order import Order
from sim.pieces.friction import friction_matrix
from sim.pieces.placing import moved
from sim.states import Stage
from sim.statics import shaken
from sim.trial import TrialRun, engine, rules_of, run, stage
from sim.units import MM_PER_M

MOST_STEPS = 400


@dataclass(frozen=True, slots=True, eq=False)
class Replayed:
    """One step in the engine."""

    number: int
    unit: str
    held: bool  # by a hand: not tried
    run: TrialRun | None

    @property
    def drift_mm(self) -> float:
        """From where the engine's own shapes came to rest."""
        return 0.0 if self.run is None else MM_PER_M * float(self.run.drift_m.max(initial=0.0))


def replay(built: Stage, order: Order, name: str = "bullet") -> Iterator[Replayed]:
    """Each step of an order with the glue that has cured by then as one body; steps that need a hold are not tried."""
    names = [piece.id for piece in built.pieces]
    there = built.dry.fixed.copy()
    cured: set[tuple[str, str]] = set()
    module_of = {piece: step.unit for step in order.steps for piece in step.pieces}
    joined = [(names[joint.a], names[joint.b]) for joint in built.declared.joints if min(joint.a, joint.b) >= 0]
    cured |= {pair for pair in joined if module_of.get(pair[0]) == module_of.get(pair[1])}
    friction = friction_matrix(built.scene, built.pieces, wet=False)
    planes = np.arange(len(names), friction.shape[1])
    rules = rules_of(built.scene)
    for step in order.steps:
        cured |= set(step.wait_first)
        there[[names.index(piece) for piece in step.pieces]] = True
        if step.holding:
            yield Replayed(step.number, step.unit, True, None)
            continue
        keep = np.flatnonzero(there)
        pieces = [built.pieces[k] for k in keep]
        now = {names[k]: i for i, k in enumerate(keep)}
        scene = built.scene
        glued = [(now[a], now[b]) for a, b in sorted(cured) if a in now and b in now]
        assembly, poses = part_of(built.dry, built.poses, there)
        if step.settles_mm > 0.0:
            # the order says that it gives here: the engine starts from where it then lies
            lumps = _lumps(len(pieces), glued)
            (loose,) = shaken(assembly, poses, lumps, 1, 0.0, 0.0, most_steps=MOST_STEPS)
            poses = loose.poses
            places = zip(pieces, poses.rotation, poses.position_m, strict=True)
            pieces = [moved(piece, rotation, position_m) for piece, rotation, position_m in places]
        staged = stage(
            scene,
            pieces,
            friction[np.ix_(keep, np.concatenate([keep, planes]))],
            glued=glued,
            contacts=find_contacts(assembly, poses, scene.check.contact_mm / MM_PER_M),
        )
        made = run(
            engine(name),
            staged.setup,
            duration_s=rules.duration_s,
            step_s=rules.step_s,
            drift_limit_m=rules.drift_limit_m,
        )
        yield Replayed(step.number, step.unit, False, made)


def _lumps(count: int, glued: list[tuple[int, int]]) -> NDArray[np.int64]:
    """Number of the body that each piece is part of."""
    lump = np.arange(count)
    for a, b in glued:
        lump[lump == lump[b]] = lump[a]
    return np.unique(lump, return_inverse=True)[1].astype(np.int64)
