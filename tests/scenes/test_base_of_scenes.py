"""What the scenes that teach something about glass say of it."""

from __future__ import annotations

from pathlib import Path

import pytest

from sim.check import check
from sim.scene import read_scene

SCENES = sorted((Path(__file__).resolve().parents[2] / "scenes").glob("*.toml"))
ABOUT_GLASS = [
    file for file in SCENES if (expect := read_scene(file).expect) is not None and expect.base_within_limits is not None
]


def test_there_is_one() -> None:
    assert "point_load_on_a_thin_base" in [file.stem for file in ABOUT_GLASS]


@pytest.mark.parametrize("file", ABOUT_GLASS, ids=lambda file: file.stem)
def test_the_base_is_as_the_scene_says(file: Path) -> None:
    scene = read_scene(file)
    report = check(scene, quick=True)
    assert scene.expect is not None
    assert report.base is not None
    assert (report.base.verdict in ("within limits", "marginal")) is scene.expect.base_within_limits


def test_a_point_load_is_helped_by_thicker_glass() -> None:
    (file,) = [file for file in SCENES if file.stem == "point_load_on_a_thin_base"]
    report = check(read_scene(file), quick=True)
    assert report.base is not None
    assert report.base.verdict == "over the limit"
    assert report.weights.water_l == 0.0
    assert any(one.passes and one.what.startswith("a base of") for one in report.remedies)
    assert any(one.passes and one.what.startswith("a mat") for one in report.remedies)
    assert not report.passes
