"""When each step is done: working days, and glue that cures over night.

One builder sets one piece after the other, after gluing the modules on a table. A joint counts as cured when its glue
has its full strength; what must wait for it waits, and everything else goes on. Before the tank is filled every joint
has cured.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sim.materials.building import GLUE_MIN, SET_MIN
from sim.order.ordering import Order
from sim.order.problem import Problem, bits

HOUR_MIN = 60.0
DAY_MIN = 24.0 * HOUR_MIN


@dataclass(frozen=True, slots=True)
class Slot:
    """One step in time; minutes from midnight before the first day."""

    step: int  # number of the step; 0: a module is glued on a table
    unit: str
    begin_min: float
    end_min: float
    waited_min: float  # since the builder could have begun, nights left out
    cured_min: float | None  # when the last joint made here has cured

    @property
    def day(self) -> int:
        """Working day, from 1."""
        return int(self.begin_min // DAY_MIN) + 1

    @property
    def clock(self) -> str:
        """Time of day at which it begins."""
        minute = round(self.begin_min % DAY_MIN)
        return f"{minute // 60:02d}:{minute % 60:02d}"


@dataclass(frozen=True, slots=True)
class Schedule:
    """All steps in time."""

    slots: tuple[Slot, ...]
    days: int  # on which something is set
    work_h: float  # of hands
    ready_min: float  # when all joints have cured: the tank may be filled
    glue_g: tuple[tuple[str, float], ...]  # by chemistry, waste included

    @property
    def ready_day(self) -> int:
        return int(self.ready_min // DAY_MIN) + 1


def schedule(problem: Problem, order: Order, day_begins_h: float = 9.0, day_h: float = 8.0) -> Schedule:
    """Put the steps of an order on working days.

    Parameters
    ----------
    day_begins_h : when a working day begins, hours after midnight
    day_h : its length; a step that does not end within it begins on the next day
    """
    joints = {tuple(sorted(_names(problem, k))): k for k in range(len(problem.joints))}
    cured_at: dict[int, float] = {}
    now = day_begins_h * HOUR_MIN
    slots: list[Slot] = []
    work = 0.0
    slots += _on_a_table(problem, now, day_begins_h, day_h, cured_at)
    if slots:
        now = slots[-1].end_min
        work = sum(slot.end_min - slot.begin_min for slot in slots)
    for step in order.steps:
        made = [joints[tuple(sorted(pair))] for pair in step.joints]
        takes = SET_MIN.default + GLUE_MIN.default * len(made)
        needed = [cured_at[joints[tuple(sorted(pair))]] for pair in step.wait_first]
        own = 1 << problem.index(step.unit)
        needed += [cured_at[j] for j in bits(problem.made_outside) if problem.joint_units[j] == own]
        ready = max([now, *needed])
        begin = _within_day(ready, takes, day_begins_h, day_h)
        waited = max(0.0, ready - now)
        end = begin + takes
        work += takes
        for k in made:
            cured_at[k] = end + problem.times[k].cure_h * HOUR_MIN
        cured = max((cured_at[k] for k in made), default=None)
        slots.append(Slot(step.number, step.unit, begin, end, waited, cured))
        now = end
    glue: dict[str, float] = {}
    for time in problem.times:
        if time.glue is not None:
            glue[time.glue] = glue.get(time.glue, 0.0) + time.mass_g
    return Schedule(
        slots=tuple(slots),
        days=len({slot.day for slot in slots}),
        work_h=work / HOUR_MIN,
        ready_min=max([now, *cured_at.values()]),
        glue_g=tuple(sorted(glue.items())),
    )


def _on_a_table(
    problem: Problem, now: float, day_begins_h: float, day_h: float, cured_at: dict[int, float]
) -> list[Slot]:
    """Gluing of the modules, one after the other; writes down when their joints have cured."""
    slots: list[Slot] = []
    for k, unit in enumerate(problem.units):
        inside = [j for j in bits(problem.made_outside) if problem.joint_units[j] == 1 << k]
        if not inside:
            continue
        takes = SET_MIN.default * len(unit.pieces) + GLUE_MIN.default * len(inside)
        begin = _within_day(now, takes, day_begins_h, day_h)
        now = begin + takes
        cured_at |= {j: now + problem.times[j].cure_h * HOUR_MIN for j in inside}
        slots.append(Slot(0, unit.id, begin, now, 0.0, max(cured_at[j] for j in inside)))
    return slots


def _within_day(ready_min: float, takes_min: float, begins_h: float, day_h: float) -> float:
    """The first time from `ready_min` on at which something of this length fits into a working day."""
    day, minute = divmod(ready_min, DAY_MIN)
    begins = begins_h * HOUR_MIN
    ends = begins + max(day_h * HOUR_MIN, takes_min)
    minute = max(minute, begins)
    if minute + takes_min > ends:
        day, minute = day + 1, begins
    return day * DAY_MIN + minute


def _names(problem: Problem, k: int) -> Sequence[str]:
    joint = problem.joints[k]
    return (problem.names[joint.a], problem.names[joint.b])
