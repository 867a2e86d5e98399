"""A state of the build, a step from it to the next, and how good a whole order is."""

from __future__ import annotations

from dataclasses import dataclass

from sim.order.problem import Problem

State = tuple[int, int]  # mask of units, mask of cured joints


@dataclass(frozen=True, slots=True, order=True)
class Merit:
    """How good an order is; less is better. The worst margin is negative, so that it sorts alike."""

    holds: int
    minus_margin_deg: float
    waits: int
    wait_h: float


@dataclass(frozen=True, slots=True)
class Move:
    """One step: a unit is set, or everything waits (unit is None)."""

    unit: int | None
    state: State  # after it


def may_be_set(problem: Problem, unit: int, units: int) -> bool:
    """Whether a unit has what it needs, a free way in and room for the hand."""
    if problem.needs[unit] & ~units:
        return False
    if not any(way.blocked_by & units == 0 for way in problem.ways[unit]):
        return False
    return any(grip & units == 0 for grip in problem.grips[unit])
