"""`bedjoint piece import` from the command line: reports, saved files, and nothing saved on faults."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import trimesh
from click.testing import CliRunner, Result

from sim.cli import command
from sim.pieces.reading import read_mesh
from sim.pieces.saving import load_body


def run(*arguments: object) -> Result:
    return CliRunner().invoke(command, ["piece", "import", *map(str, arguments)])


@pytest.fixture
def brick(tmp_path: Path) -> Path:
    file = tmp_path / "brick.stl"
    trimesh.creation.box((120.0, 80.0, 35.0)).export(file)
    return file


@pytest.fixture
def boulder(tmp_path: Path) -> Path:
    """A ball of 20,480 triangles with colours."""
    file = tmp_path / "boulder.ply"
    mesh = trimesh.creation.icosphere(5, radius=60.0)
    mesh.visual.vertex_colors = np.tile([120, 110, 100, 255], (len(mesh.vertices), 1)).astype(np.uint8)
    mesh.export(file)
    return file


def test_the_report_as_json(brick: Path, tmp_path: Path) -> None:
    result = run(brick, "--rock", "limestone", "--json", "-o", tmp_path / "stones")
    assert result.exit_code == 0, result.output
    (piece,) = json.loads(result.stdout)["pieces"]
    assert piece["id"] == "brick"
    assert piece["volume_ml"] == pytest.approx(336.0)
    assert piece["area_cm2"] == pytest.approx(2.0 * (12.0 * 8.0 + 8.0 * 3.5 + 12.0 * 3.5))
    assert piece["sizes_mm"] == pytest.approx([120.0, 80.0, 35.0])
    assert piece["units"] == "mm"
    assert piece["triangles"] == 12
    assert piece["mass_kg"] == pytest.approx(piece["density_kg_m3"] * 336.0e-6)
    assert abs(piece["volume_moved_percent"]) < 1e-6
    assert piece["warnings"] == []


def test_the_report_as_text(brick: Path, tmp_path: Path) -> None:
    result = run(brick, "--mass-kg", "1.8", "--units", "mm", "--rock", "limestone", "-o", tmp_path / "stones")
    assert result.exit_code == 0, result.output
    assert "120 x 80 x 35 mm, 336 ml" in result.stdout
    assert "warning:" in result.stdout


def test_saved_pieces_are_closed_millimetres_with_colours(boulder: Path, tmp_path: Path) -> None:
    assert run(boulder, "-o", tmp_path / "stones").exit_code == 0
    assert sorted(file.name for file in (tmp_path / "stones").iterdir()) == ["boulder.display.ply", "boulder.ply"]
    body = load_body(tmp_path / "stones" / "boulder.ply")
    assert len(body.faces) == 20_480
    assert body.volume_m3 == pytest.approx(4.0 / 3.0 * np.pi * 0.06**3, rel=0.005)
    assert body.colours is not None
    assert (body.colours == [120, 110, 100]).all()
    display = read_mesh(tmp_path / "stones" / "boulder.display.ply")
    assert len(display.faces) == pytest.approx(4000, rel=0.05)
    assert display.colours is not None


def test_the_same_scan_gives_the_same_bytes(boulder: Path, tmp_path: Path) -> None:
    for folder in ("one", "two"):
        assert run(boulder, "-o", tmp_path / folder).exit_code == 0
    for name in ("boulder.ply", "boulder.display.ply"):
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes()


def test_one_bad_file_saves_nothing(brick: Path, boulder: Path, tmp_path: Path) -> None:
    bad = tmp_path / "bad.stl"
    bad.write_bytes(b"")
    result = run(brick, bad, boulder, "-o", tmp_path / "stones")
    assert result.exit_code == 2
    assert result.stderr.strip() == f"bedjoint: {bad}: is empty. Copy or export the scan again."
    assert not (tmp_path / "stones").exists()


def test_all_bad_files_are_told_at_once(brick: Path, tmp_path: Path) -> None:
    bad = [tmp_path / "a.stl", tmp_path / "b.obj"]
    for file in bad:
        file.write_bytes(b"")
    result = run(*bad, brick, "-o", tmp_path / "stones")
    assert result.exit_code == 2
    assert "2 of 3 files cannot be imported, so nothing is saved" in result.stderr
    assert all(str(file) in result.stderr for file in bad)
    assert not (tmp_path / "stones").exists()


def test_unknown_units_are_a_question(tmp_path: Path) -> None:
    file = tmp_path / "slab.stl"
    trimesh.creation.box((28.0, 22.0, 9.0)).export(file)
    result = run(file, "-o", tmp_path / "stones")
    assert result.exit_code == 2
    assert "--units mm (28 mm), --units cm (280 mm), --units in (711 mm)" in result.stderr
    assert not (tmp_path / "stones").exists()


def test_inconsistent_units(tmp_path: Path) -> None:
    file = tmp_path / "slab.stl"
    trimesh.creation.box((28.0, 22.0, 9.0)).export(file)
    result = run(file, "--units", "m", "-o", tmp_path / "stones")
    assert result.exit_code == 2
    assert "inconsistent units: as metres its longest side is 28 m" in result.stderr
    assert run(file, "--units", "m", "--scale", "0.01", "-o", tmp_path / "stones").exit_code == 0


def test_two_files_of_one_name_are_refused(brick: Path, tmp_path: Path) -> None:
    (tmp_path / "again").mkdir()
    twin = tmp_path / "again" / "Brick.stl"
    twin.write_bytes(brick.read_bytes())
    result = run(brick, twin, "-o", tmp_path / "stones")
    assert result.exit_code == 2
    assert "would both be saved" in result.stderr
    assert run(brick, brick, "-o", tmp_path / "stones").exit_code == 2
    assert not (tmp_path / "stones").exists()


def test_a_scan_is_never_overwritten(boulder: Path) -> None:
    before = boulder.read_bytes()
    result = run(boulder, "-o", boulder.parent)
    assert result.exit_code == 2
    assert "would be overwritten" in result.stderr
    assert boulder.read_bytes() == before


def test_a_folder_that_cannot_be_written(brick: Path, tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("a file where the folder should be")
    result = run(brick, "-o", tmp_path / "taken" / "stones")
    assert result.exit_code == 2
    assert "cannot be written" in result.stderr


def test_what_stood_there_stays_when_a_later_file_fails(brick: Path, tmp_path: Path) -> None:
    stones = tmp_path / "stones"
    (stones / "brick.display.ply").mkdir(parents=True)
    (stones / "brick.ply").write_text("an earlier piece")
    result = run(brick, "-o", stones)
    assert result.exit_code == 2
    assert (stones / "brick.ply").read_text() == "an earlier piece"
    assert sorted(file.name for file in stones.iterdir()) == ["brick.display.ply", "brick.ply"]


def test_one_size_for_many_files_is_refused(brick: Path, boulder: Path, tmp_path: Path) -> None:
    result = run(brick, boulder, "--longest-mm", "120", "-o", tmp_path / "stones")
    assert result.exit_code == 2
    assert "one by one" in result.stderr
