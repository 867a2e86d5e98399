"""Modules as units of an order: what is refused, with the numbers, and what saves a hold."""

from __future__ import annotations

from pathlib import Path

import pytest
from boxes import FLOOR_MM, box_entry, scene_of
from orders import DRY, PATIENCE_S, best_order, ready

from sim.materials import NEVER_ALONE_KG
from sim.order import Problem, check_module, problem_of, propose_modules
from sim.states import Stage

GLUED = '[[joint]]\nbetween = ["{}", "{}"]\nglue = "epoxy putty"\nfit = "sawn"\n'


def _two(
    folder: Path, size_mm: tuple[float, float, float], more: str = 'rock = "granite"', head: str = DRY
) -> tuple[Stage, Problem]:
    """Two equal blocks, one glued on the other, as a module."""
    entries = [
        box_entry(folder, "low", size_mm, (300, 200, FLOOR_MM), more),
        box_entry(folder, "high", size_mm, (300, 200, FLOOR_MM + size_mm[2]), more),
    ]
    module = '[[module]]\nid = "both"\npieces = ["low", "high"]\n'
    return ready(scene_of(folder, *entries, GLUED.format("low", "high"), module, head=head))


def test_a_light_module_is_a_unit(tmp_path: Path) -> None:
    stage, problem = _two(tmp_path, (80, 60, 30))
    check = check_module(stage, stage.scene.module[0])
    assert check.worth, check.against
    assert check.stands_on_table
    assert check.fits
    assert [unit.id for unit in problem.units] == ["both"]
    order = best_order(problem)
    assert order.verdict == "stands at every step"
    assert order.waits == 0  # cured on the table
    assert order.steps[0].joints == ()


def test_too_heavy_is_refused_with_its_weight(tmp_path: Path) -> None:
    """Two blocks of 6 litres at 2700 kg/m3: 32.4 kg."""
    stage, _ = _two(tmp_path, (300, 200, 100), 'rock = "granite"\ndensity_kg_m3 = 2700')
    check = check_module(stage, stage.scene.module[0])
    assert not check.worth
    assert check.answer.mass_kg == pytest.approx(32.4)
    assert any("32.4 kg" in why and f"{NEVER_ALONE_KG.default:g} kg alone" in why for why in check.against)


def test_too_wide_for_the_opening_is_refused_with_both_sizes(tmp_path: Path) -> None:
    head = DRY.replace("side_mm = 8", "side_mm = 8\nopening_mm = [250, 150]")
    stage, problem = _two(tmp_path, (260, 60, 20), head=head)
    check = check_module(stage, stage.scene.module[0])
    assert not check.fits
    assert not check.worth
    (why,) = (why for why in check.against if "opening" in why)
    assert "260 x 60 mm" in why
    assert "250 x 150 mm" in why
    assert "40 mm for a hand" in why
    order = best_order(problem)
    assert order.verdict == "no order"
    assert "both: it does not fit through the opening" in order.reason


def test_what_topples_on_a_table_is_said(tmp_path: Path) -> None:
    """The arm's centre and its load lie beyond the block's edge: in the tank a pier holds its end, on a table none."""
    entries = [
        box_entry(tmp_path, "block", (40, 60, 40), (200, 200, FLOOR_MM)),
        box_entry(tmp_path, "arm", (200, 60, 20), (280, 200, FLOOR_MM + 40)),
        box_entry(tmp_path, "pier", (40, 60, 40), (360, 200, FLOOR_MM)),
    ]
    module = '[[module]]\nid = "both"\npieces = ["block", "arm"]\n'
    stage, _ = ready(scene_of(tmp_path, *entries, GLUED.format("block", "arm"), module, head=DRY))
    check = check_module(stage, stage.scene.module[0])
    assert not check.stands_on_table
    assert any("does not stand on a table" in why for why in check.against)


def test_a_module_that_saves_a_hold_is_proposed(tmp_path: Path) -> None:
    """An arm far over its block, glued: its first days it must be held, unless both come in as one."""
    entries = [
        box_entry(tmp_path, "block", (120, 80, 60), (200, 200, FLOOR_MM)),
        box_entry(tmp_path, "arm", (160, 60, 20), (290, 200, FLOOR_MM + 60)),
    ]
    stage, problem = ready(scene_of(tmp_path, *entries, GLUED.format("block", "arm"), head=DRY))
    order = best_order(problem)
    assert order.verdict == "needs holds"
    assert [(hold.piece, hold.until) for step in order.steps for hold in step.holds] == [
        ("arm", "the glue of block - arm has cured")
    ]
    (proposal,) = propose_modules(stage, problem, order, PATIENCE_S)
    assert proposal.pieces == ("block", "arm")
    assert proposal.order.holds == 0
    assert proposal.order.verdict == "stands at every step"
    assert proposal.check.answer.mass_kg < NEVER_ALONE_KG.default
    again = problem_of(stage)
    assert len(again.units) == 2  # the scene itself is as it was
