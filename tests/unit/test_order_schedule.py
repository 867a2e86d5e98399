"""Calendars from known cure times, on working days of known length."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from boxes import FLOOR_MM, box_entry
from orders import best_order, column, problem_of_boxes

from sim.materials import adhesive
from sim.materials.building import GLUE_MIN, SET_MIN
from sim.order import JointTime, Order, Problem, schedule, try_order

DAY = 24 * 60


def _glued_column(folder: Path, count: int, glue: str = "epoxy putty") -> Problem:
    joints = [
        f'[[joint]]\nbetween = ["cube_{k}", "cube_{k + 1}"]\nglue = "{glue}"\nfit = "sawn"\n' for k in range(1, count)
    ]
    return problem_of_boxes(folder, *column(folder, "cube", count, 300, 200), *joints)


def _curing(problem: Problem, hours: float) -> Problem:
    times = tuple(JointTime("epoxy putty", 10.0, hours, 2.5) for _ in problem.times)
    return replace(problem, times=times)


def _waiting(order: Order, number: int) -> Order:
    """The same order with a wait for all joints made before a step."""
    steps = list(order.steps)
    made = [pair for step in steps[: number - 1] for pair in step.joints]
    steps[number - 1] = replace(steps[number - 1], wait_first=tuple(made))
    return replace(order, steps=tuple(steps))


def test_work_without_waits_follows_on(tmp_path: Path) -> None:
    problem = _curing(_glued_column(tmp_path, 4), 24.0)
    plan = schedule(problem, best_order(problem))
    takes = [SET_MIN.default] + [SET_MIN.default + GLUE_MIN.default] * 3
    assert [slot.begin_min for slot in plan.slots] == [540.0 + sum(takes[:k]) for k in range(4)]
    assert [slot.clock for slot in plan.slots][:2] == ["09:00", "09:10"]
    assert plan.days == 1
    assert plan.work_h == pytest.approx(sum(takes) / 60.0)
    assert plan.ready_min == pytest.approx(540.0 + sum(takes) + DAY)
    assert plan.ready_day == 2
    assert dict(plan.glue_g) == {"epoxy putty": pytest.approx(7.5)}


def test_a_day_of_curing_moves_a_step_to_the_next_morning(tmp_path: Path) -> None:
    """Glued at 9:25 and cured a day later, the third is set at 9:25 of the second day."""
    problem = _curing(_glued_column(tmp_path, 3), 24.0)
    plan = schedule(problem, _waiting(best_order(problem), 3))
    third = plan.slots[2]
    assert (third.day, third.clock) == (2, "09:25")
    assert third.waited_min == pytest.approx(DAY)
    assert plan.days == 2


def test_what_cures_in_the_night_is_ready_in_the_morning(tmp_path: Path) -> None:
    """Ten hours from 9:25 end at 19:25, after work: the next step begins when the next day does."""
    problem = _curing(_glued_column(tmp_path, 3), 10.0)
    plan = schedule(problem, _waiting(best_order(problem), 3))
    assert (plan.slots[2].day, plan.slots[2].clock) == (2, "09:00")


def test_a_short_cure_only_delays(tmp_path: Path) -> None:
    problem = _curing(_glued_column(tmp_path, 3), 0.5)
    plan = schedule(problem, _waiting(best_order(problem), 3))
    assert (plan.slots[2].day, plan.slots[2].clock) == (1, "09:55")
    assert plan.slots[2].waited_min == pytest.approx(30.0)


def test_no_step_runs_over_the_end_of_a_day(tmp_path: Path) -> None:
    """Half an hour of work a day: the first two cubes, 10 and 15 minutes; the third would end at 9:40."""
    problem = _curing(_glued_column(tmp_path, 4), 1.0)
    plan = schedule(problem, best_order(problem), day_begins_h=9.0, day_h=0.5)
    assert [(slot.day, slot.clock) for slot in plan.slots] == [(1, "09:00"), (1, "09:10"), (2, "09:00"), (2, "09:15")]
    assert plan.days == 2


def test_only_the_joints_that_are_needed_are_waited_for(tmp_path: Path) -> None:
    """Other steps fill the wait: the second stack goes on while the first one's glue cures."""
    entries = [*column(tmp_path, "a", 2, 200, 200), *column(tmp_path, "b", 1, 400, 200)]
    joint = '[[joint]]\nbetween = ["a_1", "a_2"]\nglue = "epoxy putty"\nfit = "sawn"\n'
    problem = _curing(problem_of_boxes(tmp_path, *entries, joint), 24.0)
    plan = schedule(problem, try_order(problem, ["a_1", "a_2", "b_1"]))
    assert (plan.slots[2].day, plan.slots[2].clock) == (1, "09:25")


@pytest.mark.parametrize("glue", ["epoxy putty", "cyanoacrylate gel", "cement C2"])
def test_times_are_those_of_the_glue(tmp_path: Path, glue: str) -> None:
    problem = _glued_column(tmp_path, 2, glue)
    (time,) = problem.times
    assert time.glue == glue
    assert time.cure_h > 0.0
    assert time.cure_h == pytest.approx(adhesive(glue).cure_h.default)
    assert time.mass_g > 0.0


def test_an_overhang_that_waits_for_its_glue(tmp_path: Path) -> None:
    """The tip would tip its beam; glued down to the foot the beam bears it: two days, one wait, no hold."""
    entries = [
        box_entry(tmp_path, "foot", (140, 90, 60), (250, 200, FLOOR_MM)),
        box_entry(tmp_path, "beam", (200, 60, 20), (300, 200, FLOOR_MM + 60)),
        box_entry(tmp_path, "tip", (50, 50, 60), (375, 200, FLOOR_MM + 80)),
    ]
    joint = '[[joint]]\nbetween = ["foot", "beam"]\nglue = "epoxy putty"\nfit = "sawn"\n'
    problem = problem_of_boxes(tmp_path, *entries, joint)
    order = best_order(problem)
    assert order.verdict == "stands at every step"
    assert (order.holds, order.waits) == (0, 1)
    assert order.steps[2].wait_first == (("foot", "beam"),)
    hours = adhesive("epoxy putty").cure_h.default
    assert order.wait_h == pytest.approx(hours)
    plan = schedule(problem, order)
    glued_min = 540.0 + 2 * SET_MIN.default + GLUE_MIN.default
    due = glued_min + hours * 60.0
    assert plan.slots[2].begin_min >= due
    assert plan.slots[2].begin_min - due < DAY


def test_modules_are_glued_first_and_set_when_they_have_cured(tmp_path: Path) -> None:
    """Two cubes and one bed of glue on the table, until 9:25; the module comes in a day later, and needs no glue."""
    joint = '[[joint]]\nbetween = ["a_1", "a_2"]\nglue = "epoxy putty"\nfit = "sawn"\n'
    module = '[[module]]\nid = "both"\npieces = ["a_1", "a_2"]\n'
    problem = _curing(problem_of_boxes(tmp_path, *column(tmp_path, "a", 2, 200, 200), joint, module), 24.0)
    order = best_order(problem)
    plan = schedule(problem, order)
    table, setting = plan.slots
    assert (table.step, table.unit, table.clock) == (0, "both", "09:00")
    assert table.end_min - table.begin_min == 2 * SET_MIN.default + GLUE_MIN.default
    assert (setting.step, setting.day, setting.clock) == (1, 2, "09:25")
    assert setting.end_min - setting.begin_min == SET_MIN.default
    assert plan.days == 2
