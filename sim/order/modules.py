"""Groups worth gluing outside the tank: do they stand on a table, fit through the opening, and can they be lifted?"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass

import numpy as np

from sim.contact import Poses
from sim.contact.assembly import part_of
from sim.glue import judge_module
from sim.materials import NEVER_ALONE_KG
from sim.order.ordering import Order, best_order
from sim.order.problem import Problem, Unit, problem_of
from sim.order.reach import Shapes, ways_of
from sim.order.reseating import Reseating
from sim.scene import ModuleEntry
from sim.states import ModuleAnswer, Stage
from sim.statics import shaken

CLEAR_M = 1.0e-4  # above the table when it is let go
MOST_STEPS = 600


@dataclass(frozen=True, slots=True)
class ModuleCheck:
    """A module as a unit of an order."""

    answer: ModuleAnswer
    stands_on_table: bool
    fits: bool
    against: tuple[str, ...]  # why it is refused, with the numbers; empty where it is worth doing

    @property
    def worth(self) -> bool:
        return not self.against


@dataclass(frozen=True, slots=True)
class Proposal:
    """A group to glue outside, and the order that it allows."""

    pieces: tuple[str, ...]
    check: ModuleCheck
    order: Order


def check_module(stage: Stage, entry: ModuleEntry) -> ModuleCheck:
    """Whether a group can be glued on a table, carried, and brought to its place."""
    answer = judge_module(stage, entry)
    table = _stands_on_table(stage, entry)
    fits, why_not = _fits(stage, entry, answer)
    against = [] if fits else [why_not]
    if not table:
        against.append("it does not stand on a table as it is; prop it while its glue cures")
    if answer.mass_kg > NEVER_ALONE_KG.default:
        against.append(f"{answer.mass_kg:.1f} kg, and nobody lifts more than {NEVER_ALONE_KG.default:g} kg alone")
    elif answer.lift_index is None or answer.lift_index > 1.0:
        limit = f"{answer.rwl_kg:.1f} kg" if answer.lift_index is not None else "no weight at this reach"
        against.append(f"{answer.mass_kg:.1f} kg, and the recommended limit over this rim is {limit}")
    for handling in (answer.lifted, answer.turned):
        if handling.verdict != "holds":
            against.append(
                f"{handling.attitude}, it {handling.verdict} ({handling.reason or 'glue over its strength'})"
            )
    return ModuleCheck(answer, table, fits, tuple(against))


def _stands_on_table(stage: Stage, entry: ModuleEntry) -> bool:
    """Set on the base by itself, glued into one, it comes to rest nearly as it is."""
    inside = np.array([piece.id in entry.pieces for piece in stage.pieces])
    assembly, poses = part_of(stage.dry, stage.poses, inside)
    lowest = min(float(piece.vertices_m()[:, 2].min()) for piece in stage.pieces if piece.id in entry.pieces)
    floor = float(stage.dry.planes.offset_m[0])
    down = np.array([0.0, 0.0, floor + CLEAR_M - lowest])
    lumps = np.zeros(len(entry.pieces), np.int64)
    (copy,) = shaken(
        assembly, Poses(poses.rotation, poses.position_m + down), lumps, 1, 0.0, 0.0, most_steps=MOST_STEPS
    )
    return copy.at_rest


def _fits(stage: Stage, entry: ModuleEntry, answer: ModuleAnswer) -> tuple[bool, str]:
    index = {piece.id: k for k, piece in enumerate(stage.pieces)}
    alone = Shapes(stage, [[index[name] for name in entry.pieces]])
    if ways_of(stage, alone, 0, 0):
        return True, ""
    x0, y0, x1, y1 = stage.scene.tank.opening_box_mm
    length, depth, _ = answer.size_mm
    return False, (
        f"{length:.0f} x {depth:.0f} mm with {stage.scene.check.hand_mm:g} mm for a hand beside it does not pass the "
        f"opening of {x1 - x0:.0f} x {y1 - y0:.0f} mm above its place"
    )


def propose_modules(
    stage: Stage, problem: Problem, order: Order, budget_s: float = 10.0, executor: Executor | None = None
) -> tuple[Proposal, ...]:
    """Groups whose gluing outside the tank saves a hold, the lightest first.

    Looks at each piece that the order has to hold, with one partner that a joint binds it to, and with all pieces
    that joints bind to it.
    """
    found: list[Proposal] = []
    for group in _groups(problem, order):
        names = tuple(problem.names[piece] for piece in sorted(group))
        called = "_and_".join(names)[:64]
        check = check_module(stage, ModuleEntry(id=called, pieces=names))
        if not check.worth:
            continue
        others = [unit for unit in problem.units if unit.module and not set(unit.pieces) & group]
        with_it = problem_of(stage, [*others, Unit(called, tuple(sorted(group)), True)])
        better = best_order(with_it, budget_s, executor, reseat=Reseating(stage, with_it))
        if better.steps and better.holds < order.holds:
            found.append(Proposal(names, check, better))
    return tuple(sorted(found, key=lambda one: (one.order.holds, one.check.answer.mass_kg, one.pieces)))


def _groups(problem: Problem, order: Order) -> list[set[int]]:
    held = {hold.piece for step in order.steps for hold in step.holds}
    groups: list[set[int]] = []
    for name in sorted(held):
        piece = problem.names.index(name)
        partners = _bound_to(problem, {piece})
        groups += [{piece, other} for other in sorted(partners)]
        whole = {piece}
        while new := _bound_to(problem, whole) - whole:
            whole |= new
        groups.append(whole)
    kept: list[set[int]] = []
    for group in groups:
        if len(group) > 1 and group not in kept:
            kept.append(group)
    return kept


def _bound_to(problem: Problem, pieces: set[int]) -> set[int]:
    pairs: Sequence[tuple[int, int]] = [(joint.a, joint.b) for joint in problem.joints]
    found = {b for a, b in pairs if a in pieces} | {a for a, b in pairs if b in pieces}
    return {piece for piece in found - pieces if piece >= 0 and not problem.fixed[piece]}
