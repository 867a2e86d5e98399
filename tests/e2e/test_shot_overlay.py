"""`bedjoint shot --over`: the shot over a photo, over a concept picture, its edges only, or beside it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from numpy.typing import NDArray
from PIL import Image

from sim.cli import command
from sim.scene import read_scene
from sim.shot.lens import lens_of
from sim.shot.overlay import DEPTH_RGB, OUTLINE_RGB, wireframe
from sim.shot.refraction import tank_of

SCENE = """format = 1
[tank]
inner_mm = [900, 450, 450]
base_mm = 10
side_mm = 10
[camera]
position_mm = [470, -1100, 280]
focal_mm = 24
[photo]
concept = "concept.png"
opacity = 0.25
[[piece]]
id = "block"
generate = { shape = "block", seed = 1, size_mm = [200, 80, 150] }
rock = "basalt"
at_mm = [450, 200, 0]
"""
SIZE = "480x320"


def run(*arguments: object) -> Result:
    return CliRunner().invoke(command, [str(argument) for argument in arguments])


def pixels(path: Path) -> NDArray[np.int16]:
    with Image.open(path) as picture:
        return np.asarray(picture.convert("RGB")).astype(np.int16)


@pytest.fixture
def scene_file(tmp_path: Path) -> Path:
    path = tmp_path / "tank.toml"
    path.write_text(SCENE)
    Image.new("RGB", (480, 320), (200, 100, 0)).save(tmp_path / "concept.png")
    return path


def test_over_photo_and_concept(scene_file: Path, tmp_path: Path) -> None:
    alone, over, own, edges, beside = (tmp_path / f"{name}.png" for name in ("a", "b", "c", "d", "e"))
    assert run("shot", scene_file, "-o", alone, "--size", SIZE, "--dry").exit_code == 0
    shot = pixels(alone)
    result = run("shot", scene_file, "-o", over, "--size", SIZE, "--dry", "--over", "concept")
    assert result.exit_code == 0, result.output
    # [photo] opacity is that of the picture: a quarter of it and three of the shot
    assert np.abs(pixels(over) - (0.75 * shot + 0.25 * np.array([200, 100, 0]))).max() <= 1.0
    run("shot", scene_file, "-o", own, "--size", SIZE, "--dry", "--over", alone, "--opacity", "0.4")
    assert np.abs(pixels(own) - shot).max() <= 1
    run("shot", scene_file, "-o", edges, "--size", SIZE, "--dry", "--over", "concept", "--manner", "edges")
    inked = (pixels(edges) == OUTLINE_RGB).all(axis=2)
    assert 0.005 < inked.mean() < 0.1
    assert (pixels(edges)[~inked] == [200, 100, 0]).all()
    run("shot", scene_file, "-o", beside, "--size", SIZE, "--dry", "--over", alone, "--manner", "beside")
    assert (pixels(beside)[:, -480:] == shot).all()
    assert (pixels(beside)[:, :480] == shot).all()


def test_the_wireframe_lies_on_the_seams_of_a_rendered_tank(scene_file: Path, tmp_path: Path) -> None:
    """Along the back's upright edges a picture of the empty tank is darker than beside them: the seams."""
    scene_file.write_text(SCENE[: SCENE.index("[[piece]]")])
    run("shot", scene_file, "-o", tmp_path / "empty.png", "--size", "960x640", "--dry")
    scene = read_scene(scene_file)
    with Image.open(tmp_path / "empty.png") as picture:
        photo = picture.convert("RGB")
    drawn = np.asarray(wireframe(photo, lens_of(scene), tank_of(scene, flooded=False)))
    light = pixels(tmp_path / "empty.png").sum(axis=2)
    rows = slice(300, 340)
    back = np.unique(np.argwhere((drawn[rows] == (40, 120, 255)).all(axis=2))[:, 1])
    assert len(back) == 2
    for column in back:
        around = light[rows, column - 12 : column + 13].mean(axis=0)
        assert abs(int(np.argmin(around)) - 12) <= 2  # a seam is a few pixels wide, either side of the edge
    assert (drawn == DEPTH_RGB).all(axis=2).any()


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--over", "photo", "-o", "x.png"), "names no such picture"),
        (("--over", "none.png", "-o", "x.png"), "no such picture"),
        (("--over", "concept"), "Say what is wanted: -o PICTURE"),
        (("--over", "concept", "--fill"), "--over needs -o"),
        (("--over", "concept", "-o", "x.png", "--both"), "--over needs -o"),
        (("--over", "concept", "-o", "x.png", "--opacity", "2"), "not in the range"),
    ],
)
def test_no_such_overlay(scene_file: Path, arguments: tuple[str, ...], said: str) -> None:
    result = run("shot", scene_file, *arguments)
    assert result.exit_code == 2
    assert said in result.stderr
    assert not Path("x.png").exists()
