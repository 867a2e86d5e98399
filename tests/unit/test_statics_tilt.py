"""Short cuts of the tilt search change nothing: programmes used again, azimuths side by side, fewer ground points."""

from __future__ import annotations

import numpy as np
import pytest
from handmade import Bearing, contacts_of, rectangle
from scipy.spatial import ConvexHull

from sim.statics import System, assemble_system, critical_tilt, load_factor, sliding_tilt, tilt, weights
from sim.statics.loads import Loads
from sim.statics.margins import _least_edge_distance
from sim.statics.programme import Further
from sim.statics.tilt import _outermost

SAME_DEG = 1.0e-5


def tower(count: int = 6) -> tuple[System, Loads]:
    """Blocks on joints a little out of level, with frictions of their own."""
    rng = np.random.default_rng(3)
    bearings, centre = [], []
    for k in range(count):
        corners = rectangle(0.05 * k, 1.0 + 0.04 * k, 0.0, 0.7, 0.5 * k)
        normal = np.array([*rng.normal(0.0, 0.02, 2), 1.0])
        bearings.append(Bearing(k, k - 1, corners, normal, 0.5 + 0.02 * k, 0.7))
        centre.append([0.5 + 0.05 * k, 0.35, 0.5 * k + 0.25])
    return assemble_system(np.array(centre), contacts_of(bearings)), weights(rng.uniform(0.5, 2.0, count))


def test_a_programme_used_again_gives_what_a_fresh_one_gives() -> None:
    system, loads = tower()
    again = Further(system, loads)
    for azimuth in np.linspace(0.0, 6.0, 9):
        sideways = loads.sideways(azimuth)
        fresh, used = load_factor(system, loads, sideways), again.greatest(sideways)
        assert used.factor == pytest.approx(fresh.factor, rel=1e-6)
        assert used.mechanism == pytest.approx(fresh.mechanism, abs=1e-4)


def test_a_load_that_changes_nothing_between_two_that_do() -> None:
    """No load at all is answered without the programme and leaves it as it was."""
    system, loads = tower()
    again, sideways = Further(system, loads), loads.sideways(1.0)
    before = again.greatest(sideways).factor
    assert again.greatest(0.0 * sideways).factor == np.inf
    assert again.greatest(sideways).factor == pytest.approx(before, rel=1e-9)


@pytest.mark.parametrize("exhaustive", [False, True])
def test_azimuths_side_by_side_are_those_one_after_another(exhaustive: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    system, loads = tower()
    alone = critical_tilt(system, loads, exhaustive=exhaustive)
    monkeypatch.setattr(tilt, "MANY_ROWS", 0)
    beside = critical_tilt(system, loads, exhaustive=exhaustive)
    assert beside.least_deg == pytest.approx(alone.least_deg, abs=SAME_DEG)
    assert beside.azimuth_deg == pytest.approx(alone.azimuth_deg, abs=0.1)
    if exhaustive:
        assert beside.solved.all()
        assert beside.per_azimuth_deg == pytest.approx(alone.per_azimuth_deg, abs=SAME_DEG)


def test_side_by_side_gives_the_same_bits_every_time(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tilt, "MANY_ROWS", 0)
    found = [critical_tilt(*tower()) for _ in range(3)]
    assert len({one.least_deg for one in found}) == 1
    assert all(np.array_equal(one.per_azimuth_deg, found[0].per_azimuth_deg) for one in found)


@pytest.mark.parametrize("slope", [0.0, 0.1])
def test_points_within_a_footing_bear_nothing_that_its_corners_do_not(slope: float) -> None:
    """Two footings of unlike friction with a grid of points each, on level and on sloping ground."""
    grid = np.array([[x, y] for x in np.linspace(0.0, 0.4, 5) for y in np.linspace(0.0, 0.3, 4)])
    normal = np.array([-slope, 0.0, 1.0]) / np.hypot(slope, 1.0)
    bearings = []
    for left, mu in ((0.0, 0.3), (0.75, 0.6)):
        points = np.column_stack([grid[:, 0] + left, grid[:, 1], slope * (grid[:, 0] + left)])
        bearings.append(Bearing(0, -1, points, normal, mu, 0.12))
    contacts, centre, loads = contacts_of(bearings), np.array([[0.5, 0.15, 0.3]]), weights(np.array([2.0]))
    fewer = _outermost(contacts)
    whole, corners = assemble_system(centre, contacts), assemble_system(centre, fewer)
    for azimuth in np.linspace(0.0, 6.0, 13):
        sideways = loads.sideways(azimuth)
        factor = load_factor(whole, loads, sideways).factor
        assert load_factor(corners, loads, sideways).factor == pytest.approx(factor, rel=1e-6)
    if slope == 0.0:
        assert len(fewer.a) == 8
        assert np.degrees(np.arctan(0.3)) < sliding_tilt(whole, loads).least_deg < np.degrees(np.arctan(0.6))


def test_distance_to_the_edge_of_a_footing() -> None:
    """Against the facets of a hull, for random points; outside and on a line it is negative."""
    rng = np.random.default_rng(0)
    for _ in range(50):
        points = rng.normal(rng.uniform(-1.0, 1.0, 2), 1.0, (int(rng.integers(3, 12)), 2))
        inside = -ConvexHull(points).equations[:, 2].max()
        found = _least_edge_distance(points)
        assert found == pytest.approx(inside, abs=1e-9) if inside >= 0.0 else found < 0.0
    assert _least_edge_distance(np.array([[-1.0, -1.0], [0.0, 0.0], [1.0, 1.0]])) < 0.0
    assert _least_edge_distance(np.zeros((4, 2))) < 0.0
