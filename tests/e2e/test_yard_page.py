"""The page of `bedjoint open` in a real browser: hands on the stones of a small wall, answers, windows, crashes.

See `browsing` for what it needs. Tests share one window; whatever one of them changes is undone after it.
"""

from __future__ import annotations

import io
import json
import re
import signal
import tomllib
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh
from browsing import (
    JUDGED,
    PATIENCE_S,
    READY,
    SHOT,
    VENDOR,
    Server,
    change,
    chromium,
    launched,
    mesh_point,
    on_page,
    opened,
    piece,
    scene_of,
    until,
)
from PIL import Image

ROOT = Path(__file__).resolve().parents[2]
SCENE = ROOT / "scenes" / "wall_of_slabs.toml"
TITLE = "Wall of slabs <img src=x onerror=window.hit=1>"  # a hostile one: it is only ever text

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(chromium() is None, reason="no Chromium here: apt-get install chromium"),
    pytest.mark.skipif(not VENDOR.is_file(), reason="three.js is not in the package: install where npm is reached"),
]
pytest.importorskip("playwright.sync_api", reason="playwright is not installed")


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """One Chromium for all tests."""
    with launched() as one:
        yield one


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory, cache: Path) -> Iterator[Server]:
    """One session on a wall of seven slabs that stands."""
    scene = tmp_path_factory.mktemp("yard") / "wall.toml"
    text = SCENE.read_text(encoding="utf-8")
    assert 'title = "Wall of slabs"' in text
    scene.write_text(text.replace('"Wall of slabs"', f'"{TITLE}"'), encoding="utf-8")
    served = Server(scene, cache)
    served.start()
    yield served
    served.end()


@pytest.fixture(scope="module")
def shared(browser: Any, server: Server) -> Iterator[Any]:
    """The window that tests share."""
    page = opened(browser, server)
    yield page
    page.context.close()


@pytest.fixture
def window(shared: Any) -> Any:
    """The same, with nothing picked and nothing to undo; the page may log no fault."""
    yield shared
    shared.keyboard.press("Escape")  # a dialog
    shared.locator("#tab-piece").click()
    shared.evaluate("document.activeElement?.blur()")
    shared.keyboard.press("Escape")  # what is picked
    shared.keyboard.press("1")
    shared.evaluate("(yard.store.step = null, yard.store.tell('step'))")
    for _ in range(60):
        if shared.evaluate("yard.store.state.undo") is None:
            break
        change(shared, "yard.link.ask('undo', {})")
    faults, shared.faults[:] = list(shared.faults), []
    assert faults == []


def test_the_scene_opens_and_is_judged(window: Any) -> None:
    assert window.locator("#title").inner_text() == TITLE
    assert window.locator("img[onerror]").count() == 0
    assert window.evaluate("window.hit ?? null") is None
    assert window.locator(".stones tbody tr").count() == 7
    until(window, JUDGED)
    assert "Stands (quick)" in window.locator("#verdict").inner_text()
    until(window, SHOT)
    until(window, "document.querySelector('#shot').naturalWidth > 100")


def test_every_control_has_a_name_and_can_be_reached_by_keyboard(window: Any) -> None:
    window.evaluate("yard.store.pick('row_2_b')")
    nameless = window.evaluate(
        """[...document.querySelectorAll('button, input, select, a')].filter(control => {
             if (control.hidden || control.type === 'file') return false;
             const labels = [...(control.labels ?? [])].map(label => label.textContent).join('');
             return !(control.getAttribute('aria-label') || labels || control.textContent.trim());
           }).map(control => control.outerHTML.slice(0, 120))"""
    )
    assert nameless == []
    unreachable = window.evaluate(
        """[...document.querySelectorAll('#right button, #left button')]
           .filter(control => control.tabIndex < 0 && control.getAttribute('role') !== 'tab').length"""
    )
    assert unreachable == 0
    window.locator("#tab-piece").focus()
    window.keyboard.press("ArrowRight")
    assert window.locator("#panel-states").is_visible()
    assert not window.locator("#panel-piece").is_visible()


def test_a_click_picks_a_stone(window: Any) -> None:
    x, y = on_page(window, mesh_point("row_3_a", 5))
    window.mouse.click(x, y)
    until(window, "yard.store.picked.join() === 'row_3_a'", 20)
    assert window.locator("#panel-piece h3").inner_text() == "row_3_a"
    assert window.locator('.stones tr[aria-selected="true"]').count() == 1
    window.keyboard.press("Escape")
    assert window.evaluate("yard.store.picked.length") == 0


def test_typed_numbers_move_and_are_undone_and_done_again(window: Any) -> None:
    before = scene_of(window)
    window.evaluate("yard.store.pick('row_3_b')")
    field = window.locator("#at_mm-0")
    x_mm = float(field.input_value()) - 6.0
    field.fill(str(x_mm))
    field.press("Enter")
    until(window, f"Math.abs(yard.store.piece('row_3_b').at_mm[0] - {x_mm}) < 0.01")
    after = scene_of(window)
    for button, text in (("#undo", before), ("#redo", after)):
        version = window.evaluate("yard.store.state.version")
        window.locator(button).click()
        until(window, f"yard.store.state.version > {version}")
        assert scene_of(window) == text


def test_keys_move_and_turn_by_steps(window: Any) -> None:
    window.evaluate("yard.store.pick('row_3_a')")
    start = piece(window, "row_3_a")["at_mm"]
    window.keyboard.press("PageUp")
    until(window, f"Math.abs(yard.store.piece('row_3_a').at_mm[2] - {start[2]} - 5) < 0.01")
    window.keyboard.press("t")
    turned = piece(window, "row_3_a")["turn_deg"][2]
    window.keyboard.press("ArrowLeft")
    until(window, f"Math.abs(yard.store.piece('row_3_a').turn_deg[2] - {turned} - 5) < 0.01")
    window.locator("#turn_deg-2").fill("40")
    window.locator("#turn_deg-2").press("Enter")
    until(window, "Math.abs(yard.store.piece('row_3_a').turn_deg[2] - 40) < 0.01")


def test_margins_have_a_legend_with_signs(window: Any) -> None:
    until(window, JUDGED)
    window.keyboard.press("2")
    legend = window.locator("#legend")
    assert legend.is_visible()
    marks = legend.locator(".swatch").all_inner_texts()
    assert len(set(marks)) == len(marks) >= 4  # no two share a sign: nobody needs the colours
    shown = window.evaluate("[...yard.stones.all.values()].filter(stone => stone.sign.visible).length")
    assert shown == 7
    assert window.evaluate("yard.store.verdict.first !== null")
    assert "move first" in window.locator(".tag.first").inner_text()
    window.keyboard.press("3")
    assert window.locator("#panel-base polygon").count() >= 3


def test_a_scan_is_brought_in(window: Any, tmp_path: Path) -> None:
    """A name is only ever text, whatever it says."""
    stone = trimesh.creation.icosphere(subdivisions=2, radius=30.0)
    stone.apply_scale([1.4, 1.0, 0.6])
    scan = tmp_path / "<img src=x onerror=window.hit=1>.stl"
    stone.export(scan)
    window.get_by_role("button", name="Add a stone").click()
    form = window.locator("#adding form").first
    form.locator('input[type="file"]').set_input_files(scan)
    form.locator("select").first.select_option("mm")
    form.get_by_role("button", name="Bring it in").click()
    window.locator("#adding .result").wait_for(timeout=PATIENCE_S * 1000)
    report = window.locator("#adding .result").inner_text()
    volume_ml = 4 / 3 * np.pi * 42 * 30 * 18 / 1000  # of the smooth ellipsoid; the polyhedron has a little less
    told = re.search(r"Volume\s+(\d+)", report)
    assert told is not None
    assert float(told[1]) == pytest.approx(volume_ml, rel=0.06)
    until(window, READY)
    until(window, "yard.store.state.pieces.length === 8")
    window.keyboard.press("Escape")
    assert window.locator("main img[onerror]").count() == 0
    assert window.evaluate("window.hit ?? null") is None


def test_a_bad_upload_says_what_is_wrong(window: Any, tmp_path: Path) -> None:
    bad = tmp_path / "shopping.stl"
    bad.write_text("milk, bread, stones")
    before = scene_of(window)
    window.get_by_role("button", name="Add a stone").click()
    form = window.locator("#adding form").first
    form.locator('input[type="file"]').set_input_files(bad)
    form.get_by_role("button", name="Bring it in").click()
    problem = window.locator("#adding [role=alert]")
    problem.wait_for(timeout=PATIENCE_S * 1000)
    said = problem.inner_text()
    assert "shopping.stl" in said
    assert len(said.split()) > 4
    assert "Traceback" not in said
    window.keyboard.press("Escape")
    assert scene_of(window) == before


def test_orders_step_by_step(window: Any) -> None:
    window.get_by_role("button", name="Find an order").click()
    until(window, "yard.store.ordered && yard.store.ordered.steps.length === 7")
    assert window.locator("#bars button").count() == 7
    window.locator("#step").fill("3")
    until(window, "[...yard.stones.all.values()].filter(stone => stone.mesh.visible).length === 3", 20)
    assert "Step 3 of 7" in window.locator("#order").inner_text()
    window.get_by_role("button", name="One step on").click()
    until(window, "[...yard.stones.all.values()].filter(stone => stone.mesh.visible).length === 4", 20)
    # the last stone carried to the front cannot rest there: that is said, and the best order stays in reach
    units = window.evaluate("yard.store.ordered.units")
    first = window.locator("#bars button").nth(0).bounding_box()
    last = window.locator("#bars button").nth(6).bounding_box()
    window.mouse.move(last["x"] + last["width"] / 2, last["y"] + 30)
    window.mouse.down()
    window.mouse.move(first["x"] + 30, first["y"] + 30, steps=6)
    window.mouse.move(first["x"] + 4, first["y"] + 30)
    window.mouse.up()
    until(window, "yard.store.ordered.given")
    assert window.evaluate("yard.store.ordered.units")[0] == units[-1]


def test_the_shot_follows_lens_and_water(window: Any) -> None:
    until(window, SHOT)
    flooded = window.evaluate("yard.store.shot.key")
    window.get_by_role("button", name="Dry").click()
    until(window, f"{SHOT} && !yard.store.shot.flooded && yard.store.shot.key !== {flooded!r}")
    window.get_by_label("Lens of the shot").select_option("50")
    until(window, f"{SHOT} && yard.store.shot.focal_mm === 50")
    window.get_by_label("Guides over the shot").select_option(index=1)
    assert window.locator(".shot line").count() >= 2
    window.get_by_role("button", name="Camera", exact=True).click()
    eye = window.evaluate("yard.view.camera.position.toArray()")
    lens = window.evaluate("yard.store.state.camera.position_mm")
    assert eye == pytest.approx(lens, abs=0.5)
    window.get_by_role("button", name="Flooded").click()
    window.get_by_label("Lens of the shot").select_option(index=0)
    window.get_by_role("button", name="Corner", exact=True).click()


def test_a_concept_picture_lies_over_the_shot(window: Any, tmp_path: Path) -> None:
    picture = tmp_path / "concept.png"
    Image.new("RGB", (90, 60), (200, 120, 40)).save(picture)
    window.locator('#right input[type="file"]').set_input_files(picture)
    until(window, "yard.store.state.concept")
    concept = window.locator(".shot img:not(#shot)")
    assert concept.is_visible()
    slider = window.get_by_label("Opacity of the concept picture")
    slider.fill("30")
    assert concept.evaluate("picture => getComputedStyle(picture).opacity") == "0.3"
    until(window, "document.querySelector('.shot img:not(#shot)').naturalWidth === 90")


def test_compare_says_what_moved(window: Any) -> None:
    change(window, "yard.link.ask('move', {pieces: ['row_3_a'], by_mm: [3, 4, 0]})")
    window.get_by_role("button", name="Keep", exact=True).click()
    window.locator("#keeping select").select_option("opened")
    window.get_by_role("button", name="Compare", exact=True).click()
    window.locator("#keeping .result").wait_for(timeout=PATIENCE_S * 1000)
    assert "row_3_a moved by 5.0 mm" in window.locator("#keeping .result").inner_text().replace("\u00a0", " ")
    window.keyboard.press("Escape")


def test_two_windows_show_the_same(window: Any, browser: Any, server: Server) -> None:
    other = opened(browser, server)
    try:
        start = piece(window, "row_3_a")["position_mm"]
        change(window, "yard.link.ask('move', {pieces: ['row_3_a'], by_mm: [7, 0, 12]})")
        until(other, f"Math.abs(yard.stones.all.get('row_3_a').mesh.position.x - {start[0]} - 7) < 0.01")
        assert other.evaluate("yard.store.state.version") == window.evaluate("yard.store.state.version")
        # a drag shows in the other window before it is kept
        window.evaluate("yard.store.pick('row_3_b')")
        high = piece(other, "row_3_b")["position_mm"][2]
        window.evaluate(
            f"yard.link.drag({{poses: [{{piece: 'row_3_b', position_mm: [300, 120, {high} + 60]}}]}})",
        )
        until(other, f"yard.stones.all.get('row_3_b').mesh.position.z > {high} + 55")
    finally:
        other.context.close()
    assert other.faults == []


def test_a_reload_keeps_everything(window: Any) -> None:
    change(window, "yard.link.ask('move', {pieces: ['row_1_a'], by_mm: [0, 0, 20]})")
    change(window, "yard.link.ask('lock', {pieces: ['row_1_b'], locked: true})")
    before, version = scene_of(window), window.evaluate("yard.store.state.version")
    window.reload(wait_until="commit")
    until(window, READY)
    assert window.evaluate("yard.store.state.version") == version
    assert piece(window, "row_1_b")["locked"]
    assert scene_of(window) == before
    assert window.evaluate("yard.store.state.undo") is not None


def test_killed_during_an_edit_and_started_again(window: Any, server: Server) -> None:
    """Killed while edits pour in, the server comes back with all that were answered, and the window by itself."""
    start = piece(window, "row_3_a")["at_mm"][2]
    window.evaluate(
        """(() => {
             window.answered = 0;
             const go = () => yard.link.ask('move', {pieces: ['row_3_a'], by_mm: [0, 0, 3]})
               .then(() => { answered++; go(); }, () => {});
             go();
           })()"""
    )
    until(window, "answered >= 3", 60)
    server.end(signal.SIGKILL)
    window.locator("#lost").wait_for(state="visible", timeout=20_000)
    assert "lost" in window.locator("#lost").inner_text()
    answered = window.evaluate("answered")
    server.start()
    window.locator("#lost").wait_for(state="hidden", timeout=PATIENCE_S * 1000)
    until(window, "yard.link.open")
    moves = (piece(window, "row_3_a")["at_mm"][2] - start) / 3.0
    assert moves == pytest.approx(round(moves), abs=1e-3), "no half of an edit"
    assert answered <= round(moves) <= answered + 1, "every edit that was answered is there, and at most one more"
    height = piece(window, "row_3_a")["at_mm"][2]
    change(window, "yard.link.ask('move', {pieces: ['row_3_a'], by_mm: [0, 0, -3]})")
    assert piece(window, "row_3_a")["at_mm"][2] == pytest.approx(height - 3.0, abs=1e-3)


def test_full_check_and_what_can_be_taken_away(window: Any, tmp_path: Path) -> None:
    """All judges with progress; then scene, GLB and the archive come down as files that other programs read."""
    window.evaluate("(window.heard = [], yard.link.hear('progress', told => heard.push(told)))")
    window.get_by_role("button", name="Full check").click()
    window.locator("#checking progress").wait_for(timeout=20_000)
    window.locator("#checking .verdict").wait_for(timeout=PATIENCE_S * 1000)
    assert window.locator("#checking .verdict .word").inner_text().strip().endswith("Stands")
    assert "row_3_b" in window.get_by_label("Report", exact=True).inner_text()
    heard = [told for told in window.evaluate("heard") if told["job"] == "check"]
    assert len({told["what"] for told in heard}) >= 2, "each judge says that it is at work"
    assert all(0 <= told["done"] <= told["of"] for told in heard)
    window.keyboard.press("Escape")
    window.get_by_role("button", name="Keep", exact=True).click()
    names = {entry["id"] for entry in tomllib.loads(_taken(window, "Scene", tmp_path).read_text("utf-8"))["piece"]}
    assert len(names) == 7
    solid = trimesh.load(_taken(window, "GLB", tmp_path), file_type="glb")
    assert set(solid.graph.nodes_geometry) == names
    low_m, high_m = solid.bounds  # y up, z to the front
    assert (high_m - low_m)[[0, 2, 1]] * 1000.0 == pytest.approx([334, 101, 82], abs=9.0)
    with zipfile.ZipFile(_taken(window, "Everything: scene, pictures, report, GLB", tmp_path)) as archive:
        files = {name: archive.read(name) for name in archive.namelist()}
    assert tomllib.loads(files["scene.toml"].decode())["title"] == TITLE
    assert json.loads(files["report.json"])["verdict"] == "stands"  # the full one, of this very version
    for name in ("margins.png", "loads.png", "tank.png", "shot_dry.png", "shot_flooded.png"):
        with Image.open(io.BytesIO(files[name])) as picture:
            assert min(picture.size) >= 400, name
            assert len(picture.convert("RGB").resize((60, 40)).getcolors(2400)) > 20, f"{name} is empty"


def _taken(window: Any, link: str, folder: Path) -> Path:
    """A file that the browser downloads."""
    with window.expect_download(timeout=PATIENCE_S * 1000) as coming:
        window.get_by_role("link", name=link, exact=True).click()
    target = folder / coming.value.suggested_filename
    coming.value.save_as(target)
    return target
