"""`bedjoint shot` on the command line: pictures, contact sheets, the account, and refusals."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from PIL import Image

from sim.cli import command

SCENE = """
format = 1
title = "One stone"
[tank]
inner_mm = [600, 300, 300]
base_mm = 8
side_mm = 8
[camera]
position_mm = [300, -800, 150]
look_at_mm = [300, 150, 150]
[[piece]]
id = "stone"
generate = { shape = "block", seed = 4, size_mm = [120, 90, 110], faces = 600 }
rock = "limestone"
at_mm = [170, 150, 0]
"""


@pytest.fixture
def scene(tmp_path: Path) -> Path:
    file = tmp_path / "one.toml"
    file.write_text(SCENE)
    return file


def run(*arguments: object) -> Result:
    return CliRunner().invoke(command, ["shot", *map(str, arguments)])


def test_a_picture_of_the_size_asked_for(scene: Path, tmp_path: Path) -> None:
    result = run(scene, "-o", tmp_path / "shot.png", "--size", "180x120")
    assert result.exit_code == 0, result.output
    with Image.open(tmp_path / "shot.png") as image:
        assert image.size == (180, 120)
        assert np.asarray(image).std() > 10


def test_several_lenses_make_a_contact_sheet(scene: Path, tmp_path: Path) -> None:
    run(scene, "-o", tmp_path / "one.png", "--size", "90x60", "--dry", "--lens", "50")
    result = run(scene, "-o", tmp_path / "sheet.png", "--size", "90x60", "--both", "--lens", "24", "--lens", "50")
    assert result.exit_code == 0, result.output
    with Image.open(tmp_path / "sheet.png") as sheet, Image.open(tmp_path / "one.png") as one:
        assert sheet.width > 2 * 90
        assert sheet.height > 2 * 60
        whole, part = np.asarray(sheet.convert("RGB")), np.asarray(one.convert("RGB"))
    spots = [
        (row, column)
        for row in range(whole.shape[0] - 59)
        for column in range(whole.shape[1] - 89)
        if np.array_equal(whole[row, column : column + 90], part[0])
    ]
    assert any(np.array_equal(whole[r : r + 60, c : c + 90], part) for r, c in spots)


def test_guides_change_the_picture(scene: Path, tmp_path: Path) -> None:
    shot = [scene, "--size", "120x80", "--preview"]
    run(*shot, "-o", tmp_path / "plain.png")
    run(*shot, "-o", tmp_path / "guided.png", "--guides", "thirds", "--guides", "triangle")
    with Image.open(tmp_path / "plain.png") as plain, Image.open(tmp_path / "guided.png") as guided:
        changed = (np.asarray(plain) != np.asarray(guided)).any(axis=2).mean()
    assert 0.01 < changed < 0.3


def test_the_account_as_json(scene: Path) -> None:
    result = run(scene, "--report", "--both", "--json")
    assert result.exit_code == 0, result.output
    (shot,) = json.loads(result.stdout)["shots"]
    assert shot["title"] == "One stone"
    assert [state["flooded"] for state in shot["states"]] == [False, True]
    parts = {part["name"]: part for part in shot["states"][1]["showing"]["parts"]}
    assert parts["back right edge"]["share"] == 1.0
    assert 0.3 < parts["base"]["share"] < 1.0
    assert parts["base"]["hidden_by"][0][0] == "stone"
    assert shot["states"][1]["showing"]["mirrored_pane_share"] == 1.0
    assert shot["states"][1]["composition"]["left_share"] > 0.99


def test_the_account_as_text(scene: Path) -> None:
    result = run(scene, "--report")
    assert result.exit_code == 0, result.output
    assert "back left edge" in result.stdout
    assert "front quarter of the depth" in result.stdout


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["-o", "shot.gif"], "no kind of picture"),
        (["--both", "--dry", "-o", "x.png"], "exclude each other"),
        (["--report", "--where", "1,1,1"], "leave out"),
        ([], "Say what is wanted"),
        (["-o", "x.png", "--size", "20000x20000"], "24 million pixels"),
        (["-o", "x.png", "--lens", "0"], "0"),
    ],
)
def test_what_makes_no_picture(
    scene: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, arguments: list[str], says: str
) -> None:
    monkeypatch.chdir(tmp_path)
    size = [] if "--size" in arguments else ["--size", "30x20"]
    result = run(scene, *arguments, *size)
    assert result.exit_code == 2
    assert says in result.output
    assert not list(tmp_path.glob("*.png"))


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("[300, -800, 150]", "[300, 900, 150]", "behind the tank"),
        ("[300, -800, 150]", "[300, 60, 150]", "inside the tank"),
        ("[camera]", '[background]\nimage = "none.png"\n[camera]', "does not exist"),
    ],
)
def test_a_scene_that_cannot_be_shot(scene: Path, tmp_path: Path, old: str, new: str, says: str) -> None:
    scene.write_text(SCENE.replace(old, new))
    result = run(scene, "-o", tmp_path / "shot.png", "--size", "30x20")
    assert result.exit_code == 2
    assert says in result.output
    assert "Traceback" not in result.output
