"""Blocks over the edge of a table.

Sources: MathWorld, "Book Stacking Problem", equations 1-8 (harmonic stack); Paterson, M. & Zwick,
U. (2009). Overhang. Amer. Math. Monthly 116(1), 19-44, figure 2 (three blocks, inverted triangle).
"""

from __future__ import annotations

import numpy as np
import pytest
from handmade import Bearing, contacts_of, rectangle, stacked_blocks

from sim.statics import Feasible, assemble_system, collapse_motion, feasible, motions, weights

OVERHANGS = {1: 0.5, 2: 0.75, 3: 0.91667, 4: 1.04167}  # d_n as printed there


def _harmonic(blocks: int, share: float) -> Feasible:
    """Each right edge hangs over by its published share of the overhang, times `share`."""
    over = np.array([sum(0.5 / k for k in range(m, blocks + 1)) for m in range(blocks, 0, -1)]) * share
    centre, contacts = stacked_blocks(over - 1.0, 1.0, 0.3, 1.0, 0.6, 0.0)
    return feasible(assemble_system(centre, contacts), weights(np.ones(blocks))).status


@pytest.mark.parametrize("blocks", range(1, 7))
def test_harmonic_stack(blocks: int) -> None:
    assert _harmonic(blocks, 0.99) is Feasible.YES
    assert _harmonic(blocks, 1.0001) is Feasible.NO
    assert _harmonic(blocks, 1.01) is Feasible.NO


@pytest.mark.parametrize(("blocks", "overhang"), OVERHANGS.items())
def test_the_published_overhangs_are_those_tested(blocks: int, overhang: float) -> None:
    assert sum(0.5 / k for k in range(1, blocks + 1)) == pytest.approx(overhang, abs=1e-5)


def _triangle(shift: float) -> Feasible:
    up = np.array([0.0, 0.0, 1.0])
    lefts = np.array([-0.5, -1.0, 0.0]) + shift
    bearings = [Bearing(0, -1, rectangle(lefts[0], 0.0, 0.0, 1.0, 0.0), up, 0.6)]
    for i in (1, 2):
        low, high = max(lefts[i], lefts[0]), min(lefts[i], lefts[0]) + 1.0
        bearings.append(Bearing(i, 0, rectangle(low, high, 0.0, 1.0, 0.3), up, 0.6))
    centre = np.array([[left + 0.5, 0.5, 0.15 + 0.3 * (i > 0)] for i, left in enumerate(lefts)])
    return feasible(assemble_system(centre, contacts_of(bearings)), weights(np.ones(3))).status


def test_inverted_triangle() -> None:
    assert _triangle(-1e-3) is Feasible.YES
    assert _triangle(1e-3) is Feasible.NO


def test_the_stack_turns_about_the_edge_of_the_table() -> None:
    centre, contacts = stacked_blocks(np.array([-0.4, -0.4]), 1.0, 0.3, 1.0, 0.6, 0.0)
    fall = collapse_motion(assemble_system(centre, contacts), weights(np.ones(2)))
    assert fall is not None
    moving = motions(fall, centre, 0.5)
    assert {motion.piece for motion in moving} == {0, 1}
    lower = next(motion for motion in moving if motion.piece == 0)
    assert lower.turns
    assert lower.hinge_m[[0, 2]] == pytest.approx([0.0, 0.0], abs=1e-5)
    assert lower.axis == pytest.approx([0.0, 1.0, 0.0], abs=1e-5)
