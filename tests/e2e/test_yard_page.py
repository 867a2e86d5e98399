"""The page of `bedjoint open` in a real browser: hands on stones, answers, windows, crashes.

Needs Chromium (Debian: `apt-get install chromium`, or name one in BEDJOINT_CHROMIUM), the package playwright, and
three.js, which is put into the package when it is built. Pictures are computed without a graphics card.
"""

from __future__ import annotations

import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh
from PIL import Image

import sim

ROOT = Path(__file__).resolve().parents[2]
VENDOR = Path(sim.__file__).parent / "yard" / "page" / "vendor" / "three" / "build" / "three.module.js"
SCENE = ROOT / "scenes" / "wall_of_slabs.toml"
PATIENCE_S = 300.0  # a first start compiles, and other work may share the machine
FLAGS = [
    "--no-sandbox",
    "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
TITLE = "Wall of slabs <img src=x onerror=window.hit=1>"  # a hostile one: it is only ever text
READY = "window.yard && yard.store.state && yard.stones && yard.stones.all.size === yard.store.state.pieces.length"
JUDGED = "yard.store.verdict && yard.store.verdict.version === yard.store.state.version && yard.store.verdict.complete"
SHOT = "yard.store.shot && yard.store.shot.version === yard.store.state.version"


def _chromium() -> str | None:
    names = ("chromium", "chromium-browser", "google-chrome")
    return os.environ.get("BEDJOINT_CHROMIUM") or next(filter(None, map(shutil.which, names)), None)


pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(_chromium() is None, reason="no Chromium here: apt-get install chromium"),
    pytest.mark.skipif(not VENDOR.is_file(), reason="three.js is not in the package: install where npm is reached"),
]
playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")


class Server:
    """`bedjoint open` on a scene, which can be killed and started again at the same address."""

    def __init__(self, scene: Path) -> None:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.scene = scene
        self.process: subprocess.Popen[str] | None = None

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}/"

    def start(self) -> None:
        command = [sys.executable, "-m", "sim.cli", "open", str(self.scene), "--port", str(self.port), "--no-browser"]
        kept = {**os.environ, "BEDJOINT_CACHE": str(self.scene.with_name("cache"))}
        quiet = subprocess.DEVNULL
        self.process = subprocess.Popen(command, cwd=self.scene.parent, env=kept, stdout=quiet, stderr=quiet)
        end = time.monotonic() + PATIENCE_S
        while time.monotonic() < end:
            assert self.process.poll() is None, "bedjoint open has ended by itself"
            with suppress(OSError), socket.create_connection(("127.0.0.1", self.port), timeout=1):
                return
            time.sleep(0.1)
        raise AssertionError("bedjoint open does not listen")

    def end(self, with_signal: int = signal.SIGTERM) -> None:
        if self.process is not None and self.process.poll() is None:
            self.process.send_signal(with_signal)
            try:
                self.process.wait(20)
            except subprocess.TimeoutExpired:
                self.process.kill()
                self.process.wait(20)


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """One Chromium for all tests."""
    with playwright.sync_playwright() as driver:
        chromium = driver.chromium.launch(executable_path=_chromium(), args=FLAGS)
        yield chromium
        chromium.close()


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """One session on a wall of seven slabs that stands."""
    scene = tmp_path_factory.mktemp("yard") / "wall.toml"
    text = SCENE.read_text(encoding="utf-8")
    assert 'title = "Wall of slabs"' in text
    scene.write_text(text.replace('"Wall of slabs"', f'"{TITLE}"'), encoding="utf-8")
    served = Server(scene)
    served.start()
    yield served
    served.end()


@pytest.fixture
def window(browser: Any, server: Server) -> Iterator[Any]:
    """A window on it; whatever a test changes is undone afterwards, and the page may log no fault."""
    page = _window(browser, server)
    yield page
    page.keyboard.press("Escape")
    for _ in range(60):
        if page.evaluate("yard.store.state.undo") is None:
            break
        _change(page, "yard.link.ask('undo', {})")
    page.context.close()
    assert page.faults == []


def _window(browser: Any, server: Server) -> Any:
    context = browser.new_context(viewport={"width": 1280, "height": 800})
    page = context.new_page()
    page.faults = []
    page.on("pageerror", lambda error: page.faults.append(str(error)))
    page.on("request", lambda asked: _own(page, asked.url, server))
    page.goto(server.address, wait_until="commit")
    _until(page, READY)
    return page


def _own(page: Any, url: str, server: Server) -> None:
    """The page asks nobody but its own server."""
    if not url.startswith((server.address, server.address.replace("http", "ws"), "data:", "blob:")):
        page.faults.append(f"asked for {url}")


def _until(page: Any, condition: str, seconds: float = PATIENCE_S) -> None:
    """Wait for a condition; the page allows no eval, so it is asked again and again from outside."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if page.evaluate(f"Boolean({condition})"):
            return
        page.wait_for_timeout(60)
    raise AssertionError(f"did not come about: {condition}")


def _change(page: Any, command: str) -> None:
    """Give a command and wait for the state that it makes."""
    version = page.evaluate(f"{command}.then(done => done.version)")
    _until(page, f"yard.store.state.version >= {version}")


def _scene(page: Any) -> bytes:
    """The scene file as it would be saved."""
    return page.request.get(page.url + "scene.toml").body()


def _piece(page: Any, name: str) -> dict[str, Any]:
    return page.evaluate(f"yard.store.piece({name!r})")


def _on_page(page: Any, point: str) -> tuple[float, float]:
    """Where a point of the tank (an expression) is in the window, px."""
    _drawn(page)
    box = page.locator("#gl canvas").bounding_box()
    at = page.evaluate(f"yard.view.onScreen({point})")
    return box["x"] + at["x"], box["y"] + at["y"]


def _drawn(page: Any) -> None:
    """Wait until the view shows what the page knows."""
    page.evaluate(
        "new Promise(done => { yard.view.draw(); requestAnimationFrame(() => requestAnimationFrame(done)); })"
    )


def _mesh_point(name: str, up: float = 0.0) -> str:
    return f"(() => {{ const p = yard.stones.all.get({name!r}).mesh.position.clone(); p.z += {up}; return p; }})()"


def _pull_up(page: Any, name: str, by_px: float) -> None:
    """Drag the upright handle of the picked piece."""
    _drawn(page)
    reach = page.evaluate("yard.gizmo.reach")
    x, y = _on_page(page, _mesh_point(name, 0.92 * reach))
    page.mouse.move(x, y)
    _until(page, "yard.gizmo.controls.axis === 'Z'", 20)
    page.mouse.down()
    for share in (0.25, 0.5, 0.75, 1.0):
        page.mouse.move(x, y - share * by_px)
        page.wait_for_timeout(90)
    page.mouse.up()


def test_the_scene_opens_and_is_judged(window: Any) -> None:
    assert window.locator("#title").inner_text() == TITLE
    assert window.locator("img[onerror]").count() == 0
    assert window.evaluate("window.hit ?? null") is None
    assert window.locator(".stones tbody tr").count() == 7
    _until(window, JUDGED)
    assert "Stands (quick)" in window.locator("#verdict").inner_text()
    _until(window, SHOT)
    _until(window, "document.querySelector('#shot').naturalWidth > 100")


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
    x, y = _on_page(window, _mesh_point("row_3_a", 5))
    window.mouse.click(x, y)
    _until(window, "yard.store.picked.join() === 'row_3_a'", 20)
    assert window.locator("#panel-piece h3").inner_text() == "row_3_a"
    assert window.locator('.stones tr[aria-selected="true"]').count() == 1
    window.keyboard.press("Escape")
    assert window.evaluate("yard.store.picked.length") == 0


def test_drag_set_down_and_undo(window: Any) -> None:
    """Lifted by the gizmo it hovers, set down it stands elsewhere; undone, the file has its old bytes."""
    _until(window, JUDGED)
    _until(window, SHOT)
    before = _scene(window)
    old = window.evaluate(
        "({shot: yard.store.shot.key, base: JSON.stringify(yard.store.verdict.base.footings),"
        " row: document.querySelector('.stones').textContent, z: yard.store.piece('row_3_b').at_mm[2]})"
    )
    window.evaluate("yard.store.pick('row_3_b')")
    _pull_up(window, "row_3_b", 70)
    _until(window, f"yard.store.piece('row_3_b').at_mm[2] > {old['z']} + 10")
    _until(window, "yard.store.faults.some(fault => fault.piece === 'row_3_b' && fault.fault === 'hovers')")
    assert "hovers" in window.locator('.stones tr[aria-selected="true"]').inner_text()
    # a little to the side by typing, then down
    x_field = window.locator("#at_mm-0")
    x_mm = float(x_field.input_value()) - 6.0
    x_field.fill(str(x_mm))
    x_field.press("Enter")
    _until(window, f"Math.abs(yard.store.piece('row_3_b').at_mm[0] - {x_mm}) < 0.01")
    window.locator("#title").click()
    window.keyboard.press("d")
    _until(window, "yard.store.faults.length === 0")
    assert _piece(window, "row_3_b")["at_mm"][2] == pytest.approx(old["z"], abs=6.0)
    _until(window, JUDGED)
    _until(window, SHOT)
    assert window.evaluate("yard.store.shot.key") != old["shot"]
    assert window.evaluate("JSON.stringify(yard.store.verdict.base.footings)") != old["base"]
    assert window.evaluate("document.querySelector('.stones').textContent") != old["row"]
    while window.evaluate("yard.store.state.undo") is not None:
        version = window.evaluate("yard.store.state.version")
        window.locator("#undo").click()
        _until(window, f"yard.store.state.version > {version}")
    assert _scene(window) == before
    version = window.evaluate("yard.store.state.version")
    window.locator("#redo").click()
    _until(window, f"yard.store.state.version > {version}")
    assert _scene(window) != before


def test_keys_move_and_turn_by_steps(window: Any) -> None:
    window.evaluate("yard.store.pick('row_3_a')")
    start = _piece(window, "row_3_a")["at_mm"]
    window.keyboard.press("PageUp")
    _until(window, f"Math.abs(yard.store.piece('row_3_a').at_mm[2] - {start[2]} - 5) < 0.01")
    window.keyboard.press("t")
    turned = _piece(window, "row_3_a")["turn_deg"][2]
    window.keyboard.press("ArrowLeft")
    _until(window, f"Math.abs(yard.store.piece('row_3_a').turn_deg[2] - {turned} - 5) < 0.01")
    window.locator("#turn_deg-2").fill("40")
    window.locator("#turn_deg-2").press("Enter")
    _until(window, "Math.abs(yard.store.piece('row_3_a').turn_deg[2] - 40) < 0.01")


def test_margins_have_a_legend_with_signs(window: Any) -> None:
    _until(window, JUDGED)
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
    _until(window, READY)
    _until(window, "yard.store.state.pieces.length === 8")
    window.keyboard.press("Escape")
    assert window.locator("main img[onerror]").count() == 0
    assert window.evaluate("window.hit ?? null") is None


def test_a_bad_upload_says_what_is_wrong(window: Any, tmp_path: Path) -> None:
    bad = tmp_path / "shopping.stl"
    bad.write_text("milk, bread, stones")
    before = _scene(window)
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
    assert _scene(window) == before


def test_orders_step_by_step(window: Any) -> None:
    window.get_by_role("button", name="Find an order").click()
    _until(window, "yard.store.ordered && yard.store.ordered.steps.length === 7")
    assert window.locator("#bars button").count() == 7
    window.locator("#step").fill("3")
    _until(window, "[...yard.stones.all.values()].filter(stone => stone.mesh.visible).length === 3", 20)
    assert "Step 3 of 7" in window.locator("#order").inner_text()
    window.get_by_role("button", name="One step on").click()
    _until(window, "[...yard.stones.all.values()].filter(stone => stone.mesh.visible).length === 4", 20)
    # the last stone carried to the front cannot rest there: that is said, and the best order stays in reach
    units = window.evaluate("yard.store.ordered.units")
    first = window.locator("#bars button").nth(0).bounding_box()
    last = window.locator("#bars button").nth(6).bounding_box()
    window.mouse.move(last["x"] + last["width"] / 2, last["y"] + 30)
    window.mouse.down()
    window.mouse.move(first["x"] + 30, first["y"] + 30, steps=6)
    window.mouse.move(first["x"] + 4, first["y"] + 30)
    window.mouse.up()
    _until(window, "yard.store.ordered.given")
    assert window.evaluate("yard.store.ordered.units")[0] == units[-1]


def test_the_shot_follows_lens_and_water(window: Any) -> None:
    _until(window, SHOT)
    flooded = window.evaluate("yard.store.shot.key")
    window.get_by_role("button", name="Dry").click()
    _until(window, f"{SHOT} && !yard.store.shot.flooded && yard.store.shot.key !== {flooded!r}")
    window.get_by_label("Lens of the shot").select_option("50")
    _until(window, f"{SHOT} && yard.store.shot.focal_mm === 50")
    window.get_by_label("Guides over the shot").select_option(index=1)
    assert window.locator(".shot line").count() >= 2
    window.get_by_role("button", name="Camera", exact=True).click()
    eye = window.evaluate("yard.view.camera.position.toArray()")
    lens = window.evaluate("yard.store.state.camera.position_mm")
    assert eye == pytest.approx(lens, abs=0.5)
    window.get_by_role("button", name="Flooded").click()
    window.get_by_label("Lens of the shot").select_option(index=0)


def test_a_concept_picture_lies_over_the_shot(window: Any, tmp_path: Path) -> None:
    picture = tmp_path / "concept.png"
    Image.new("RGB", (90, 60), (200, 120, 40)).save(picture)
    window.locator('#right input[type="file"]').set_input_files(picture)
    _until(window, "yard.store.state.concept")
    concept = window.locator(".shot img:not(#shot)")
    assert concept.is_visible()
    slider = window.get_by_label("Opacity of the concept picture")
    slider.fill("30")
    assert concept.evaluate("picture => getComputedStyle(picture).opacity") == "0.3"
    _until(window, "document.querySelector('.shot img:not(#shot)').naturalWidth === 90")


def test_compare_says_what_moved(window: Any) -> None:
    _change(window, "yard.link.ask('move', {pieces: ['row_3_a'], by_mm: [3, 4, 0]})")
    window.get_by_role("button", name="Keep", exact=True).click()
    window.locator("#keeping select").select_option("opened")
    window.get_by_role("button", name="Compare", exact=True).click()
    window.locator("#keeping .result").wait_for(timeout=PATIENCE_S * 1000)
    assert "row_3_a moved by 5.0 mm" in window.locator("#keeping .result").inner_text().replace("\u00a0", " ")
    window.keyboard.press("Escape")


def test_two_windows_show_the_same(window: Any, browser: Any, server: Server) -> None:
    other = _window(browser, server)
    try:
        start = _piece(window, "row_3_a")["position_mm"]
        _change(window, "yard.link.ask('move', {pieces: ['row_3_a'], by_mm: [7, 0, 12]})")
        _until(other, f"Math.abs(yard.stones.all.get('row_3_a').mesh.position.x - {start[0]} - 7) < 0.01")
        assert other.evaluate("yard.store.state.version") == window.evaluate("yard.store.state.version")
        # a drag shows in the other window before it is kept
        window.evaluate("yard.store.pick('row_3_b')")
        high = _piece(other, "row_3_b")["position_mm"][2]
        window.evaluate(
            f"yard.link.drag({{poses: [{{piece: 'row_3_b', position_mm: [300, 120, {high} + 60]}}]}})",
        )
        _until(other, f"yard.stones.all.get('row_3_b').mesh.position.z > {high} + 55")
    finally:
        other.context.close()
    assert other.faults == []


def test_a_reload_keeps_everything(window: Any) -> None:
    _change(window, "yard.link.ask('move', {pieces: ['row_1_a'], by_mm: [0, 0, 20]})")
    _change(window, "yard.link.ask('lock', {pieces: ['row_1_b'], locked: true})")
    before, version = _scene(window), window.evaluate("yard.store.state.version")
    window.reload(wait_until="commit")
    _until(window, READY)
    assert window.evaluate("yard.store.state.version") == version
    assert _piece(window, "row_1_b")["locked"]
    assert _scene(window) == before
    assert window.evaluate("yard.store.state.undo") is not None


def test_killed_and_started_again(window: Any, server: Server) -> None:
    """Killed right after an edit, the server comes back with it, and the window by itself."""
    _change(window, "yard.link.ask('move', {pieces: ['row_3_a'], by_mm: [0, 0, 33]})")
    edited, height = _scene(window), _piece(window, "row_3_a")["at_mm"][2]
    server.end(signal.SIGKILL)
    window.locator("#lost").wait_for(state="visible", timeout=20_000)
    assert "lost" in window.locator("#lost").inner_text()
    server.start()
    window.locator("#lost").wait_for(state="hidden", timeout=PATIENCE_S * 1000)
    _until(window, "yard.link.open")
    assert _scene(window) == edited
    assert _piece(window, "row_3_a")["at_mm"][2] == pytest.approx(height)
    _change(window, "yard.link.ask('move', {pieces: ['row_3_a'], by_mm: [0, 0, -3]})")
    assert _piece(window, "row_3_a")["at_mm"][2] == pytest.approx(height - 3.0, abs=1e-3)
