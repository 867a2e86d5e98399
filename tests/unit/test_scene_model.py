"""What a scene file may say, and what is made of it."""

from __future__ import annotations

import math
import pickle
import re
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from sim.errors import SceneError
from sim.scene import Camera, PieceEntry, Scene, StandIn, Tank, document_of, parse_scene, read_scene, starter

BARE = "format = 1\n[tank]\ninner_mm = [900, 450, 400]\nbase_mm = 10\nside_mm = 8\n"


def everything() -> str:
    """The starter with every example in it switched on."""
    text = re.sub(r"(?m)^# (?=\[|[a-z_0-9]+ = )", "", starter("all", (900, 450, 450), "annealed"))
    return re.sub(r"(?m)^opening_mm.*\n", "", text)


def test_a_tank_is_enough_and_defaults_are_filled_in() -> None:
    scene = parse_scene(BARE, "folder/tank.toml")
    assert scene.tank.inner_mm == (900.0, 450.0, 400.0)
    assert (scene.tank.glass, scene.tank.support) == ("unknown", "unknown")
    assert scene.piece == ()
    assert scene.water_level_mm == pytest.approx(380.0)
    assert (scene.camera.focal_mm, scene.camera.sensor_mm) == (35.0, (36.0, 24.0))
    assert (scene.file, scene.folder) == (Path("folder/tank.toml"), Path("folder"))


def test_a_level_of_zero_stays_dry() -> None:
    assert parse_scene(BARE + "[water]\nlevel_mm = 0\n").water_level_mm == 0.0


def test_every_section_and_key_can_be_used() -> None:
    scene = parse_scene(everything())
    unused = set(Scene.model_fields) - scene.model_fields_set
    assert not unused, "the starter teaches every section"
    assert [entry.id for entry in scene.piece] == ["first_stone", "ledge_1", "try_out"]
    assert scene.piece[1].mesh_path("/home/me") == Path("/home/me/meshes/ledge_1.ply")
    assert scene.rule[0].first_then == ("first_stone", "crown")
    assert scene.ground.layers[0].deepest_mm == 60.0
    assert scene.prices.packs["epoxy putty"].g == 114.0


def test_after_is_before_the_other_way_round() -> None:
    text = everything().replace('before = ["first_stone", "crown"]', 'after = ["crown", "first_stone"]')
    assert parse_scene(text).rule[0].first_then == ("first_stone", "crown")


def test_mesh_paths_start_from_the_scene_file(tmp_path: Path) -> None:
    (tmp_path / "meshes").mkdir()
    (tmp_path / "scenes").mkdir()
    (tmp_path / "meshes" / "a.ply").write_bytes(b"")
    piece = '[[piece]]\nid = "a"\nmesh = "../meshes/a.ply"\nrock = "limestone"\nat_mm = [0, 0, 0]\n'
    (tmp_path / "scenes" / "s.toml").write_text(BARE + piece)
    scene = read_scene(tmp_path / "scenes" / "s.toml")
    assert scene.piece[0].mesh_path(scene.folder) == tmp_path / "meshes" / "a.ply"


def test_a_scene_is_frozen_and_survives_pickling() -> None:
    scene = parse_scene(everything(), "x/y.toml")
    with pytest.raises(ValueError, match="frozen"):
        scene.title = "other"  # type: ignore[misc]
    again = pickle.loads(pickle.dumps(scene))
    assert again == scene
    assert again.file == Path("x/y.toml")


def test_scenes_made_in_python_meet_the_same_checks() -> None:
    stone = PieceEntry(id="a", stand_in=StandIn(size_mm=(90, 60, 30), mass_kg=0.4), rock="slate", at_mm=(100, 100, 0))
    tank = Tank(inner_mm=(600, 300, 300), base_mm=6, side_mm=6)
    scene = Scene(format=1, tank=tank, piece=(stone,), camera=Camera(focal_mm=24))
    assert parse_scene(document_of(scene).text) == scene
    with pytest.raises(ValueError, match="used twice"):
        Scene(format=1, tank=tank, piece=(stone, stone))


def test_the_opening_between_the_braces() -> None:
    tank = {"inner_mm": (900, 450, 450), "base_mm": 10, "side_mm": 10}
    assert Tank(**tank).opening_box_mm == (0, 0, 900, 450)
    assert Tank(**tank, brace_mm=50).opening_box_mm == (50, 50, 850, 400)
    assert Tank(**tank, opening_mm=(700, 250)).opening_box_mm == (100, 100, 800, 350)


angle = st.floats(-720, 720)


@given(st.tuples(angle, angle, angle))
def test_turns_are_about_the_fixed_axes_x_then_y_then_z(turn_deg: tuple[float, float, float]) -> None:
    entry = PieceEntry(id="a", mesh="a.stl", rock="slate", at_mm=(0, 0, 0), turn_deg=turn_deg)
    w, x, y, z = entry.unit_quaternion
    expected = Rotation.from_euler("xyz", turn_deg, degrees=True).as_matrix()  # lower case: fixed axes
    np.testing.assert_allclose(Rotation.from_quat([x, y, z, w]).as_matrix(), expected, atol=1e-12)


def test_a_quaternion_is_made_exactly_one_long() -> None:
    entry = PieceEntry(id="a", mesh="a.stl", rock="slate", at_mm=(0, 0, 0), quaternion=(0.7071, 0, 0, 0.7071))
    assert math.hypot(*entry.unit_quaternion) == pytest.approx(1.0, abs=1e-15)
    assert entry.unit_quaternion[3] == pytest.approx(math.sqrt(0.5), abs=1e-15)


def test_whole_numbers_serve_as_lengths_but_text_and_truth_do_not() -> None:
    assert parse_scene(BARE.replace("= 10", "= 10.0")) == parse_scene(BARE)
    for value in ('"10"', "true", "nan", "inf", "[10]"):
        with pytest.raises(SceneError, match=r"tank\.base_mm \(line 4\)"):
            parse_scene(BARE.replace("= 10", f"= {value}"))


def test_windows_line_ends_and_a_byte_order_mark_are_fine(tmp_path: Path) -> None:
    file = tmp_path / "s.toml"
    file.write_bytes(b"\xef\xbb\xbf" + BARE.replace("\n", "\r\n").encode())
    assert read_scene(file) == parse_scene(BARE, file)
