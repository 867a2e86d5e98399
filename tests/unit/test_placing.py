"""From a scene's entries to bodies, weights and poses."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.errors import PieceError
from sim.pieces.friction import friction_matrix
from sim.pieces.placing import entry_from_pose, place_pieces, pose_from_entry
from sim.pieces.stand_in import make_stand_in
from sim.pieces.turning import rotation_from_turns
from sim.scene import Scene, parse_scene

HEAD = "format = 1\n[tank]\ninner_mm = [600, 400, 400]\nbase_mm = 8\nside_mm = 8\n"
SLAB = "stand_in = { size_mm = [120, 80, 40], mass_kg = 0.6, habit = 'slab' }\n"
angles = st.floats(-180.0, 180.0)
BODY = make_stand_in((120, 80, 40), 0.6, "slate", "slab")


def scene_of(*pieces: str, more: str = "") -> Scene:
    blocks = "".join(f"[[piece]]\n{piece}\n" for piece in pieces)
    return parse_scene(HEAD + blocks + more, "test.toml")


def slab(name: str, keys: str = "rock = 'slate'", at: str = "[300, 200, 0]") -> str:
    return f"id = '{name}'\n{SLAB}{keys}\nat_mm = {at}"


@given(st.tuples(angles, angles, angles), st.tuples(*[st.floats(-500, 500)] * 3))
def test_pose_and_entry_are_inverse(turn: tuple[float, float, float], at: tuple[float, float, float]) -> None:
    rotation = rotation_from_turns(turn)
    again_at, again_turn = entry_from_pose(BODY, rotation, pose_from_entry(BODY, at, rotation))
    assert again_at == pytest.approx(at, abs=1e-8)
    assert rotation_from_turns(again_turn) == pytest.approx(rotation, abs=1e-9)


def test_at_mm_is_the_middle_of_the_turned_box_and_its_foot() -> None:
    (piece,) = place_pieces(scene_of(slab("a", "rock = 'slate'\nturn_deg = [30, 40, 50]", "[250, 150, 12]")))
    low, high = piece.vertices_m().min(axis=0) * 1000, piece.vertices_m().max(axis=0) * 1000
    assert [(low[0] + high[0]) / 2, (low[1] + high[1]) / 2, low[2]] == pytest.approx([250, 150, 12])


def test_turns_are_about_fixed_axes_in_order() -> None:
    # x to y by the third turn; z to -y by the first, then on to x by the third
    rotation = rotation_from_turns((90, 0, 90))
    assert rotation @ [0, 0, 1] == pytest.approx([1, 0, 0], abs=1e-12)


class TestWeight:
    def test_scales_first(self) -> None:
        (piece,) = place_pieces(scene_of(slab("a")))
        assert piece.mass_kg == 0.6
        assert piece.density_kg_m3 == pytest.approx(0.6 / piece.volume_m3)

    def test_table_when_nothing_is_weighed(self) -> None:
        text = (
            "id = 'a'\ngenerate = { shape = 'cobble', seed = 2, faces = 600 }\nrock = 'granite'\nat_mm = [300, 200, 0]"
        )
        (piece,) = place_pieces(scene_of(text))
        assert piece.mass_kg == pytest.approx(piece.volume_m3 * 2650.0)

    def test_two_weighings_must_agree_with_the_mesh(self) -> None:
        made = "id = 'a'\ngenerate = { shape = 'cobble', seed = 2, size_mm = [100, 80, 60], faces = 600 }\n"
        volume_l = place_pieces(scene_of(f"{made}rock = 'granite'\nat_mm = [300, 200, 0]"))[0].volume_m3 * 1000
        for factor, fits in ((1.0, True), (1.1, True), (8.0, False)):
            water = 2.65 * volume_l - factor * volume_l * 0.9973
            keys = f"rock = 'granite'\nmass_kg = {2.65 * volume_l}\nmass_in_water_kg = {water}\nat_mm = [300, 200, 0]"
            if fits:
                assert place_pieces(scene_of(made + keys))[0].density_kg_m3 == pytest.approx(2650)
            else:
                with pytest.raises(PieceError, match=r"holds .* ml, its weighings .* ml"):
                    place_pieces(scene_of(made + keys))

    def test_equal_stones_are_made_once(self) -> None:
        one, other = place_pieces(scene_of(slab("a"), slab("b", at="[300, 200, 60]")))
        assert one.body is other.body


class TestBadPieces:
    def test_impossible_stand_in_names_the_piece(self) -> None:
        text = slab("ledge").replace("mass_kg = 0.6", "mass_kg = 60.0")
        with pytest.raises(PieceError, match=r'test\.toml: piece "ledge": stand-in'):
            place_pieces(scene_of(text))

    def test_open_mesh_names_the_piece(self, tmp_path: Path) -> None:
        (tmp_path / "leaf.obj").write_text("v 0 0 0\nv 10 0 0\nv 0 10 0\nf 1 2 3\n")
        text = f"{HEAD}[[piece]]\nid = 'leaf'\nmesh = 'leaf.obj'\nrock = 'slate'\nat_mm = [0, 0, 0]\n"
        with pytest.raises(PieceError, match='piece "leaf"'):
            place_pieces(parse_scene(text, tmp_path / "s.toml"))


class TestFriction:
    def matrix(self, *keys: str, more: str = "", wet: bool = False) -> np.ndarray:
        scene = scene_of(*[slab(f"p{k}", key) for k, key in enumerate(keys)], more=more)
        return friction_matrix(scene, place_pieces(scene), wet)

    def test_table_dry_and_wet(self) -> None:
        rock = ["rock = 'granite'", "rock = 'slate'"]
        assert self.matrix(*rock)[0, :3] == pytest.approx([0.55, 0.40, 0.15])
        assert self.matrix(*rock, wet=True)[0, :3] == pytest.approx([0.45, 0.30, 0.15])

    def test_of_two_values_the_lower_counts(self) -> None:
        matrix = self.matrix("rock = 'granite'\nfriction = 0.3", "rock = 'granite'\nfriction = 0.5")
        assert matrix[0, 1] == matrix[1, 0] == 0.3

    def test_a_pair_beats_a_piece(self) -> None:
        pair = "[[friction]]\nbetween = ['p0', 'p1']\ndry = 0.7\nwet = 0.6\n"
        keys = ["rock = 'granite'\nfriction = 0.3", "rock = 'granite'"]
        matrix = self.matrix(*keys, more=pair)
        assert matrix[0, 1] == matrix[1, 0] == 0.7
        assert self.matrix(*keys, more=pair, wet=True)[0, 1] == 0.6

    def test_a_pair_without_a_wet_value_takes_the_tables_not_the_pieces(self) -> None:
        pair = "[[friction]]\nbetween = ['p0', 'p1']\ndry = 0.7\n"
        keys = ["rock = 'granite'\nfriction = 0.1", "rock = 'granite'"]
        assert self.matrix(*keys, more=pair, wet=True)[0, 1] == pytest.approx(0.45)

    def test_a_pair_of_pieces_beats_a_later_pair_of_surfaces(self) -> None:
        pieces = "[[friction]]\nbetween = ['p0', 'p1']\ndry = 0.7\n"
        surfaces = "[[friction]]\nbetween = ['rough stone', 'rough stone']\ndry = 0.2\n"
        keys = ["rock = 'granite'", "rock = 'granite'", "rock = 'granite'"]
        for more in (pieces + surfaces, surfaces + pieces):
            assert self.matrix(*keys, more=more)[0, 1:3] == pytest.approx([0.7, 0.2])

    def test_pair_with_the_glass(self) -> None:
        pair = "[[friction]]\nbetween = ['granite', 'glass']\ndry = 0.2\n"
        matrix = self.matrix("rock = 'granite'", more=pair)
        assert matrix[0, 1:] == pytest.approx([0.2] * 5)
        assert self.matrix("rock = 'granite'", more=pair, wet=True)[0, 1] == pytest.approx(0.15)

    def test_a_class_of_surfaces_stands_for_its_rocks(self) -> None:
        pair = "[[friction]]\nbetween = ['rough stone', 'glass']\ndry = 0.12\n"
        matrix = self.matrix("rock = 'granite'", "rock = 'slate'", more=pair)
        assert matrix[0, 2:] == pytest.approx([0.12] * 5)  # granite is rough
        assert matrix[1, 2:] == pytest.approx([0.15] * 5)  # slate is not
