"""`bedjoint new` and `bedjoint schema` at the command line."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import jsonschema
import pytest
from click.testing import CliRunner, Result

from sim.cli import command
from sim.scene import read_scene


def run(*arguments: str) -> Result:
    return CliRunner().invoke(command, list(arguments))


@pytest.mark.parametrize("size", ["900x450x450", "50x50x50", "5000x5000x5000", "300.5 x 200 X 250", "600×300×360"])
def test_a_starter_is_valid_at_once(tmp_path: Path, size: str) -> None:
    done = run("new", "sea_arch", "--tank", size, "-o", str(tmp_path))
    assert done.exit_code == 0, done.stderr
    scene = read_scene(tmp_path / "sea_arch.toml")
    assert scene.title == "sea_arch"
    assert scene.tank.inner_mm[0] == float(size.replace("×", "x").lower().split("x")[0])
    assert len(scene.piece) == 1
    for axis, name in enumerate("xyz"):
        side_mm, at_mm = scene.tank.inner_mm[axis], scene.piece[0].at_mm[axis]
        size_mm = scene.piece[0].stand_in.size_mm[axis]  # type: ignore[union-attr]
        assert (at_mm + size_mm if name == "z" else at_mm + size_mm / 2) <= side_mm


def test_the_glass_is_taken_over(tmp_path: Path) -> None:
    assert run("new", "a", "--tank", "900x450x450", "--glass", "annealed", "-o", str(tmp_path)).exit_code == 0
    assert read_scene(tmp_path / "a.toml").tank.glass == "annealed"


def test_an_existing_file_is_kept_unless_forced(tmp_path: Path) -> None:
    file = tmp_path / "a.toml"
    file.write_text("mine")
    refused = run("new", "a.toml", "--tank", "900x450x450", "-o", str(tmp_path))
    assert refused.exit_code == 2
    assert "--force" in refused.stderr
    assert file.read_text() == "mine"
    assert run("new", "a", "--tank", "900x450x450", "-o", str(tmp_path), "--force").exit_code == 0
    assert read_scene(file).title == "a"


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["a", "--tank", "900x450"], "900x450x450"),
        (["a", "--tank", "900x450x450x1"], "900x450x450"),
        (["a", "--tank", "-900x450x450"], "900x450x450"),
        (["a", "--tank", "nanx450x450"], "900x450x450"),
        (["a", "--tank", "900x450x20"], "50 to 5000 mm"),
        (["a", "--tank", "900x450x450", "--glass", "anealed"], 'Did you mean "annealed"'),
        (["../a", "--tank", "900x450x450"], "no name for a scene"),
        (["", "--tank", "900x450x450"], "no name for a scene"),
        (["..", "--tank", "900x450x450"], "no name for a scene"),
    ],
)
def test_bad_input_is_one_message_and_no_file(tmp_path: Path, arguments: list[str], words: str) -> None:
    done = run("new", *arguments, "-o", str(tmp_path))
    assert done.exit_code == 2
    assert words in done.stderr
    assert "Traceback" not in done.output
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_cannot_be_is_one_message(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    done = run("new", "a", "--tank", "900x450x450", "-o", str(tmp_path / "file" / "below"))
    assert done.exit_code == 2
    assert "cannot be written" in done.stderr


def test_the_schema_judges_the_starter(tmp_path: Path) -> None:
    run("new", "a", "--tank", "900x450x450", "-o", str(tmp_path))
    printed = run("schema")
    assert printed.exit_code == 0
    assert run("schema", "-o", str(tmp_path / "schema.json")).exit_code == 0
    assert (tmp_path / "schema.json").read_text() == printed.stdout
    schema = json.loads(printed.stdout)
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(tomllib.loads((tmp_path / "a.toml").read_text()), schema)
