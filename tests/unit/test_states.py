"""A scene in all its states: waters, faults of place, and how the judges' answers make a verdict."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from boxes import FLOOR_MM, HEAD, box_entry, scene_of

from sim.check import check
from sim.pieces.placing import place_pieces
from sim.states import (
    EquilibriumAnswer,
    Filling,
    RobustAnswer,
    StateAnswer,
    StrictAnswer,
    TrialAnswer,
    confirmed,
    waters_of,
    with_copies,
    with_trial,
    worst,
)

STANDING = StateAnswer(
    "dry", "air", None, True, "stands (quick)", "", EquilibriumAnswer(True, 12.0), StrictAnswer("stands"),
    None, (), 0.0, (), (), (), (), (),
)  # fmt: skip
SURVIVED = TrialAnswer("mujoco", True, 5, 5, 0.1, "at rest")
FELL = TrialAnswer("mujoco", False, 5, 3, 4.0, "upper moved 4.0 mm within 0.50 s")
SILENT = TrialAnswer("mujoco", None, 5, 4, 0.0, "the engine lost the thread")


def test_it_stands_only_when_every_judge_says_so() -> None:
    firm = with_copies(STANDING, RobustAnswer(11.0, 4))
    assert confirmed(with_trial(firm, (SURVIVED,), None)).verdict == "stands"
    assert confirmed(with_trial(STANDING, (SURVIVED,), None)).verdict == "stands (quick)"
    assert with_trial(firm, (FELL,), None).verdict == "doubtful"
    assert "contradicts" in with_trial(firm, (FELL,), None).reason
    assert with_trial(firm, (SURVIVED, SILENT), None).verdict == "undetermined"
    assert with_trial(firm, (), None).verdict == "undetermined"


def test_resting_on_an_edge_is_doubtful_and_no_answer_is_no_verdict() -> None:
    edge = with_copies(STANDING, RobustAnswer(0.4, 4))
    assert edge.verdict == "doubtful"
    assert "edge" in edge.reason
    assert confirmed(with_trial(edge, (SURVIVED,), None)).verdict == "doubtful"
    assert with_copies(STANDING, RobustAnswer(None, 3, "still moves")).verdict == "undetermined"
    falling = replace(STANDING, verdict="falls")
    assert with_copies(falling, RobustAnswer(9.0, 4)).verdict == "falls"
    assert with_trial(falling, (SURVIVED,), None).verdict == "falls"


def test_the_worst_of_the_states_counts() -> None:
    assert worst(["stands", "doubtful", "stands"]) == "doubtful"
    assert worst(["undetermined", "falls"]) == "falls"
    assert worst(["stands", "stands (quick)"]) == "stands (quick)"
    assert worst([]) == "undetermined"


def test_waters_rise_over_each_top(tmp_path: Path) -> None:
    low = box_entry(tmp_path, "low", (80, 60, 40), (200, 200, FLOOR_MM))
    high = box_entry(tmp_path, "high", (80, 60, 100), (400, 200, FLOOR_MM))
    out = box_entry(tmp_path, "out", (30, 30, 350), (500, 100, FLOOR_MM))
    scene = scene_of(tmp_path, low, high, out)
    waters = waters_of(scene, place_pieces(scene))
    assert [water.filling.value for water in waters] == ["air", "partial", "partial", "flooded", "drained"]
    assert [water.level_m for water in waters if water.level_m] == pytest.approx([0.046, 0.106, 0.3])
    assert [water.wet for water in waters] == [False, True, True, True, True]
    dry = scene_of(tmp_path, low, head=HEAD.replace("level_mm = 300", "level_mm = 0"))
    assert [water.filling for water in waters_of(dry, place_pieces(dry))] == [Filling.AIR]


def test_a_stone_under_water_keeps_its_tilt_and_loses_weight(tmp_path: Path) -> None:
    """A uniform stone under water: same tilt, forces times 1 - rho_w/rho_s (Archimedes)."""
    report = check(scene_of(tmp_path, box_entry(tmp_path, "post", (40, 40, 120), (300, 200, FLOOR_MM))), quick=True)
    air, partial, flooded, drained = report.states
    assert report.verdict == "stands (quick)"
    assert air.equilibrium.stack_tilt_deg == pytest.approx(18.435, abs=0.02)
    assert flooded.equilibrium.stack_tilt_deg == pytest.approx(air.equilibrium.stack_tilt_deg, abs=0.02)
    density = report.pieces[0].mass_kg / report.pieces[0].volume_ml * 1e6
    lighter = 1.0 - 997.3 / density
    assert flooded.footprints[0].force_n.nominal == pytest.approx(air.footprints[0].force_n.nominal * lighter, rel=1e-3)
    assert [level.level_mm for level in partial.levels] == pytest.approx([126.0])
    assert drained.level_mm is None


def test_overlap_hover_and_outside_are_named(tmp_path: Path) -> None:
    low = box_entry(tmp_path, "low", (80, 60, 40), (200, 200, FLOOR_MM))
    sunk = box_entry(tmp_path, "sunk", (80, 60, 40), (210, 200, FLOOR_MM + 38))
    report = check(scene_of(tmp_path, low, sunk), quick=True)
    assert report.verdict == "undetermined"
    assert "sunk and low overlap by 2 mm" in report.reason
    assert "bedjoint settle" in report.reason

    hovers = box_entry(tmp_path, "up", (80, 60, 40), (210, 200, FLOOR_MM + 43))
    report = check(scene_of(tmp_path, low, hovers), quick=True)
    assert report.verdict == "falls"
    (fault,) = report.misplaced
    assert (fault.piece, fault.other, fault.fault) == ("up", "low", "hovers")
    assert fault.by_mm == pytest.approx(3.0, abs=1e-3)

    out = box_entry(tmp_path, "far", (80, 60, 40), (900, 200, FLOOR_MM))
    report = check(scene_of(tmp_path, low, out), quick=True)
    assert report.verdict == "undetermined"
    assert "far lies outside the tank, beyond the right pane" in report.reason


def test_glue_counts_and_the_dry_answer_stands_beside_it(tmp_path: Path) -> None:
    post = box_entry(tmp_path, "post", (60, 60, 80), (300, 200, FLOOR_MM), 'rock = "granite"\nfixed = true')
    arm = box_entry(tmp_path, "arm", (60, 40, 20), (340, 200, FLOOR_MM + 80))
    joint = '[[joint]]\nbetween = ["post", "arm"]\nglue = "epoxy putty"\nfit = "sawn"\n'
    report = check(scene_of(tmp_path, post, arm, joint), quick=True)
    assert report.verdict == "stands (quick)"
    assert report.dry_laid is not None
    assert report.dry_laid.verdict == "falls"
    assert "arm tips to the right" in report.dry_laid.reason
    assert 0.0 < (report.joints[0].utilisation or 0.0) < 1.0
    assert report.joints[0].verdict == "holds"
    asked_dry = check(scene_of(tmp_path, post, arm, joint), quick=True, laid="dry")
    assert asked_dry.verdict == "falls"


def test_a_joint_that_cannot_be_judged_leaves_no_verdict(tmp_path: Path) -> None:
    post = box_entry(tmp_path, "post", (60, 60, 80), (300, 200, FLOOR_MM))
    other = box_entry(tmp_path, "other", (60, 40, 20), (420, 200, FLOOR_MM))
    joint = '[[joint]]\nbetween = ["post", "other"]\nglue = "epoxy putty"\n'
    report = check(scene_of(tmp_path, post, other, joint), quick=True)
    assert report.verdict == "undetermined"
    assert "apart" in report.reason
    assert report.joints[0].verdict == "undetermined"


def test_an_empty_scene_has_no_verdict(tmp_path: Path) -> None:
    report = check(scene_of(tmp_path), quick=True)
    assert report.verdict == "undetermined"
    assert "no pieces" in report.reason


def test_only_the_states_asked_for(tmp_path: Path) -> None:
    post = box_entry(tmp_path, "post", (60, 60, 80), (300, 200, FLOOR_MM))
    report = check(scene_of(tmp_path, post), quick=True, fillings=[Filling.AIR])
    assert [state.water for state in report.states] == ["air"]
    assert report.states_left_out == ("partial", "flooded", "drained")
