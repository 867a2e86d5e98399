"""Side panes: bending of a plate with a free top against Levy's series, and worked cases of leaning pieces.

The statics of a ladder, recomputed by hand: a slab of length L, thickness t and weight W that leans at an angle a from
the ground against a wall presses it with N: N (sin a + f cos a) = W (cos a - t/L sin a) / 2, where f, friction up over
N, lies within the pair's own.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from boxes import FLOOR_MM, HEAD, box_entry, scene_of
from levy import levy

from sim.base import BentPane, Pane, side_pane_of
from sim.base.sides import ground_thrust_pa, water_pressure_pa
from sim.check import check
from sim.contact import PANES
from sim.materials import water_density_kg_m3
from sim.states import Report
from sim.states.report import SidePaneReport

G = 9.80665


@pytest.mark.parametrize(("a", "b"), [(1.0, 0.5), (1.0, 1.0), (0.6, 1.2)])
@pytest.mark.parametrize("hydrostatic", [False, True])
def test_a_free_top_against_the_series(a: float, b: float, hydrostatic: bool) -> None:
    """Even load, and one that falls from the bottom to nothing at the top."""
    q0, q1 = (1.0, -1.0 / b) if hydrostatic else (1.0, 0.0)
    thickness = (12.0 * (1.0 - 0.3**2)) ** (1 / 3)
    pane = Pane(a, b, thickness, 1.0, 0.3, edges=("held", "held", "held", "free"))
    bent = BentPane(pane)
    bending = bent.bent(bent.under_pressure(q0 + q1 * bent.places()[:, 1]))
    for point in ((a / 2.0, b), (a / 2.0, b / 2.0), (a / 3.0, b / 4.0)):
        w, moments = levy((a, b), 1.0, 0.3, q0, q1, point)
        place = np.array([point])
        assert float((bent.deflection_at(place) @ bending)[0, 0]) == pytest.approx(w, rel=2e-3)
        found = np.asarray(bent.moments_at(place) @ bending).ravel()[:2]
        assert found == pytest.approx(moments, rel=5e-3, abs=2e-4 * a**2)


def test_the_series_itself_far_from_the_free_edge() -> None:
    """A strip held at both ends, deep enough: 5/384 q a^4 / D in the middle and q a^2 / 8."""
    w, moments = levy((1.0, 8.0), 1.0, 0.3, 1.0, 0.0, (0.5, 4.0))
    assert w == pytest.approx(5 / 384, rel=1e-3)
    assert moments[0] == pytest.approx(0.125, rel=1e-3)


def reported(report: Report, pane: str) -> SidePaneReport:
    (one,) = [side for side in report.side_panes if side.pane == pane]
    return one


def leaning(folder: Path, head: str, friction: float = 0.9, rock: str = 'rock = "granite"') -> Report:
    """A slab of 200 x 60 x 4 mm that leans at 60 degrees against the right pane."""
    width_mm = 200.0 * np.cos(np.pi / 3) + 4.0 * np.sin(np.pi / 3)
    more = f"{rock}\nturn_deg = [0, -60, 0]\nfriction = {friction}"
    slab = box_entry(folder, "slab", (200, 60, 4), (600.0 - float(width_mm) / 2.0, 200, FLOOR_MM), more)
    return check(scene_of(folder, slab, head=head), quick=True)


def test_a_ladder_against_the_right_pane(tmp_path: Path) -> None:
    """Thrust between that of friction upward, which loading alone makes, and downward."""
    report = leaning(tmp_path, HEAD.replace("level_mm = 300", "level_mm = 0"))
    right = reported(report, "right pane")
    weight, a, mu = report.total.mass_kg * G, np.pi / 3, 0.9
    least, most = (weight * (np.cos(a) - 0.02 * np.sin(a)) / 2.0 / (np.sin(a) + f * np.cos(a)) for f in (mu, -mu))
    assert right.thrust_n.most is not None
    assert least * 0.999 <= right.thrust_n.nominal <= right.thrust_n.most
    assert right.thrust_n.most == pytest.approx(most, rel=2e-3)
    assert right.verdict == "bare stone on glass"
    assert right.limit_mpa == 3.2
    assert right.at_mm[0] == pytest.approx(600.0)
    assert reported(report, "left pane").thrust_n.nominal == 0.0
    assert not report.passes


def test_thin_panes_break_under_what_leans_on_them(tmp_path: Path) -> None:
    """The same slab of 20 kg: panes of 2 mm are over the limit, and the report says where."""
    head = HEAD.replace("level_mm = 300", "level_mm = 0").replace("side_mm = 8", "side_mm = 2")
    report = leaning(tmp_path, head, rock='rock = "granite"\nmass_kg = 20')
    right = reported(report, "right pane")
    assert right.verdict == "over the limit"
    assert right.utilisation is not None
    assert right.utilisation > 1.0
    assert right.max_tension_mpa is not None
    assert right.max_tension_mpa >= right.nominal_tension_mpa
    assert not report.passes


def test_water_alone_on_a_long_pane(tmp_path: Path) -> None:
    """600 x 400 mm pane of 8 mm, top free, full to the brim: the largest moment of the series along its middle."""
    stone = box_entry(tmp_path, "stone", (60, 60, 20), (300, 200, FLOOR_MM))
    full = HEAD.replace("level_mm = 300", "level_mm = 400")
    front = reported(check(scene_of(tmp_path, stone, head=full), quick=True), "front pane")
    pane = side_pane_of(scene_of(tmp_path), PANES[2])
    q0 = water_density_kg_m3(24.0) * G * 0.4
    series = max(
        6.0 / pane.thickness_m**2
        * float(np.max(levy((0.6, 0.4), pane.rigidity_nm, pane.poisson, q0, -q0 / 0.4, (0.3, 0.4 * k / 20))[1]))
        for k in range(21)
    )  # fmt: skip
    assert front.water == "flooded"
    assert front.top_held is False
    assert front.max_tension_mpa == pytest.approx(series / 1e6, rel=5e-3)


def test_braces_hold_the_top(tmp_path: Path) -> None:
    stone = box_entry(tmp_path, "stone", (60, 60, 20), (300, 200, FLOOR_MM))
    braced = HEAD.replace("side_mm = 8\n", "side_mm = 8\nbrace_mm = 50\n")
    free, held = (
        reported(check(scene_of(tmp_path, stone, head=head), quick=True), "front pane") for head in (HEAD, braced)
    )
    assert (free.top_held, held.top_held) == (False, True)
    assert held.deflection_mm < 0.6 * free.deflection_mm
    assert (held.max_tension_mpa or 0.0) < (free.max_tension_mpa or 0.0)


def test_pressures() -> None:
    assert water_pressure_pa(np.array([0.0, 0.1, 0.3]), 0.2, 1000.0) == pytest.approx([200 * G, 100 * G, 0.0])


def test_ground_at_rest(tmp_path: Path) -> None:
    """1 - sin(34 degrees) of the weight above (Jaky 1944, from memory), the buoyant weight under water."""
    ground = '[ground]\nlayers = [{ material = "sand", front_mm = 100, back_mm = 100 }]\n'
    scene, place = scene_of(tmp_path, ground), np.array([[0.1, 0.0], [0.1, 0.05], [0.1, 0.2]])
    rest = 1.0 - np.sin(np.radians(34.0))
    dry = ground_thrust_pa(scene, PANES[2], place, 0.0, 1000.0, False)
    assert dry == pytest.approx([rest * 0.1 * 1555 * G, rest * 0.05 * 1555 * G, 0.0])
    flooded = ground_thrust_pa(scene, PANES[2], place, 0.3, 1000.0, True)
    assert flooded == pytest.approx([rest * 0.1 * 1000 * G, rest * 0.05 * 1000 * G, 0.0])
