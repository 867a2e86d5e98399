"""How a rigid stone may spread its weight over its footing: nominal shares and full ranges.

Source: elementary statics of indeterminate supports, recomputed by hand: equal compliance gives
the shares of least squares, the ranges follow from two moments and one sum.
"""

from __future__ import annotations

import numpy as np
import pytest
from handmade import Bearing, contacts_of, rectangle

from sim.statics import Loads, System, assemble_system, footprints, nominal_forces, weights
from sim.units import STANDARD_GRAVITY_M_S2

UP = np.array([0.0, 0.0, 1.0])
CORNERS = [(0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (1.0, 1.0, 0.0), (0.0, 1.0, 0.0)]


def _unit_weight() -> Loads:
    return weights(np.array([1.0 / STANDARD_GRAVITY_M_S2]))


def _on_points(points: list[tuple[float, float, float]], centre: tuple[float, float, float]) -> System:
    bearings = [Bearing(0, -1, np.array([point]), UP, 0.5) for point in points]
    return assemble_system(np.array([centre]), contacts_of(bearings))


# E1 and E2
@pytest.mark.parametrize(
    ("centre", "nominal", "least", "most"),
    [
        ((0.5, 0.5, 0.4), [0.25] * 4, [0.0] * 4, [0.5] * 4),
        ((0.6, 0.5, 0.4), [0.2, 0.3, 0.3, 0.2], [0.0, 0.1, 0.1, 0.0], [0.4, 0.5, 0.5, 0.4]),
    ],
)
def test_four_corners(
    centre: tuple[float, float, float], nominal: list[float], least: list[float], most: list[float]
) -> None:
    system, loads = _on_points(CORNERS, centre), _unit_weight()
    forces = nominal_forces(system, loads)
    assert forces is not None
    found = footprints(system, loads, forces)
    assert [foot.nominal_n for foot in found] == pytest.approx(nominal, abs=1e-6)
    assert [foot.least_n for foot in found] == pytest.approx(least, abs=1e-5)
    assert [foot.most_n for foot in found] == pytest.approx(most, abs=1e-5)


# E4: rigid beam on three equal supports
def test_a_rigid_beam_on_three_supports() -> None:
    bearings = [Bearing(0, -1, rectangle(x - 0.01, x + 0.01, 0.0, 0.1, 0.0), UP, 0.5, 0.002) for x in (-1.0, 0.0, 1.0)]
    system = assemble_system(np.array([[0.0, 0.05, 0.1]]), contacts_of(bearings))
    forces = nominal_forces(system, _unit_weight())
    assert forces is not None
    found = footprints(system, _unit_weight(), forces)
    assert [foot.nominal_n for foot in found] == pytest.approx([1 / 3] * 3, rel=1e-3)
    assert [foot.least_n for foot in found] == pytest.approx([0.0] * 3, abs=1e-5)
    # supports 20 mm wide on a span of 2 m: 1 % around the published bounds of point supports
    assert [foot.most_n for foot in found] == pytest.approx([0.5, 1.0, 0.5], rel=0.011)


def test_shares_do_not_depend_on_the_number_of_corners() -> None:
    """The same footing given by 4 corners on one half and by 16 points on the other."""
    round_the_edge = np.array(
        [[1.0 + t, s, 0.0] for s in (0.0, 1.0) for t in np.linspace(0.0, 1.0, 5)]
        + [[1.0 + s, t, 0.0] for s in (0.0, 1.0) for t in np.linspace(0.25, 0.75, 3)]
    )
    bearings = [
        Bearing(0, -1, rectangle(-2.0, -1.0, 0.0, 1.0, 0.0), UP, 0.5, 1.0),
        Bearing(0, -1, round_the_edge, UP, 0.5, 1.0),
    ]
    system = assemble_system(np.array([[0.0, 0.5, 0.5]]), contacts_of(bearings))
    forces = nominal_forces(system, _unit_weight())
    assert forces is not None
    found = footprints(system, _unit_weight(), forces, ranges=False)
    assert [foot.nominal_n for foot in found] == pytest.approx([0.5, 0.5], rel=1e-6)


def test_preload_between_panes_does_not_widen_the_range() -> None:
    """A block on the base that just touches two panes: they could press without end, and are not let."""
    east = np.array([1.0, 0.0, 0.0])
    side = [np.array([[x, 0.0, 0.0], [x, 1.0, 0.0], [x, 1.0, 1.0], [x, 0.0, 1.0]]) for x in (0.0, 1.0)]
    bearings = [
        Bearing(0, -1, rectangle(0.0, 1.0, 0.0, 1.0, 0.0), UP, 0.5, 1.0),
        Bearing(0, -2, side[0], east, 0.5, 1.0),
        Bearing(0, -3, side[1], -east, 0.5, 1.0),
    ]
    system = assemble_system(np.array([[0.5, 0.5, 0.5]]), contacts_of(bearings))
    forces = nominal_forces(system, _unit_weight())
    assert forces is not None
    (found,) = footprints(system, _unit_weight(), forces)
    assert (found.least_n, found.nominal_n, found.most_n) == pytest.approx((1.0, 1.0, 1.0), abs=1e-5)
