"""The base pane of a scene: footings, limits by zone, what a report says, and forces that add up."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from boxes import FLOOR_MM, HEAD, box_entry, scene_of

from sim.base import Pane
from sim.base.footing import equivalent_radius_m, footing
from sim.base.ground import ground_pressure_pa
from sim.base.lifting import lift_over_rim
from sim.check import check
from sim.states import Report

PANE_A = Pane(0.9, 0.45, 0.010, 70e9, 0.23)
PANE_A_HEAD = """format = 1
[tank]
inner_mm = [900, 450, 450]
base_mm = 10
side_mm = 10
glass = "annealed"
support = "rim"
under_stones = { kind = "sheet", thickness_mm = 0.001 }
[water]
level_mm = 0
"""


def report_of(folder: Path, *entries: str, head: str = HEAD) -> Report:
    return check(scene_of(folder, *entries, head=head), quick=True)


@pytest.mark.parametrize(
    ("size", "at", "stress"),
    [((60, 60), (450, 225), 1.670), ((150, 100), (450, 225), 1.284), ((60, 60), (300, 80), 1.304)],
)
def test_pane_a_from_a_scene_file(
    tmp_path: Path, size: tuple[float, float], at: tuple[float, float], stress: float
) -> None:
    """Reference pane A with 10 kg on real footprints: tension at the stone within 1 % of the series."""
    stone = box_entry(tmp_path, "stone", (*size, 50), (*at, 0.001), 'rock = "granite"\nmass_kg = 10.0')
    report = report_of(tmp_path, stone, head=PANE_A_HEAD)
    assert report.verdict == "stands (quick)"
    assert report.base is not None
    assert report.base.support == "rim"
    assert report.base.nominal_tension_mpa == pytest.approx(stress, rel=1e-2)
    assert (report.base.max_tension_mpa or 0.0) >= report.base.nominal_tension_mpa
    assert report.base.limit_mpa == 5.0
    assert report.passes


def test_small_footprints_are_spread_by_the_glass_and_the_sheet() -> None:
    """Roark 11.4 case 1b: r0/t = 0 .1 .2 .3 .4 .5 gives r0'/t = .325 .333 .357 .395 .446 .508."""
    for share, equivalent in ((0.0, 0.325), (0.1, 0.333), (0.2, 0.357), (0.3, 0.395), (0.4, 0.446), (0.4999, 0.508)):
        assert equivalent_radius_m(share * 0.01, 0.01) / 0.01 == pytest.approx(equivalent, abs=6e-4)
    assert equivalent_radius_m(0.006, 0.01) == 0.006
    point = np.array([[0.45, 0.225]])
    assert footing(point, 0.0, PANE_A).stands_for_m == pytest.approx(0.00325, rel=1e-3)
    assert footing(point, 0.004, PANE_A).stands_for_m == pytest.approx(0.00446, rel=2e-3)
    square = np.array([[0.4, 0.2], [0.5, 0.2], [0.5, 0.3], [0.4, 0.3]])
    whole = footing(square, 0.0, PANE_A)
    assert whole.stands_for_m is None
    assert whole.centre_m == pytest.approx([0.45, 0.25])


def test_bare_glass_is_never_a_pass(tmp_path: Path) -> None:
    head = HEAD.replace('under_stones = { kind = "sheet", thickness_mm = 5 }\n', 'glass = "annealed"\n')
    head = head.replace("base_mm = 8", "base_mm = 15")
    report = report_of(tmp_path, box_entry(tmp_path, "stone", (60, 60, 20), (300, 200, 0)), head=head)
    assert report.verdict == "stands (quick)"
    assert report.base is not None
    assert report.base.verdict == "bare stone on glass"
    assert report.base.limit_mpa == 3.2
    assert not report.passes
    assert any("bare glass" in caution for caution in report.cautions)


def test_toughened_glass_gets_no_verdict_and_unknown_counts_as_annealed(tmp_path: Path) -> None:
    stone = box_entry(tmp_path, "stone", (60, 60, 20), (300, 200, FLOOR_MM))
    toughened = report_of(tmp_path, stone, head=HEAD.replace("side_mm = 8\n", 'side_mm = 8\nglass = "toughened"\n'))
    assert toughened.base is not None
    assert toughened.base.verdict == "undetermined"
    assert toughened.base.limit_mpa is None
    assert not toughened.passes
    unknown = report_of(tmp_path, stone)
    assert unknown.base is not None
    assert unknown.base.limit_mpa == 5.0
    assert any("glass unknown" in text for text in unknown.inputs_assumed)


def test_a_thin_base_under_water_is_over_its_limit_and_a_mat_helps(tmp_path: Path) -> None:
    stone = box_entry(tmp_path, "stone", (60, 60, 40), (300, 200, FLOOR_MM))
    thin = HEAD.replace("base_mm = 8", "base_mm = 4")
    rim = report_of(tmp_path, stone, head=thin)
    mat = 'support = "mat"\nmat = { material = "EPS22", thickness_mm = 10 }\n'
    on_mat = report_of(tmp_path, stone, head=thin.replace("side_mm = 8\n", "side_mm = 8\n" + mat))
    assert rim.base is not None
    assert on_mat.base is not None
    assert rim.base.verdict == "over the limit"
    assert any(caution.startswith("Do not fill") for caution in rim.cautions)
    assert on_mat.base.verdict == "within limits"
    assert on_mat.base.support == "mat"


def test_the_edge_zone_has_its_own_limit(tmp_path: Path) -> None:
    """Within twice the thickness of an edge: 4.0 MPa. A stone there hardly bends the pane, so water is left out."""
    head = PANE_A_HEAD.replace("inner_mm = [900, 450, 450]", "inner_mm = [100, 50, 100]").replace(
        "base_mm = 10", "base_mm = 30"
    )
    stone = box_entry(tmp_path, "stone", (20, 20, 20), (50, 25, 0.001))
    report = report_of(tmp_path, stone, head=head)
    assert report.base is not None
    assert report.base.limit_mpa == 4.0


def test_footprints_and_water_add_up(tmp_path: Path) -> None:
    """Archimedes cancels: footprint forces and water on the whole base weigh what went in."""
    stone = box_entry(tmp_path, "stone", (80, 60, 40), (300, 200, FLOOR_MM))
    report = report_of(tmp_path, stone)
    flooded = next(state for state in report.states if state.water == "flooded")
    pressed_n = sum(one.force_n.nominal for one in flooded.footprints)
    water_n = 0.6 * 0.4 * 0.3 * 997.299 * 9.80665  # Tanaka 2001 at 24 C
    inside_kg = report.weights.pieces_kg + report.weights.water_kg
    assert pressed_n + water_n == pytest.approx(inside_kg * 9.80665, rel=1e-3)


def test_a_heavy_stone_is_no_lift_for_one(tmp_path: Path) -> None:
    scene = scene_of(tmp_path)
    light, heavy = (lift_over_rim(scene, mass, 100.0, 50.0) for mass in (1.0, 26.0))
    assert light.advice == ""
    assert 0.0 < light.limit_kg <= 23.0
    assert "never alone" in heavy.advice
    far = lift_over_rim(scene, 1.0, 450.0, 50.0)
    assert far.limit_kg == 0.0
    assert far.index == float("inf")


def test_drained_ground_is_wet(tmp_path: Path) -> None:
    """Once drained the pores are still full: gravel then weighs 2050 and not 1680 kg/m3, on the safe side."""
    ground = '[ground]\nlayers = [{ material = "gravel", front_mm = 100, back_mm = 100 }]\n'
    report = report_of(tmp_path, ground, box_entry(tmp_path, "stone", (30, 30, 20), (300, 200, FLOOR_MM)))
    air, drained = (next(one.base for one in report.states if one.water == water) for water in ("air", "drained"))
    assert air is not None
    assert drained is not None
    # the small stone's share taken off both
    stone = report_of(tmp_path, box_entry(tmp_path, "stone", (30, 30, 20), (300, 200, FLOOR_MM))).states[0].base
    assert stone is not None
    gravel = (one.deflection_mm - stone.deflection_mm for one in (drained, air))
    assert next(gravel) / next(gravel) == pytest.approx(2050 / 1680, rel=1e-3)


def test_ground_presses_with_what_it_weighs_in_each_water(tmp_path: Path) -> None:
    ground = '[ground]\nlayers = [{ material = "sand", front_mm = 50, back_mm = 50 }]\n'
    scene, place, g = scene_of(tmp_path, ground), np.array([[0.3, 0.2]]), 9.80665
    for level, wet, density in ((0.0, False, 1555.0), (0.0, True, 2000.0), (0.3, True, 1000.0)):
        assert ground_pressure_pa(scene, place, level, 1000.0, wet)[0] == pytest.approx(0.05 * density * g)
    half = ground_pressure_pa(scene, place, 0.02, 1000.0, True)[0]
    assert half == pytest.approx((0.02 * 1000.0 + 0.03 * 2000.0) * g)
