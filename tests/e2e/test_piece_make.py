"""`bedjoint piece make` as a user types it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import trimesh
from click.testing import CliRunner

from sim.cli import command
from sim.scene import parse_scene

MAKE = ["piece", "make", "--size", "120x80x35", "--mass-kg", "0.6", "--rock", "slate", "--habit", "slab"]


def test_writes_a_closed_piece_in_mm(tmp_path: Path) -> None:
    result = CliRunner().invoke(command, [*MAKE, "--id", "ledge", "--json", "-o", str(tmp_path)])
    assert result.exit_code == 0, result.output
    (row,) = json.loads(result.stdout)["pieces"]
    mesh = trimesh.load(tmp_path / "ledge.ply", process=False)
    assert mesh.is_watertight
    assert mesh.extents == pytest.approx([120, 80, 35], abs=1e-6)
    assert mesh.volume / 1000.0 == pytest.approx(row["volume_ml"], rel=1e-9)
    assert row["mass_kg"] == 0.6


HEAD = "format = 1\n[tank]\ninner_mm = [600, 400, 400]\nbase_mm = 8\nside_mm = 8\n"
SIZED = ["piece", "make", "--size", "120x80x35", "--habit", "slab", "--mass-kg"]


@pytest.mark.parametrize(
    "known",
    [
        ["0.6", "--rock", "Slate"],
        ["0.6", "--rock", "slate", "--density", "2650"],
        ["0.6", "--density", "2650"],
        ["0.15", "--wood", "mangrove root"],
    ],
)
def test_the_block_it_prints_is_a_valid_entry(tmp_path: Path, known: list[str]) -> None:
    result = CliRunner().invoke(command, [*SIZED, *known, "-o", str(tmp_path / "my stones")])
    block = result.output[result.output.index("[[piece]]") :]
    entry = parse_scene(HEAD + block, tmp_path / "s.toml").piece[0]
    assert entry.mass_kg == float(known[0])
    path = entry.mesh_path(tmp_path)
    assert path is not None
    assert path.is_file()


def test_other_sizes_and_seeds_are_other_files(tmp_path: Path) -> None:
    for change in (["--seed", "2"], ["--seed", "1"], ["--size", "120.5x80x35"], ["--size", "120.7x80x35"]):
        assert CliRunner().invoke(command, [*MAKE, *change, "-o", str(tmp_path)]).exit_code == 0
    assert len(list(tmp_path.iterdir())) == 4


def test_same_words_same_bytes(tmp_path: Path) -> None:
    for folder in ("one", "two"):
        CliRunner().invoke(command, [*MAKE, "--id", "ledge", "-o", str(tmp_path / folder)])
    assert (tmp_path / "one" / "ledge.ply").read_bytes() == (tmp_path / "two" / "ledge.ply").read_bytes()


def test_a_density_outside_the_rocks_range_is_a_warning(tmp_path: Path) -> None:
    result = CliRunner().invoke(command, [*MAKE, "--density", "2000", "--json", "-o", str(tmp_path)])
    (warning,) = json.loads(result.stdout)["pieces"][0]["warnings"]
    assert "2000" in warning


@pytest.mark.parametrize("name", ["a/b", "../up", "arch.left", "", "x" * 65])
def test_a_name_that_no_scene_takes_is_refused(tmp_path: Path, name: str) -> None:
    result = CliRunner().invoke(command, [*MAKE, "--id", name, "-o", str(tmp_path / "new")])
    assert result.exit_code == 2
    assert "letters" in result.stderr
    assert not (tmp_path / "new").exists()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"--mass-kg": "9"}, "weighs"),
        ({"--size": "120x80"}, "no size"),
        ({"--size": "120x-80x35"}, "no size"),
        ({"--rock": "slat"}, "slate"),
        ({"--mass-kg": "nan"}, "weight"),
    ],
)
def test_bad_input_is_one_message(tmp_path: Path, change: dict[str, str], words: str) -> None:
    arguments = list(MAKE)
    for option, value in change.items():
        arguments[arguments.index(option) + 1] = value
    result = CliRunner().invoke(command, [*arguments, "-o", str(tmp_path / "new")])
    assert result.exit_code == 2
    assert words in result.stderr
    assert "Traceback" not in result.stderr
    assert not (tmp_path / "new").exists()


@pytest.mark.parametrize("seed", ["1", "2", "3"])
def test_the_example_of_the_help_text_works(tmp_path: Path, seed: str) -> None:
    """0.9 kg of slate fill 97 % of a box of 120 x 80 x 35 mm: nearly a sawn slab, but possible."""
    example = ["piece", "make", "--size", "120x80x35", "--mass-kg", "0.9", "--rock", "slate", "--habit", "slab"]
    result = CliRunner().invoke(command, [*example, "--seed", seed, "-o", str(tmp_path)])
    assert result.exit_code == 0, result.output
