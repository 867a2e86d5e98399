"""Every scene in scenes/ is judged as it says: the whole of `check`, not the quick part of it."""

from __future__ import annotations

import functools
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from sim.check import Report, check
from sim.pieces.placing import place_pieces
from sim.report.picture import MOVES_RGB, margin_picture
from sim.scene import Scene, read_scene
from sim.states import StateAnswer

SCENES = sorted((Path(__file__).resolve().parents[2] / "scenes").glob("*.toml"))


@functools.cache
def judged(file: Path) -> tuple[Scene, Report]:
    """A scene and its report, once for all tests of this module."""
    scene = read_scene(file)
    return scene, check(scene)


def state_of(report: Report, water: str) -> StateAnswer:
    """The answer of a scene as it is to be built, in one water."""
    (state,) = [state for state in report.states if state.as_built and state.water == water]
    return state


def scene_file(name: str) -> Path:
    (file,) = [file for file in SCENES if file.stem == name]
    return file


def test_there_are_scenes_and_each_says_what_it_teaches() -> None:
    assert len(SCENES) >= 8
    for file in SCENES:
        expect = read_scene(file).expect
        assert expect is not None, f"{file.name} has no [expect]"
        assert expect.why, f"{file.name} does not say why"
        assert file.read_text().startswith("# "), f"{file.name} does not open with what it teaches"


@pytest.mark.parametrize("file", SCENES, ids=lambda file: file.stem)
def test_a_scene_is_judged_as_it_says(file: Path) -> None:
    scene, report = judged(file)
    expect = scene.expect
    assert expect is not None
    assert report.misplaced == ()
    assert report.verdict == expect.verdict, report.reason
    if expect.dry is not None:
        assert (report.verdict if report.dry_laid is None else report.dry_laid.verdict) == expect.dry
    if expect.flooded is not None:
        assert state_of(report, "flooded").verdict == expect.flooded
    if expect.moving:
        assert report.governing is not None
        assert set(report.states[report.governing].moving) == set(expect.moving)


def test_driftwood_lies_well_until_the_water_comes() -> None:
    """What one verdict cannot say: the same root stands in air and once drained, and floats between."""
    _, report = judged(scene_file("driftwood_floats"))
    assert [state_of(report, water).verdict for water in ("air", "partial", "flooded", "drained")] == [
        "stands", "falls", "falls", "stands",
    ]  # fmt: skip


def test_the_doubtful_one_stands_as_placed() -> None:
    _, report = judged(scene_file("rests_on_an_edge"))
    (state,) = report.states
    assert state.equilibrium.feasible is True
    assert state.strict.verdict == "stands"
    assert state.equilibrium.critical_tilt_deg is not None
    assert 0.0 < state.equilibrium.critical_tilt_deg < 1.0
    assert state.robust is not None
    assert state.robust.least_tilt_deg == 0.0


def test_the_glue_of_the_cantilever_works() -> None:
    """The joint bears something, and by far not all that it could."""
    _, report = judged(scene_file("cantilever_needs_glue"))
    (joint,) = report.joints
    assert joint.verdict == "holds"
    assert joint.utilisation is not None
    assert 0.01 < joint.utilisation < 0.5


@pytest.mark.parametrize("file", SCENES, ids=lambda file: file.stem)
def test_the_picture_of_a_scene_can_be_drawn(file: Path, tmp_path: Path) -> None:
    scene, report = judged(file)
    drawn = tmp_path / "margins.png"
    drawn.write_bytes(margin_picture(scene, place_pieces(scene), report, (360, 240)))
    with Image.open(drawn) as image:
        shown = np.asarray(image.convert("RGB"))[:240].astype(int)
    assert shown.shape == (240, 360, 3)
    # shaded, the colour of what moves keeps its order: far more red than blue
    reddish = (shown[..., 0] > 1.6 * shown[..., 2]) & (shown[..., 0] > 60)
    assert MOVES_RGB[0] > 1.6 * MOVES_RGB[2]
    assert reddish.sum() > 100
