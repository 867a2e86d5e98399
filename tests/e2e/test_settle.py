"""`bedjoint settle` as a user runs it."""

from __future__ import annotations

import json
from pathlib import Path

from click.testing import CliRunner

from sim.cli import command
from sim.scene import read_scene

HEAD = "format = 1\n[tank]\ninner_mm = [600, 400, 400]\nbase_mm = 8\nside_mm = 8\n"


def slab(name: str, at: str, height_mm: int = 40) -> str:
    made = f"stand_in = {{ size_mm = [120, 90, {height_mm}], mass_kg = {0.0225 * height_mm:.4f}, habit = 'slab' }}"
    return f"# {name}, from the shore\n[[piece]]\nid = '{name}'\n{made}\nrock = 'slate'\nat_mm = {at}\n"


def settle(folder: Path, text: str, *options: str) -> tuple[int, dict[str, object], Path]:
    scene, output = folder / "s.toml", folder / "settled.toml"
    scene.write_text(text)
    result = CliRunner().invoke(command, ["settle", str(scene), "-o", str(output), "--json", *options])
    assert result.exit_code in (0, 1), result.output
    return result.exit_code, json.loads(result.stdout), output


def test_two_slabs_come_to_rest_and_comments_stay(tmp_path: Path) -> None:
    code, report, output = settle(tmp_path, HEAD + slab("low", "[300, 200, 0]") + slab("high", "[310, 205, 60]"))
    assert code == 0
    assert report["at_rest"] is True
    assert "# high, from the shore" in output.read_text()
    low, high = read_scene(output).piece
    assert low.at_mm[2] < 0.05
    assert 30 < high.at_mm[2] < 41
    assert all(row["gap_mm"] <= 0.02 for row in report["pieces"])  # type: ignore[attr-defined,index]


def test_a_slab_over_the_edge_is_named(tmp_path: Path) -> None:
    code, report, _ = settle(tmp_path, HEAD + slab("low", "[300, 200, 0]", 90) + slab("high", "[390, 200, 100]"))
    assert code == 1
    assert [row["rest"] for row in report["pieces"]] == ["at_rest", "slid"]  # type: ignore[attr-defined]


def test_one_piece_onto_the_rest(tmp_path: Path) -> None:
    _, _, output = settle(tmp_path, HEAD + slab("low", "[300, 200, 0]") + slab("high", "[305, 200, 60]"))
    text = output.read_text() + slab("top", "[300, 205, 120]")
    code, report, output = settle(tmp_path, text, "--piece", "top")
    assert code == 0
    moved = {row["id"]: row["moved_mm"] for row in report["pieces"]}  # type: ignore[attr-defined]
    assert moved["low"] == moved["high"] == 0.0
    assert moved["top"] > 10


def test_unknown_piece_and_bad_scene_end_with_2(tmp_path: Path) -> None:
    scene = tmp_path / "s.toml"
    scene.write_text(HEAD + slab("low", "[300, 200, 0]"))
    for options in (["--piece", "nope"], []):
        source = str(scene) if options else str(tmp_path / "missing.toml")
        result = CliRunner().invoke(command, ["settle", source, "-o", str(tmp_path / "o.toml"), *options])
        assert result.exit_code == 2
        assert not (tmp_path / "o.toml").exists()


def test_an_empty_scene_is_at_rest(tmp_path: Path) -> None:
    code, report, _ = settle(tmp_path, HEAD)
    assert code == 0
    assert report["pieces"] == []


def test_pieces_left_alone_are_not_called_at_rest(tmp_path: Path) -> None:
    text = HEAD + slab("low", "[300, 200, 70]") + slab("high", "[305, 200, 200]")
    _, report, _ = settle(tmp_path, text, "--piece", "high")
    rest = {row["id"]: row["rest"] for row in report["pieces"]}  # type: ignore[attr-defined]
    assert rest["low"] == "as_it_is"  # it hovers, and nobody looked


def test_another_folder_is_refused_only_where_meshes_would_be_lost(tmp_path: Path) -> None:
    scene, away = tmp_path / "s.toml", tmp_path / "away" / "o.toml"
    scene.write_text("# no mesh of ours\n" + HEAD + slab("low", "[300, 200, 0]"))
    assert CliRunner().invoke(command, ["settle", str(scene), "-o", str(away)]).exit_code == 0
    away.unlink()
    make = ["piece", "make", "--size", "120x80x35", "--mass-kg", "0.6", "--rock", "slate", "--habit", "slab"]
    assert CliRunner().invoke(command, [*make, "--id", "a", "-o", str(tmp_path)]).exit_code == 0
    scene.write_text(HEAD + "[[piece]]\nid = 'a'\nmesh = 'a.ply'\nrock = 'slate'\nat_mm = [300, 200, 0]\n")
    result = CliRunner().invoke(command, ["settle", str(scene), "-o", str(away)])
    assert result.exit_code == 2
    assert not away.exists()
