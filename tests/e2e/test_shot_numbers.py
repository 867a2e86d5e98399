"""`bedjoint shot --where` and `--fill`, `bedjoint depth`, `bedjoint match`: as a builder calls them."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from clicking import clicked
from PIL import Image

import sim.shot
from sim.cli import command
from sim.scene import read_scene
from sim.shot.clicks import CORNERS, Clicks
from sim.shot.lens import lens_of
from sim.shot.refraction import tank_of

SCENE = """format = 1
[tank]
inner_mm = [900, 450, 450]
base_mm = 10
side_mm = 10
[water]
level_mm = 400
[camera]  # by hand
position_mm = [450, -1200, 260]
focal_mm = 35
[[piece]]
id = "block"
generate = { shape = "block", seed = 1, size_mm = [200, 80, 150] }
rock = "basalt"
at_mm = [450, 200, 0]
"""


def run(*arguments: object) -> Result:
    return CliRunner().invoke(command, [str(argument) for argument in arguments])


@pytest.fixture
def scene_file(tmp_path: Path) -> Path:
    path = tmp_path / "tank.toml"
    path.write_text(SCENE)
    return path


def written(clicks: Clicks) -> str:
    lines = ["[corners]", *(f"{name} = [{u!r}, {v!r}]" for name, (u, v) in clicks.corners.items())]
    for edge, (u, v) in zip(clicks.edges, clicks.edge_px.tolist(), strict=True):
        lines += ["[[edge]]", f"between = {json.dumps(edge)}", f"px = [[{u!r}, {v!r}]]"]
    return "\n".join(lines)


@pytest.mark.parametrize(("flag", "flooded"), [("--flooded", True), ("--dry", False)])
def test_where(scene_file: Path, flag: str, flooded: bool) -> None:
    result = run("shot", scene_file, "--where", "450,400,20", flag, "--json")
    assert result.exit_code == 0, result.output
    answer = json.loads(result.stdout)
    wanted = sim.shot.project(read_scene(scene_file), [0.45, 0.4, 0.02], flooded)[0]
    assert answer["px"] == pytest.approx(list(wanted), abs=1e-8)
    assert (answer["visible"], answer["hidden_by"], answer["flooded"]) == (False, "block", flooded)


def test_where_for_several_points_in_words(scene_file: Path) -> None:
    result = run("shot", scene_file, "--where", "450,400,20", "--where", "100,20,20")
    assert result.exit_code == 0, result.output
    assert "hidden by: block" in result.stdout
    assert result.stdout.count(" px of 1920 x 1280") == 2


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--where", "1,2"), "is not a point"),
        (("--where", "1,2,x"), "is not a point"),
        (("--where", "1,2,nan"), "is not a point"),
        (("--where", "450,500,20"), "outside the tank of 900 x 450 x 450 mm"),
        (("--lens", "0", "--fill"), "0.0 is not in the range"),
        ((), "Say what is wanted"),
        (("--where", "1,2,3", "--size", "0x5"), "whole numbers of 1 to"),
    ],
)
def test_no_such_question(scene_file: Path, arguments: tuple[str, ...], said: str) -> None:
    result = run("shot", scene_file, *arguments)
    assert result.exit_code == 2
    assert said in result.stderr


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("[450, -1200, 260]", "[450, 200, 200]", "inside the tank"),
        ("[450, -1200, 260]", "[450, 900, 200]", "behind the tank"),
        ("focal_mm = 35", "focal_mm = 0", "focal_mm"),
        ("focal_mm = 35", "focal_mm = 35\nfocus_mm = 20", "cannot focus"),
    ],
)
def test_no_such_camera(scene_file: Path, old: str, new: str, said: str) -> None:
    scene_file.write_text(SCENE.replace(old, new))
    result = run("shot", scene_file, "--where", "100,100,100")
    assert result.exit_code == 2
    assert said in result.stderr
    assert "Traceback" not in result.output


def test_fill(scene_file: Path) -> None:
    result = run("shot", scene_file, "--fill", "--lens", "24", "--lens", "35", "--json")
    assert result.exit_code == 0, result.output
    answer = json.loads(result.stdout)
    wide, usual = answer["lenses"]
    assert wide["distance_mm"] < usual["distance_mm"]
    placed = scene_file.with_name("placed.toml")
    placed.write_text(SCENE.replace("[450, -1200, 260]", str(usual["position_mm"])))
    left, right = sim.shot.project(read_scene(placed), [[0, 0, 0.2], [0.9, 0, 0.2]], False)[:, 0]
    assert (left, right) == pytest.approx((0.0, 1920.0), abs=0.6)
    assert 24 < answer["fitting_lens_mm"] < 60
    assert "lens mm" in run("shot", scene_file, "--fill").stdout
    again = run("shot", scene_file, "--fill", "--distance", wide["distance_mm"], "--json")
    assert json.loads(again.stdout)["fitting_lens_mm"] == pytest.approx(24.0, abs=1e-3)
    assert run("shot", scene_file, "--distance", "900").exit_code == 2


def test_depth(scene_file: Path) -> None:
    result = run("depth", scene_file, "--times", "2", "--back", "3", "--json")
    assert result.exit_code == 0, result.output
    answer = json.loads(result.stdout)
    assert answer["flooded"] is True
    assert answer["times"] == [2.0]
    assert [row["depth_mm"] for row in answer["depths"]] == pytest.approx(np.linspace(0, 450, 9), abs=1e-3)
    assert answer["pieces"][0]["id"] == "block"
    assert "450 mm of depth look like 338 mm" in run("depth", scene_file).stdout
    assert "450 mm of depth look like 450 mm" in run("depth", scene_file, "--dry").stdout
    assert run("depth", scene_file, "--reference", "900").exit_code == 2


def test_match(scene_file: Path, tmp_path: Path) -> None:
    """Clicks drawn from a known camera; the written scene has that camera, and the rest of the file is as it was."""
    lens = lens_of(read_scene(scene_file).model_copy(update={}))
    tank = tank_of(read_scene(scene_file), flooded=False)
    (tmp_path / "clicks.toml").write_text(written(clicked(lens, tank, size_px=(3000, 2000), per_edge=2)))
    Image.new("RGB", (3000, 2000), (90, 90, 90)).save(tmp_path / "empty.jpg")
    out, drawn = tmp_path / "matched.toml", tmp_path / "check.png"
    arguments = (
        scene_file,
        tmp_path / "empty.jpg",
        "--points",
        tmp_path / "clicks.toml",
        "-o",
        out,
        "--picture",
        drawn,
    )
    result = run("match", *arguments)
    assert result.exit_code == 0, result.output
    assert "focal length" in result.stdout
    matched = read_scene(out)
    assert matched.camera.focal_mm == pytest.approx(35.0, abs=1e-3)
    assert matched.camera.position_mm == pytest.approx((450.0, -1200.0, 260.0), abs=0.02)
    assert matched.camera.distortion == pytest.approx(0.0, abs=1e-5)
    assert matched.photo.matched == "empty.jpg"
    assert "# by hand" in out.read_text()
    points = [[0.1, 0.1, 0.1], [0.8, 0.4, 0.35]]
    for flooded in (False, True):
        wanted = sim.shot.project(read_scene(scene_file), points, flooded)
        assert sim.shot.project(matched, points, flooded) == pytest.approx(wanted, abs=0.01)
    with Image.open(drawn) as picture:
        assert picture.size == (3000, 2000)
        assert len(set(picture.get_flattened_data())) > 3
    answer = json.loads(run("match", *arguments, "--json").stdout)
    assert answer["camera"]["focal_mm"] == pytest.approx(35.0, abs=1e-3)
    assert answer["distortion_off"] is not None


def test_match_says_what_to_add(scene_file: Path, tmp_path: Path) -> None:
    scene = read_scene(scene_file)
    few = clicked(lens_of(scene), tank_of(scene, flooded=False), CORNERS[:4], size_px=(3000, 2000))
    (tmp_path / "clicks.toml").write_text(written(few))
    Image.new("RGB", (3000, 2000)).save(tmp_path / "empty.png")
    arguments = (scene_file, tmp_path / "empty.png", "--points", tmp_path / "clicks.toml")
    result = run("match", *arguments, "-o", tmp_path / "matched.toml")
    assert result.exit_code == 2
    assert "inner corners of the back pane" in result.stderr
    assert not (tmp_path / "matched.toml").exists()
    assert run("match", *arguments, "--lens", "35").exit_code == 0


@pytest.mark.parametrize(("content", "said"), [(None, "no such picture"), (b"rubbish", "cannot be read as a picture")])
def test_match_without_a_photo(scene_file: Path, tmp_path: Path, content: bytes | None, said: str) -> None:
    (tmp_path / "clicks.toml").write_text("[corners]\nfront_bottom_left = [1, 2]")
    if content is not None:
        (tmp_path / "empty.jpg").write_bytes(content)
    result = run("match", scene_file, tmp_path / "empty.jpg", "--points", tmp_path / "clicks.toml")
    assert result.exit_code == 2
    assert said in result.stderr
    assert "Traceback" not in result.output
