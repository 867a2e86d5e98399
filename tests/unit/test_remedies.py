"""What would help a base pane that does not pass, and where the weakest piece would hit."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from boxes import FLOOR_MM, HEAD, box_entry, scene_of

from sim.base.falling import fall_of, flat_height_m
from sim.check import check
from sim.pieces.placing import place_pieces
from sim.states import Report

THIN = HEAD.replace("base_mm = 8", "base_mm = 4").replace("side_mm = 8\n", 'side_mm = 8\nglass = "annealed"\n')


def report_of(folder: Path, *entries: str, head: str = HEAD) -> Report:
    return check(scene_of(folder, *entries, head=head), quick=True)


def test_a_thin_base_is_helped_and_the_help_is_true(tmp_path: Path) -> None:
    """What the report promises is what a scene with that change gets."""
    stone = box_entry(tmp_path, "stone", (60, 60, 40), (300, 200, FLOOR_MM))
    report = report_of(tmp_path, stone, head=THIN)
    assert report.base is not None
    assert report.base.verdict == "over the limit"
    tried = {one.what: one for one in report.remedies}
    thicker = [one for one in report.remedies if one.what.startswith("a base of")]
    assert [one.passes for one in thicker] == [False] * (len(thicker) - 1) + [True]
    thickness = thicker[-1].what.split()[3]
    again = report_of(tmp_path, stone, head=THIN.replace("base_mm = 4", f"base_mm = {thickness}"))
    assert again.base is not None
    assert again.base.max_tension_mpa == pytest.approx(thicker[-1].max_tension_mpa, rel=1e-6)
    mat = next(one for what, one in tried.items() if what.startswith("a mat"))
    assert mat.passes
    matted = 'support = "mat"\nmat = { material = "EPS22", thickness_mm = 10 }\n'
    on_mat = report_of(tmp_path, stone, head=THIN.replace("side_mm = 8\n", "side_mm = 8\n" + matted))
    assert on_mat.base is not None
    assert on_mat.base.max_tension_mpa == pytest.approx(mat.max_tension_mpa, rel=1e-6)
    assert on_mat.remedies == ()


def test_bare_stone_is_helped_by_a_sheet(tmp_path: Path) -> None:
    head = HEAD.replace('under_stones = { kind = "sheet", thickness_mm = 5 }\n', 'glass = "annealed"\n')
    head = head.replace("base_mm = 8", "base_mm = 15")
    report = report_of(tmp_path, box_entry(tmp_path, "stone", (60, 60, 20), (300, 200, 0)), head=head)
    assert [one.passes for one in report.remedies] == [True]
    assert "sheet" in report.remedies[0].what


def test_the_worst_footprint_is_moved_towards_the_rim(tmp_path: Path) -> None:
    """A heavy stone in the middle of a dry pane on its rim: nearer the rim it bends the pane less."""
    head = THIN.replace("level_mm = 300", "level_mm = 0")
    heavy = box_entry(tmp_path, "heavy", (60, 60, 40), (300, 200, FLOOR_MM), 'rock = "granite"\nmass_kg = 15')
    light = box_entry(tmp_path, "light", (60, 60, 40), (100, 200, FLOOR_MM))
    report = report_of(tmp_path, heavy, light, head=head)
    moved = [one for one in report.remedies if one.what.startswith("heavy")]
    assert [one.what.split(" towards ")[1] for one in moved] == ["the rim"]
    assert report.base is not None
    assert (moved[0].max_tension_mpa or 0.0) < (report.base.max_tension_mpa or 0.0)


def test_no_remedies_for_what_passes_or_gets_no_verdict(tmp_path: Path) -> None:
    stone = box_entry(tmp_path, "stone", (60, 60, 20), (300, 200, FLOOR_MM))
    assert report_of(tmp_path, stone).remedies == ()
    toughened = HEAD.replace("side_mm = 8\n", 'side_mm = 8\nglass = "toughened"\n')
    assert report_of(tmp_path, stone, head=toughened).remedies == ()


def test_a_tower_near_the_front_hits_the_front_pane(tmp_path: Path) -> None:
    """200 mm high, its front 60 mm from the pane: a top on an arc of 200 mm meets it sqrt(200^2 - 60^2) up."""
    tower = box_entry(tmp_path, "tower", (60, 60, 200), (300, 90, FLOOR_MM))
    scene = scene_of(tmp_path, tower)
    (piece,) = place_pieces(scene)
    found = fall_of(scene, piece, np.array([0.0, -1.0, 0.0]), 0.005)
    assert found.hits == "front pane"
    assert found.at_m == pytest.approx([0.3, 0.0, 0.005 + np.sqrt(0.2**2 - 0.06**2)])
    assert flat_height_m(piece) == pytest.approx(0.03)
    assert found.height_m == pytest.approx(0.1 - 0.03)
    assert found.energy_j == pytest.approx(found.mass_kg * 9.80665 * 0.07)
    back = fall_of(scene, piece, np.array([0.0, 1.0, 0.0]), 0.005)
    assert back.hits == "base"
    assert back.at_m == pytest.approx([0.3, 0.12 + 0.2, 0.005])
    down = fall_of(scene, piece, np.array([0.0, 0.0, -1.0]), 0.005)
    assert (down.hits, down.at_m[0]) == ("base", pytest.approx(0.3))


def test_the_report_says_where_the_weakest_piece_would_hit(tmp_path: Path) -> None:
    lower = box_entry(tmp_path, "lower", (60, 60, 60), (300, 200, FLOOR_MM))
    upper = box_entry(tmp_path, "upper", (60, 60, 100), (335, 200, FLOOR_MM + 60))
    report = report_of(tmp_path, lower, upper)
    assert report.verdict == "falls"
    assert report.fall is not None
    assert report.fall.piece == "upper"
    assert report.fall.hits == "base"
    assert report.fall.at_mm[0] > 365.0
    assert report.fall.height_mm == pytest.approx(60 + 50 - 30)
