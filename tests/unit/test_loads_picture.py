"""The sheet of what glass and joints carry, and the arrays that it is drawn from."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from boxes import FLOOR_MM, HEAD, box_entry, scene_of
from PIL import Image

from sim.base.answering import Carrier
from sim.check import checked
from sim.report import loads_picture
from sim.states import Report

LIMIT_RGB = (0xD5, 0x5E, 0x00)


def judged(folder: Path, *entries: str, head: str = HEAD) -> tuple[Report, Carrier]:
    return checked(scene_of(folder, *entries, head=head), quick=True)


def drawn(report: Report, carrier: Carrier) -> np.ndarray:
    with Image.open(io.BytesIO(loads_picture(report, carrier))) as image:
        return np.asarray(image.convert("RGB"))


def share_of(shown: np.ndarray, rgb: tuple[int, int, int]) -> float:
    return float((np.abs(shown.astype(int) - rgb).max(axis=2) < 8).mean())


def test_footings_are_footprints_spread_by_the_sheet(tmp_path: Path) -> None:
    report, _ = judged(tmp_path, box_entry(tmp_path, "stone", (60, 40, 20), (300, 200, FLOOR_MM)))
    (one,) = report.footings
    area = 60 * 40 + 2 * 5 * (60 + 40) + np.pi * 25
    assert one.piece == "stone"
    assert one.water == "flooded"
    assert one.area_mm2 == pytest.approx(area, rel=1e-2)
    assert one.pressure_kpa == pytest.approx(one.force_n / one.area_mm2 * 1e3)
    assert np.array(one.outline_mm).mean(axis=0) == pytest.approx([300.0, 200.0], abs=0.1)


def test_the_map_agrees_with_the_report(tmp_path: Path) -> None:
    report, carrier = judged(tmp_path, box_entry(tmp_path, "stone", (60, 40, 20), (300, 200, FLOOR_MM)))
    found = carrier.load_map()
    assert found is not None
    assert report.base is not None
    assert found.tension_pa.max() / 1e6 == pytest.approx(report.base.nominal_tension_mpa, rel=1e-2)
    assert found.deflection_m.max() * 1e3 == pytest.approx(report.base.deflection_mm, rel=1e-3)
    # symmetric, as the scene is
    assert found.tension_pa == pytest.approx(found.tension_pa[:, ::-1], rel=1e-2)


def test_the_limit_is_drawn_where_it_is_passed(tmp_path: Path) -> None:
    stone = box_entry(tmp_path, "stone", (60, 60, 40), (300, 200, FLOOR_MM))
    heads = [HEAD.replace("base_mm = 8", f"base_mm = {thickness}") for thickness in (4, 12)]
    over, within = (drawn(*judged(tmp_path, stone, head=head)) for head in heads)
    assert over.shape == within.shape
    assert share_of(over, LIMIT_RGB) > 3.0 * share_of(within, LIMIT_RGB)


def test_the_same_scene_gives_the_same_picture(tmp_path: Path) -> None:
    stone = box_entry(tmp_path, "stone", (60, 60, 40), (300, 200, FLOOR_MM))
    first, second = (loads_picture(*judged(tmp_path, stone)) for _ in range(2))
    assert first == second


def test_what_falls_is_drawn_too(tmp_path: Path) -> None:
    lower = box_entry(tmp_path, "lower", (60, 60, 60), (300, 200, FLOOR_MM))
    report, carrier = judged(tmp_path, lower, box_entry(tmp_path, "upper", (60, 60, 60), (335, 200, FLOOR_MM + 60)))
    assert report.footings == ()
    assert carrier.load_map() is None
    assert drawn(report, carrier).std() > 5.0


def test_joints_have_a_panel_of_their_own(tmp_path: Path) -> None:
    lower = box_entry(tmp_path, "lower", (160, 60, 60), (300, 200, FLOOR_MM))
    upper = box_entry(tmp_path, "upper", (60, 60, 60), (360, 200, FLOOR_MM + 60))
    joint = '[[joint]]\nbetween = ["upper", "lower"]\nglue = "epoxy putty"\n'
    plain = drawn(*judged(tmp_path, lower))
    glued = drawn(*judged(tmp_path, joint, lower, upper))
    assert glued.shape[0] > plain.shape[0] + 200
