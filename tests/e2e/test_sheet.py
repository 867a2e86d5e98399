"""`bedjoint sheet`: files written whole or not at all, and what the command says."""

from __future__ import annotations

import errno
import json
import os
import shutil
import signal
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path

import pytest
from boxes import FLOOR_MM, HEAD, box_entry
from click.testing import CliRunner
from sheets import SHOT_PX, bench_of, bridge_text, pages_of, paths_of, text_of

from sim.cli import command
from sim.report.sheet import PAPERS, Sheet, html_text, pictures
from sim.report.sheet.making import template_pages

RUN = [sys.executable, "-m", "sim.cli"]
CHROMIUM = os.environ.get("BEDJOINT_CHROMIUM") or next(
    filter(None, map(shutil.which, ("chromium", "google-chrome"))), None
)


@pytest.fixture(autouse=True)
def _small_shot(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pictures, "SHOT_PX", SHOT_PX)


@pytest.fixture
def scene(tmp_path: Path) -> Path:
    """The bridge in a folder of its own."""
    folder = tmp_path / "scene"
    folder.mkdir()
    file = folder / "scene.toml"
    file.write_text(bridge_text(folder))
    return file


def stone(folder: Path) -> Path:
    """One block on a sheet, the quickest scene to judge."""
    folder.mkdir()
    file = folder / "one.toml"
    file.write_text(HEAD + box_entry(folder, "only", (60, 60, 40), (300, 200, FLOOR_MM)))
    return file


def test_both_kinds_of_sheet_and_an_account(scene: Path, tmp_path: Path) -> None:
    pdf, page = tmp_path / "out" / "sheet.pdf", tmp_path / "out" / "sheet.html"
    words = ["sheet", str(scene), "-o", str(pdf), "-o", str(page), "--paper", "letter", "--inches", "--quick", "--json"]
    result = CliRunner().invoke(command, words)
    assert result.exit_code == 0, result.output
    account = json.loads(result.stdout)
    assert account["verdict"] == "stands (quick)"
    assert account["passes"] is True
    assert account["paper"] == "Letter"
    assert (account["pieces"], account["steps"]) == (4, 4)
    assert sorted(account["numbers"].values()) == [1, 2, 3, 4]
    first, second = account["written"]
    assert first["pages"] == len(pages_of(pdf.read_bytes()))
    assert first["bytes"] == pdf.stat().st_size
    assert second == {"file": str(page), "kind": "html", "pages": None, "bytes": page.stat().st_size}
    assert sorted(one.name for one in pdf.parent.iterdir()) == ["sheet.html", "sheet.pdf"]
    box = pages_of(pdf.read_bytes())[0].mediabox
    assert float(box.width) * 25.4 / 72.0 == pytest.approx(PAPERS["letter"].width_mm, abs=0.01)
    told = " ".join(text_of(pdf.read_bytes()).split())
    assert "600 × 400 × 400 mm (23.62 × 15.75 × 15.75 in)" in told
    assert "600 × 400 × 400 mm (23.62 × 15.75 × 15.75 in)" in page.read_text()
    assert account["template_pages"] == told.count("Tile ")


def test_what_does_not_stand_ends_with_1_and_has_its_sheet(tmp_path: Path) -> None:
    file = stone(tmp_path / "scene")
    text = file.read_text() + box_entry(file.parent, "upper", (60, 60, 40), (340, 200, FLOOR_MM + 40))
    file.write_text(text)
    out = tmp_path / "sheet.pdf"
    result = CliRunner().invoke(command, ["sheet", str(file), "-o", str(out), "--quick"])
    assert result.exit_code == 1, result.output
    assert "falls" in result.stdout
    assert f"Written: {out}" in result.stdout
    assert "DO NOT BUILD IT LIKE THIS" in text_of(out.read_bytes())


@pytest.mark.parametrize(
    ("output", "words"),
    [
        ("sheet.docx", "is no kind of sheet"),
        ("file/sheet.pdf", "cannot be written"),
        ("folder.pdf", "it is a folder"),
        ("/proc/sheet.pdf", "cannot be written"),
    ],
)
def test_a_place_that_cannot_be_written_is_one_error_at_once(tmp_path: Path, output: str, words: str) -> None:
    file = stone(tmp_path / "scene")
    (tmp_path / "file").write_text("")
    (tmp_path / "folder.pdf").mkdir()
    result = CliRunner().invoke(command, ["sheet", str(file), "-o", str(tmp_path / output)])
    assert result.exit_code == 2
    assert result.output.count("\n") == 1
    assert words in result.output
    assert output in result.output


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write everywhere")
def test_a_read_only_folder_is_one_error(tmp_path: Path) -> None:
    file = stone(tmp_path / "scene")
    closed = tmp_path / "closed"
    closed.mkdir(mode=0o500)
    result = CliRunner().invoke(command, ["sheet", str(file), "-o", str(closed / "sheet.pdf")])
    assert result.exit_code == 2
    assert "Permission denied" in result.output


def test_a_full_disk_is_one_error_and_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file, out = stone(tmp_path / "scene"), tmp_path / "out"
    out.mkdir()
    old = out / "sheet.pdf"
    old.write_bytes(b"old")

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    result = CliRunner().invoke(command, ["sheet", str(file), "-o", str(old), "--quick"])
    assert result.exit_code == 2, result.output
    assert "sheet.pdf: cannot be written (No space left on device)" in result.output
    assert result.output.count("\n") == 1
    assert old.read_bytes() == b"old"
    assert [one.name for one in out.iterdir()] == ["sheet.pdf"]


def test_ctrl_c_at_the_start_leaves_nothing(scene: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    before = sorted(scene.parent.iterdir())
    words = [*RUN, "sheet", str(scene), "-o", str(out / "sheet.pdf"), "-o", str(out / "sheet.html")]
    with subprocess.Popen(
        words,
        cwd=tmp_path,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),  # tests in the background ignore it
    ) as running:
        time.sleep(0.5)
        while running.poll() is None:  # Python drops an interrupt that meets one of its own callbacks in an import
            running.send_signal(signal.SIGINT)
            with suppress(subprocess.TimeoutExpired):
                running.communicate(timeout=1)
    assert running.returncode != 0
    assert list(out.iterdir()) == []
    assert sorted(scene.parent.iterdir()) == before


@pytest.mark.parametrize("where", ["sim.report.sheet.gathering.silhouette", "sim.report.sheet.pictures.step_photos"])
def test_ctrl_c_in_the_middle_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, where: str) -> None:
    file, out = stone(tmp_path / "scene"), tmp_path / "out"
    out.mkdir()

    def interrupted(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(where, interrupted)
    words = ["sheet", str(file), "-o", str(out / "sheet.pdf"), "-o", str(out / "sheet.html"), "--quick"]
    result = CliRunner().invoke(command, words)
    assert result.exit_code == 1
    assert "Aborted" in result.output
    assert list(out.iterdir()) == []


def test_ctrl_c_while_writing_keeps_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file, out = stone(tmp_path / "scene"), tmp_path / "out"
    out.mkdir()
    (out / "sheet.html").write_text("old")

    def stop(_: int) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", stop)
    result = CliRunner().invoke(command, ["sheet", str(file), "-o", str(out / "sheet.html"), "--quick"])
    assert result.exit_code == 1
    assert "Aborted" in result.output
    assert (out / "sheet.html").read_text() == "old"
    assert [one.name for one in out.iterdir()] == ["sheet.html"]


@pytest.mark.skipif(CHROMIUM is None, reason="no Chromium here: apt-get install chromium")
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_browser_prints_the_templates_at_full_size(tmp_path: Path, paper: str) -> None:
    sync_api = pytest.importorskip("playwright.sync_api")
    page = tmp_path / "templates.html"
    page.write_text(html_text(Sheet("Templates", tuple(template_pages(bench_of(tmp_path, paper)))), PAPERS[paper]))
    with sync_api.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        shown = browser.new_page()
        shown.goto(page.as_uri())
        printed = shown.pdf(prefer_css_page_size=True)
        browser.close()
    tiles = [page for page in pages_of(printed) if "this line is 100 mm long" in page.extract_text()]
    assert len(tiles) == 3
    for tile in tiles:
        sizes = [path.size_mm for path in paths_of(tile) if len(path.points_mm) == 2]
        assert any(abs(x - 100.0) < 0.05 and y < 0.01 for x, y in sizes)
        assert any(abs(y - 100.0) < 0.05 and x < 0.01 for x, y in sizes)


def test_bad_scenes_end_with_2_and_write_nothing(tmp_path: Path) -> None:
    result = CliRunner().invoke(command, ["sheet", str(tmp_path / "none.toml"), "-o", str(tmp_path / "sheet.pdf")])
    assert result.exit_code == 2
    assert "there is no such file" in result.output
    assert list(tmp_path.iterdir()) == []
