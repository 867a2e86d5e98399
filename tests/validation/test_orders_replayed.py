"""Orders found, built step by step in a dynamic engine: a slice of the table in tests/benchmarks/order.md."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from boxes import scene_of
from orders import DRY, best_order, overhang, ready
from quarry import quarry
from replay import replay
from stacks import build

from sim.order import Order, Problem, Reseating, problem_of, try_order
from sim.scene import Scene
from sim.states import Stage, set_stage
from sim.trial import engines_installed

ENGINE = "bullet" if "bullet" in engines_installed() else "mujoco"
SMALL = quarry.__wrapped__  # not the quarry of other tests: few stones, quickly made


def _overhang(folder: Path, *more: str) -> tuple[Stage, Problem]:
    return ready(scene_of(folder, *overhang(folder), *more, head=DRY))


def _all_stand(stage: Stage, order: Order) -> None:
    steps = list(replay(stage, order, ENGINE))
    assert len(steps) == len(order.steps)
    for one in steps:
        assert one.run is not None, one
        assert one.run.survived, (one.number, one.unit, one.run.reason)


def test_every_step_of_a_counterweighted_overhang_stands(tmp_path: Path) -> None:
    stage, problem = _overhang(tmp_path)
    _all_stand(stage, best_order(problem))


def test_the_step_that_was_to_be_held_falls_when_it_is_not(tmp_path: Path) -> None:
    """The engine agrees about the wrong order too, or its consent would say little."""
    stage, problem = _overhang(tmp_path)
    wrong = try_order(problem, ["foot", "beam", "tip", "counterweight"])
    let_go = replace(wrong, steps=tuple(replace(step, holding=()) for step in wrong.steps))
    fallen = [one.unit for one in replay(stage, let_go, ENGINE) if one.run is not None and not one.run.survived]
    assert fallen == ["tip"]


def test_glue_that_has_cured_holds_and_fresh_glue_does_not(tmp_path: Path) -> None:
    joint = '[[joint]]\nbetween = ["foot", "beam"]\nglue = "epoxy putty"\nfit = "sawn"\n'
    rule = '[[rule]]\nbefore = ["tip", "counterweight"]\n'
    stage, problem = _overhang(tmp_path, joint, rule)
    order = best_order(problem)
    assert (order.holds, order.waits) == (0, 1)
    _all_stand(stage, order)
    hasty = replace(order, steps=tuple(replace(step, wait_first=()) for step in order.steps))
    fallen = [one.unit for one in replay(stage, hasty, ENGINE) if one.run is not None and not one.run.survived]
    assert fallen == ["tip"]


@pytest.mark.slow
def test_every_step_of_an_irregular_wall_stands() -> None:
    """Irregular stones, seated and let go together; each step stands by itself in the engine."""
    stack = build(SMALL(2, None, 2000, ("slab", "block")), "wall", 1, 0.1, 7, relaxed=True, care_deg=2.0)
    assert len(stack.pieces) >= 4
    scene: Scene = stack.scene
    stage = set_stage(scene, stack.pieces)
    problem = problem_of(stage)
    order = best_order(problem, reseat=Reseating(stage, problem))
    assert order.verdict == "stands at every step"
    _all_stand(stage, order)
