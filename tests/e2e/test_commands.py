"""The command line as a whole: help, versions, tables, errors without tracebacks."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from sim import __version__
from sim.cli import COMMANDS, command
from sim.cli.demo import PIECES, scene_text
from sim.scene import parse_scene


def test_version() -> None:
    assert __version__ in CliRunner().invoke(command, ["--version"]).output


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_with_an_example(name: str) -> None:
    result = CliRunner().invoke(command, [name, "--help"])
    assert result.exit_code == 0
    if name != "piece":  # its own commands carry the examples
        assert "Example" in result.output


@pytest.mark.parametrize("name", ["import", "make", "rests"])
def test_every_piece_command_has_an_example(name: str) -> None:
    result = CliRunner().invoke(command, ["piece", name, "--help"])
    assert result.exit_code == 0
    assert "Example" in result.output


@pytest.mark.parametrize("table", ["rock", "wood", "glass", "mat", "glue", "ground", "friction", "water"])
def test_each_table_prints_and_fits(table: str) -> None:
    result = CliRunner().invoke(command, ["materials", table])
    assert result.exit_code == 0
    assert max(len(line) for line in result.output.splitlines()) <= 100
    parsed = json.loads(CliRunner().invoke(command, ["materials", table, "--json"]).output)
    assert parsed[table]


def test_unknown_command_is_a_usage_error() -> None:
    result = CliRunner().invoke(command, ["stnd"])
    assert result.exit_code == 2


def test_errors_reach_the_shell_without_traceback(tmp_path: Path) -> None:
    run = subprocess.run(
        [sys.executable, "-m", "sim.cli", "piece", "import", "missing.obj", "-o", str(tmp_path / "out")],
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 2
    assert "missing.obj" in run.stderr
    assert "Traceback" not in run.stderr
    assert not (tmp_path / "out").exists()


def test_the_demo_scene_is_valid() -> None:
    scene = parse_scene(scene_text(), "sea_arch.toml")
    assert [entry.id for entry in scene.piece] == [row[0] for row in PIECES]
    assert scene.tank.inner_mm == (900, 450, 450)


def test_rest_poses_are_listed(tmp_path: Path) -> None:
    make = ["piece", "make", "--size", "120x80x35", "--mass-kg", "0.6", "--rock", "slate", "--habit", "slab"]
    assert CliRunner().invoke(command, [*make, "--id", "a", "-o", str(tmp_path)]).exit_code == 0
    result = CliRunner().invoke(command, ["piece", "rests", str(tmp_path / "a.ply"), "--json"])
    assert result.exit_code == 0, result.output
    poses = json.loads(result.output)["poses"]
    assert 0.5 < sum(pose["share"] for pose in poses) <= 1.0 + 1e-9
    assert poses[0]["height_mm"] < 25
