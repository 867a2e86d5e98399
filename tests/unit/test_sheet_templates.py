"""Templates at full size: vector coordinates read back from the PDF, in millimetres."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from boxes import FLOOR_MM
from sheets import Path2D, bench_of, pages_of, paths_of

from sim.report.sheet import PAPERS, Sheet, pdf_bytes
from sim.report.sheet.blocks import Tile
from sim.report.sheet.making import template_pages
from sim.report.sheet.templates import tile_size_mm, tiling

RIGHT_MM = 0.5  # wanted of a print at 100 %
EXACT_MM = 0.01  # of the file itself


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("bridge")


def tiles_read(folder: Path, paper: str) -> dict[str, tuple[tuple[float, float], list[Path2D]]]:
    """Per tile: where the base's origin lies on the page, mm, and the paths."""
    bench = bench_of(folder, paper)
    blocks = template_pages(bench)
    pdf, _ = pdf_bytes(Sheet("Templates", tuple(blocks)), PAPERS[paper])
    cut = tiling(bench)
    pages = pages_of(pdf)[-len(cut.tiles) :]
    assert sum(isinstance(block, Tile) for block in blocks) == len(cut.tiles)
    found = {}
    for tile, page in zip(cut.tiles, pages, strict=True):
        assert f"Tile {tile.name}:" in page.extract_text()
        assert float(page.mediabox.width) * 25.4 / 72 == pytest.approx(PAPERS[paper].width_mm, abs=EXACT_MM)
        assert float(page.mediabox.height) * 25.4 / 72 == pytest.approx(PAPERS[paper].height_mm, abs=EXACT_MM)
        left = (PAPERS[paper].width_mm - cut.size_mm[0]) / 2.0
        found[tile.name] = ((left - tile.low_mm[0], 28.0 - tile.low_mm[1]), paths_of(page))
    return found


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_both_check_lines_are_100_mm_long_on_every_tile(folder: Path, paper: str) -> None:
    for _, paths in tiles_read(folder, paper).values():
        lines = [path.size_mm for path in paths if len(path.points_mm) == 2]
        assert any(np.abs(size - [100.0, 0.0]).max() < EXACT_MM for size in lines)
        assert any(np.abs(size - [0.0, 100.0]).max() < EXACT_MM for size in lines)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_outlines_lie_where_the_scene_has_the_pieces(folder: Path, paper: str) -> None:
    """Corners of an upright and of a turned box, over all tiles together."""
    corners = np.concatenate(
        [path.points_mm - shift for shift, paths in tiles_read(folder, paper).values() for path in paths]
    )
    turn = np.radians(30.0)
    half = np.array([[40, 20], [-40, 20], [-40, -20], [40, -20]]) @ np.array(
        [[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]]
    )
    upright = np.array([[70, 110], [130, 110], [130, 190], [70, 190]])
    for corner in np.concatenate([upright, half + np.array([470, 300])]):
        assert np.linalg.norm(corners - corner, axis=1).min() < min(RIGHT_MM, 10 * EXACT_MM)


def test_the_grey_area_is_the_footprint(folder: Path) -> None:
    shift, paths = tiles_read(folder, "a4")["A1"]
    filled = [path.points_mm - shift for path in paths if path.painted in (b"B", b"B*", b"b*", b"b")]
    foot = min(filled, key=lambda one: float(np.abs(one.mean(axis=0) - [100.0, 150.0]).max()))
    assert foot.min(axis=0) == pytest.approx([70.0, 110.0], abs=RIGHT_MM)
    assert foot.max(axis=0) == pytest.approx([130.0, 190.0], abs=RIGHT_MM)


def test_neighbours_share_their_crosses(folder: Path) -> None:
    """The cross at a tile's right edge is the one at its neighbour's left edge: one place on the base."""
    read = tiles_read(folder, "a4")
    width, _ = tile_size_mm(PAPERS["a4"])
    for name in ("A1", "B1"):
        shift, paths = read[name]
        arms = [path.points_mm - shift for path in paths if np.abs(path.size_mm - [10.0, 0.0]).max() < EXACT_MM]
        middles = np.array([arm.mean(axis=0) for arm in arms])
        assert np.abs(middles - [width, 0.0]).max(axis=1).min() < EXACT_MM


def test_only_tiles_with_something_on_them_are_printed(folder: Path) -> None:
    cut = tiling(bench_of(folder, "a4"))
    assert {tile.name for tile in cut.tiles} == {"A1", "B1", "C2"}
    assert (cut.columns, cut.rows) == (4, 2)
    assert all(tile.size_mm == cut.size_mm for tile in cut.tiles)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_frame_fits_its_paper_with_room_for_the_ruler(paper: str) -> None:
    width, height = tile_size_mm(PAPERS[paper])
    assert width + 30.0 <= PAPERS[paper].width_mm
    assert height + 50.0 <= PAPERS[paper].height_mm
    assert min(width, height) > 150.0


def test_a_step_up_from_the_base_has_no_template(folder: Path) -> None:
    bench = bench_of(folder, "a4")
    assert set(bench.prints) == {"foot_left", "foot_right", "block"}
    assert bench.places["arm"].low_mm[2] == pytest.approx(FLOOR_MM + 50.0)
