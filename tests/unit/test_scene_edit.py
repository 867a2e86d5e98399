"""Changing a scene file: what was asked for changes, and not a byte besides."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.errors import OutputError, SceneError
from sim.scene import (
    Camera,
    Document,
    Generate,
    PieceEntry,
    Pose,
    add_joint,
    add_piece,
    parse_document,
    parse_scene,
    read_document,
    read_scene,
    remove_joints,
    remove_piece,
    save,
    set_camera,
    set_key,
    set_piece_key,
    set_pose,
    set_poses,
)

# every layout that a user may choose: mixed order, long lists, comments everywhere, sub-sections
TEXT = """\
# my tank, in the hall
format = 1
title = "Sea [arch] # one"   # with a sign

[tank]
inner_mm = [900, 450, 450]   # inside!
base_mm = 10
side_mm = 10

  [[piece]]   # the first
  id = "a"
  stand_in = { size_mm = [100, 80, 40], mass_kg = 0.8 }  # calipers
  rock = "limestone"
  at_mm = [
      250,  # from the left
      200,  # from the front
      0,
  ]
  turn_deg = [0, 0, 35]  # a bit

# these two are glued
[[joint]]
between = ["a", "b"] # j
glue = "epoxy putty"

# the second
[[piece]]
id = "b"
rock = "limestone"
at_mm = [250, 200, 40] # here
quaternion = [1, 0, 0, 0] # none
[piece.stand_in]
size_mm = [100, 80, 40]
mass_kg = 0.8

[[rule]]
before = ["a", "b"]

# that is all
"""
INLINE = """\
format = 1
tank = { inner_mm = [900, 450, 450], base_mm = 10, side_mm = 10 }
water.level_mm = 400  # full
piece = [
  { id = "a", mesh = "a.ply", rock = "slate", at_mm = [1, 2, 3] },  # first
  { id = "b", mesh = "b.ply", rock = "slate", at_mm = [1, 2, 30] },  # second
]
"""


def comments(text: str) -> list[str]:
    return re.findall(r"# .*", text)


def changed_lines(before: str, after: str) -> list[str]:
    kept = before.splitlines()
    return [line for line in after.splitlines() if line not in kept]


coordinate = st.floats(-20_000, 20_000)
point = st.tuples(coordinate, coordinate, coordinate)
turn = st.floats(-360, 360)


@given(point, st.tuples(turn, turn, turn))
@settings(max_examples=60)
def test_poses_come_back_to_a_millionth_of_a_millimetre(at: tuple[float, ...], turns: tuple[float, ...]) -> None:
    for text in (TEXT, INLINE, TEXT.replace("\n", "\r\n")):
        document = Document(text)
        set_pose(document, "b", at, turns)
        entry = parse_scene(document.text).piece_named("b")
        assert entry.at_mm == pytest.approx(at, abs=1e-6)
        assert entry.turn_deg == pytest.approx(turns, abs=1e-6)
        assert entry.quaternion is None
        assert comments(document.text) == comments(text)


def test_only_the_numbers_of_a_pose_change() -> None:
    document = Document(TEXT)
    set_pose(document, "a", (251.5, 200, 0), (0, 0, 35))
    assert document.text == TEXT.replace("    250,  #", "    251.5,  #")
    set_pose(document, "b", (250, 200, 41), quaternion=(0, 0, 0, 1))
    assert changed_lines(TEXT, document.text) == [
        "      251.5,  # from the left",
        "at_mm = [250, 200, 41] # here",
        "quaternion = [0, 0, 0, 1] # none",
    ]


def test_a_turn_takes_the_place_of_the_other_form() -> None:
    document = Document(TEXT)
    set_pose(document, "a", (250, 200, 0), quaternion=(1, 0, 0, 0))
    set_pose(document, "b", (250, 200, 40), turn_deg=(0, 0, 90))
    assert changed_lines(TEXT, document.text) == [
        "  quaternion = [1, 0, 0, 0]  # a bit",
        "turn_deg = [0, 0, 90] # none",
    ]


def test_setting_what_is_there_changes_nothing() -> None:
    document = Document(TEXT)
    set_pose(document, "a", (250, 200, 0), (0, 0, 35))
    set_key(document, "tank", "base_mm", 10)
    assert document.text == TEXT


def test_many_poses_in_one_pass_or_none() -> None:
    document = Document(TEXT)
    with pytest.raises(SceneError, match='no piece "c"'):
        set_poses(document, {"a": Pose((1, 2, 3)), "c": Pose((1, 2, 3))})
    assert document.text == TEXT
    set_poses(document, {"a": Pose((1, 2, 3)), "b": Pose((4, 5, 6), turn_deg=(7, 8, 9))})
    scene = parse_scene(document.text)
    assert scene.piece_named("a").at_mm == (1, 2, 3)
    assert (scene.piece_named("b").at_mm, scene.piece_named("b").turn_deg) == ((4, 5, 6), (7, 8, 9))


@pytest.mark.parametrize("text", [TEXT, INLINE, TEXT.replace("\n", "\r\n")], ids=["tables", "inline", "windows"])
def test_pieces_and_joints_come_and_go(text: str) -> None:
    before = parse_scene(text)
    document = Document(text)
    made = Generate(shape="slab", seed=3, size_mm=(100, 60, 25))
    entry = PieceEntry(id="c", generate=made, rock="slate", at_mm=(1.5, 2, 80), fixed=True)
    add_piece(document, entry)
    add_joint(document, ("b", "c"), "epoxy putty", fit="sawn")
    add_joint(document, ("c", "a"), kind="tie", capacity_n=30.0)
    scene = parse_scene(document.text)
    assert scene.piece[2] == entry
    assert [(joint.between, joint.kind) for joint in scene.joint[-2:]] == [(("b", "c"), "glue"), (("c", "a"), "tie")]
    assert remove_joints(document, ("a", "c")) == 1
    remove_piece(document, "c")
    assert parse_scene(document.text) == before
    assert comments(document.text) == comments(text)
    assert ("\r\n" in document.text) == ("\r\n" in text)


def test_a_piece_takes_along_what_cannot_be_without_it() -> None:
    more = """
[[module]]
id = "pair"
pieces = ["a", "b"]
[[rule]]
before = ["c", "pair"]
[[piece]]
id = "c"
mesh = "c.ply"
rock = "slate"
at_mm = [0, 0, 0]
[[friction]]
between = ["a", "c"]
dry = 0.5
[expect]
verdict = "falls"
moving = ["a", "c"]
"""
    document = Document(TEXT + more)
    remove_piece(document, "a")
    scene = parse_scene(document.text)
    assert [entry.id for entry in scene.piece] == ["b", "c"]
    assert (scene.joint, scene.rule, scene.module, scene.friction) == ((), (), (), ())
    assert scene.expect is not None
    assert scene.expect.moving == ("c",)
    gone = {"# the first", "# calipers", "# from the left", "# from the front", "# a bit", "# j"}
    assert set(comments(TEXT)) - set(comments(document.text)) == gone


def test_a_module_of_three_loses_one() -> None:
    more = '[[piece]]\nid = "c"\nmesh = "c.ply"\nrock = "slate"\nat_mm = [0, 0, 0]\n'
    module = '[[module]]\nid = "m"\npieces = ["a", "b", "c"]\n'
    document = Document(TEXT + more + module)
    remove_piece(document, "b")
    assert parse_scene(document.text).module[0].pieces == ("a", "c")


@pytest.mark.parametrize("text", [TEXT, INLINE], ids=["tables", "inline"])
def test_keys_of_plain_sections(text: str) -> None:
    document = Document(text)
    set_key(document, "water", "level_mm", 380)
    set_key(document, "water", "temperature_c", 26.5)
    set_key(document, "tank", "glass", "annealed")
    set_key(document, "tank", "film", ("left", "back"))
    set_piece_key(document, "b", "fixed", True)
    scene = parse_scene(document.text)
    assert (scene.water.level_mm, scene.water.temperature_c) == (380, 26.5)
    assert (scene.tank.glass, scene.tank.film) == ("annealed", ("left", "back"))
    assert [entry.fixed for entry in scene.piece] == [False, True]
    for section, key in (("water", "temperature_c"), ("tank", "film"), ("tank", "glass"), ("tank", "mat")):
        set_key(document, section, key, None)
    set_piece_key(document, "b", "fixed", None)
    assert comments(document.text) == comments(text)
    scene = parse_scene(document.text)
    assert (scene.water.temperature_c, scene.tank.film, scene.piece[1].fixed) == (24, (), False)


def test_the_camera_is_written_and_what_it_leaves_open_is_taken_out() -> None:
    document = Document(TEXT)
    camera = Camera(position_mm=(450, -900.25, 250), look_at_mm=(450, 200, 200), focal_mm=24, roll_deg=0.5)
    set_camera(document, camera)
    assert parse_scene(document.text).camera == camera
    set_camera(document, Camera(focal_mm=50))
    assert parse_scene(document.text).camera == Camera(focal_mm=50)


def test_what_is_not_there_or_taken_is_an_error() -> None:
    document = Document(TEXT)
    entry = parse_scene(TEXT).piece[0]
    for change in (
        lambda: add_piece(document, entry),
        lambda: remove_piece(document, "z"),
        lambda: add_joint(document, ("a", "z"), "epoxy putty"),
        lambda: set_pose(document, "z", (0, 0, 0)),
    ):
        with pytest.raises(SceneError):
            change()
    assert document.text == TEXT
    with pytest.raises(SceneError, match="line 2"):
        parse_document("format = 1\nformat = 1\n")


def test_a_faulty_change_is_not_saved(tmp_path: Path) -> None:
    file = tmp_path / "s.toml"
    file.write_text(TEXT)
    document = read_document(file)
    set_key(document, "water", "level_mm", 9000)
    with pytest.raises(SceneError, match=r"water\.level_mm"):
        save(document, file)
    assert file.read_text() == TEXT
    set_key(document, "water", "level_mm", 400)
    save(document, file)
    assert read_scene(file).water.level_mm == 400
    assert [path.name for path in tmp_path.iterdir()] == ["s.toml"]


def test_a_folder_is_no_place_to_save_to(tmp_path: Path) -> None:
    with pytest.raises(OutputError):
        save(Document(TEXT), tmp_path)
