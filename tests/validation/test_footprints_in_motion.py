"""Brackets of footprint forces against a dynamic trial: the engine's mean forces lie between our least and most.

Stacks of two and three stones whose shapes an engine shares exactly. Forces of MuJoCo are averaged over half a second
after the stones have come to rest in it, and each is given to the footprint that it is nearest to. Its contacts give
way by some micrometres, so that force moves between footprints of one stone: a share of its load counts as within.

References
----------
Todorov, E. (2014). Convex and analytically-invertible dynamics with contacts and constraints:
theory and implementation in MuJoCo. IEEE ICRA, 6054-6061.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray
from shared_stacks import INNER_M, Stack, build

from sim.contact import BASE, find_contacts
from sim.statics import Verdict, assemble_system, footprints, judge_system, weights
from sim.trial import TrialBody, TrialSetup, engine, tank_boxes

Floats = NDArray[np.float64]

SEEDS = (1, 3, 4, 7, 10, 11, 13, 14)  # those of 1 to 16 whose stacks stand
STEP_S = 0.001
SETTLE_STEPS, AVERAGED = 1500, 500
SLACK = 0.02  # of what the stone presses the base with
ENOUGH = 0.90  # of all footprints


@dataclass(frozen=True, slots=True, eq=False)
class Compared:
    """One footprint."""

    seed: int
    nominal_n: float
    least_n: float
    most_n: float
    trial_n: float
    slack_n: float

    @property
    def within(self) -> bool:
        return self.least_n - self.slack_n <= self.trial_n <= self.most_n + self.slack_n


def pressed_in_trial(stack: Stack) -> tuple[NDArray[np.int64], Floats, Floats]:
    """Bodies (k,), points (k, 3) and upward forces (k,) of all contacts on the base, each divided by the steps."""
    assembly = stack.assembly
    bodies = tuple(
        TrialBody(
            f"stone_{k + 1}",
            stone.parts,
            float(assembly.mass_kg[k]),
            assembly.inertia_kg_m2[k],
            stack.poses.rotation[k],
            stack.poses.position_m[k],
            error_m=0.0,
        )
        for k, stone in enumerate(stack.stones)
    )
    found = []
    with engine("mujoco").open(TrialSetup(bodies, tank_boxes(INNER_M), assembly.friction), STEP_S) as world:
        world.advance(SETTLE_STEPS)
        for _ in range(AVERAGED):
            world.advance(1)
            found.append(world.pressing())
    body = np.concatenate([one.body for one in found])
    point = np.concatenate([one.point_m for one in found])
    return body, point, -np.concatenate([one.force_n[:, 2] for one in found]) / AVERAGED


def compared(seed: int) -> list[Compared]:
    """Every footprint of a stack that stands."""
    stack, _ = build(seed)
    if stack is None:
        return []
    contacts = find_contacts(stack.assembly, stack.poses)
    system = assemble_system(stack.poses.position_m, contacts, stack.assembly.fixed)
    loads = weights(stack.assembly.mass_kg)
    judgement = judge_system(system, loads, quick=True)
    if judgement.verdict is not Verdict.STANDS:
        return []
    ours = footprints(system, loads, judgement.strict.forces_n)
    body, point, force = pressed_in_trial(stack)
    corner = np.flatnonzero(contacts.b == BASE)
    same = contacts.a[corner][None] == body[:, None]
    away = np.linalg.norm(contacts.point_m[corner][None, :, :2] - point[:, None, :2], axis=2)
    owner = contacts.patch[corner][np.where(same, away, np.inf).argmin(axis=1)]
    load = {piece: sum(one.nominal_n for one in ours if one.piece == piece) for piece in {one.piece for one in ours}}
    return [
        Compared(
            seed,
            one.nominal_n,
            one.least_n,
            one.most_n,
            float(force[owner == one.patch].sum()),
            SLACK * load[one.piece],
        )
        for one in ours
    ]


@pytest.fixture(scope="module")
def all_of_them() -> list[Compared]:
    return [one for seed in SEEDS for one in compared(seed)]


@pytest.mark.slow
def test_the_trial_lies_in_the_brackets(all_of_them: list[Compared]) -> None:
    assert len(all_of_them) >= 10
    outside = [one for one in all_of_them if not one.within]
    assert 1.0 - len(outside) / len(all_of_them) >= ENOUGH, outside


@pytest.mark.slow
def test_brackets_hold_the_nominal_and_say_something(all_of_them: list[Compared]) -> None:
    """A bracket from nothing to all would hold every force: most are narrower than half of what the stone carries."""
    for one in all_of_them:
        assert one.least_n - 1e-6 * one.most_n - 1e-6 <= one.nominal_n <= one.most_n * (1.0 + 1e-6) + 1e-6
    narrow = [one for one in all_of_them if one.most_n - one.least_n < 0.5 * one.slack_n / SLACK]
    assert len(narrow) >= 0.5 * len(all_of_them)
