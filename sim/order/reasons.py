"""Why something cannot be set, or cannot be built at all, in a builder's words."""

from __future__ import annotations

from collections.abc import Sequence

from sim.order.partial import PartialStacks
from sim.order.problem import Problem, bits
from sim.order.search import Found


def why_not(stacks: PartialStacks, unit: int, units: int) -> str:
    """Why a unit cannot be set on a set of units."""
    problem = stacks.problem
    missing = problem.needs[unit] & ~units
    if missing:
        first = bits(missing)[0]
        why = dict(problem.reasons[unit]).get(first, "comes first")
        return f"{problem.units[first].id} is not there yet and {why}"
    if not problem.ways[unit]:
        return "it does not fit through the opening with a hand beside it"
    if not any(way.blocked_by & units == 0 for way in problem.ways[unit]):
        way = min(problem.ways[unit], key=lambda way: (way.blocked_by & units).bit_count())
        return f"no way in: {_names(problem, bits(way.blocked_by & units))} would be in it ({way.words})"
    if not any(grip & units == 0 for grip in problem.grips[unit]):
        return "no room for a hand beside it"
    answers = stacks.judged(units | 1 << unit, problem.joints_in(units))
    bad = next((one for one in answers if not one.held), None)
    if bad is None:
        return "it can be set"
    if bad.note:
        return f"not known to stand: {bad.note}"
    return f"it comes down ({', '.join(problem.names[piece] for piece in bad.moving[:3])})"


def circle_words(problem: Problem, circle: Sequence[int]) -> str:
    """A circle of needs, each with its reason."""
    pairs = zip(circle, [*circle[1:], circle[0]], strict=True)
    needs = [
        f"{problem.units[first].id} before {problem.units[then].id} ({dict(problem.reasons[then])[first]})"
        for first, then in pairs
    ]
    return f"each has to be there before the next: {', '.join(needs)}"


def why_none(stacks: PartialStacks, found: Found, budget_s: float) -> str:
    problem = stacks.problem
    if not found.proved:
        return f"none found in {budget_s:g} s"
    if found.unknown:
        return f"some states gave no sound answer: {found.unknown}"
    most = found.farthest[-1].state[0] if found.farthest else 0
    left = [k for k in range(len(problem.units)) if not most >> k & 1]
    open_ones = [k for k in left if not problem.needs[k] & ~most] or left
    why = "; ".join(f"{problem.units[k].id}: {why_not(stacks, k, most)}" for k in open_ones[:3])
    there = _names(problem, bits(most)) or "nothing"
    return f"with {there} in place nothing more can be set. {why}"


def _names(problem: Problem, units: Sequence[int]) -> str:
    return ", ".join(problem.units[k].id for k in units)
