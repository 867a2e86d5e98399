"""An order as good as any can be, found without looking back.

No order is better than one without holds or waits whose worst step is the finished stack. Each time the unit nearest to
the last one is set that leaves that margin, so that the work stays at one place while it can.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from sim.order.moves import Move, State
from sim.order.partial import PartialStacks
from sim.order.problem import Problem


def straight(
    stacks: PartialStacks,
    start: State,
    moves_of: Callable[[State], list[Move]],
    enough_deg: float,
    late: Callable[[], bool],
    progress: Callable[[str, int, int], None] | None = None,
) -> tuple[Move, ...] | None:
    """An order whose every step stands by itself with a margin of `enough_deg`; None where this leads nowhere.

    Parameters
    ----------
    moves_of : units that may be set on a state, as moves
    late : whether the time is up
    """
    state, moves = start, list[Move]()
    count = len(stacks.problem.units)
    while len(moves) < count and not late():
        if progress is not None:
            progress("Looking for an order", len(moves), count)
        move = next(
            (
                move
                for move in _nearest_first(stacks.problem, moves_of(state), moves)
                if _firm(stacks, move, enough_deg)
            ),
            None,
        )
        if move is None:
            return None
        moves.append(move)
        state = move.state
    return tuple(moves) if len(moves) == count > 0 else None


def _firm(stacks: PartialStacks, move: Move, enough_deg: float) -> bool:
    answer = stacks.state(*move.state)
    return answer.held and not answer.holds and answer.margin_deg >= enough_deg


def _nearest_first(problem: Problem, moves: list[Move], before: list[Move]) -> list[Move]:
    """Moves by how far their unit lies from the one that was set last; as they are where there is none."""
    if not before:
        return moves

    def middle_m(move: Move) -> NDArray[np.float64]:
        assert move.unit is not None, "a wait has no place"
        return np.asarray(problem.centre_m[list(problem.units[move.unit].pieces)].mean(axis=0))

    here_m = middle_m(before[-1])
    return sorted(moves, key=lambda move: float(np.linalg.norm(middle_m(move) - here_m)))
