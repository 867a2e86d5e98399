"""The yard in a real browser: `bedjoint open` as a process, Chromium without a graphics card, and a hand in it.

Needs Chromium (Debian: `apt-get install chromium`, or name one in BEDJOINT_CHROMIUM), the package playwright, and
three.js, which is put into the package when it is built.
"""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import sim

VENDOR = Path(sim.__file__).parent / "yard" / "page" / "vendor" / "three" / "build" / "three.module.js"
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
# what a page has come to, as expressions in it
READY = "window.yard && yard.store.state && yard.stones && yard.stones.all.size === yard.store.state.pieces.length"
JUDGED = "yard.store.verdict && yard.store.verdict.version === yard.store.state.version && yard.store.verdict.complete"
SHOT = "yard.store.shot && yard.store.shot.version === yard.store.state.version"


def chromium() -> str | None:
    """The browser's program, None without one."""
    names = ("chromium", "chromium-browser", "google-chrome")
    return os.environ.get("BEDJOINT_CHROMIUM") or next(filter(None, map(shutil.which, names)), None)


@contextmanager
def launched() -> Iterator[Any]:
    """One Chromium."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=chromium(), args=FLAGS)
        yield browser
        browser.close()


class Server:
    """`bedjoint open` on a scene, which can be killed and started again at the same address."""

    def __init__(self, scene: Path, cache: Path) -> None:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.scene, self.cache = scene, cache
        self.process: subprocess.Popen[str] | None = None

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}/"

    def start(self) -> None:
        """Start it and wait until it listens."""
        command = [sys.executable, "-m", "sim.cli", "open", str(self.scene), "--port", str(self.port), "--no-browser"]
        kept = {**os.environ, "BEDJOINT_CACHE": str(self.cache)}
        quiet = subprocess.DEVNULL
        self.process = subprocess.Popen(command, cwd=self.scene.parent, env=kept, stdout=quiet, stderr=quiet)
        end = time.monotonic() + PATIENCE_S
        while time.monotonic() < end:
            assert self.process.poll() is None, "bedjoint open has ended by itself"
            with suppress(OSError), socket.create_connection(("127.0.0.1", self.port), timeout=1):
                return
            time.sleep(0.05)
        raise AssertionError("bedjoint open does not listen")

    def end(self, with_signal: int = signal.SIGTERM) -> None:
        """Send it a signal and wait for its end."""
        if self.process is not None and self.process.poll() is None:
            self.process.send_signal(with_signal)
            try:
                self.process.wait(20)
            except subprocess.TimeoutExpired:
                self.process.kill()
                self.process.wait(20)


def opened(browser: Any, server: Server, width: int = 1280, height: int = 800) -> Any:
    """A window on a served scene, with all its stones; what goes wrong in it is listed in `faults`."""
    page = browser.new_context(viewport={"width": width, "height": height}).new_page()
    page.faults = []
    page.on("pageerror", lambda error: page.faults.append(str(error)))
    page.on("request", lambda asked: _own(page, asked.url, server))
    page.goto(server.address, wait_until="commit")
    until(page, READY)
    return page


def _own(page: Any, url: str, server: Server) -> None:
    """The page asks nobody but its own server."""
    if not url.startswith((server.address, server.address.replace("http", "ws"), "data:", "blob:")):
        page.faults.append(f"asked for {url}")


def until(page: Any, condition: str, seconds: float = PATIENCE_S) -> None:
    """Wait for a condition; the page allows no eval, so it is asked again and again from outside."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if page.evaluate(f"Boolean({condition})"):
            return
        page.wait_for_timeout(40)
    raise AssertionError(f"did not come about: {condition}")


def change(page: Any, command: str) -> None:
    """Give a command and wait for the state that it makes."""
    version = page.evaluate(f"{command}.then(done => done.version)")
    until(page, f"yard.store.state.version >= {version}")


def scene_of(page: Any) -> bytes:
    """The scene file as it would be saved."""
    body: bytes = page.request.get(page.url + "scene.toml").body()
    return body


def piece(page: Any, name: str) -> dict[str, Any]:
    """A piece as the page knows it."""
    found: dict[str, Any] = page.evaluate(f"yard.store.piece({name!r})")
    return found


def drawn(page: Any) -> None:
    """Wait until the view shows what the page knows."""
    page.evaluate(
        "new Promise(done => { yard.view.draw(); requestAnimationFrame(() => requestAnimationFrame(done)); })"
    )


def on_page(page: Any, point: str) -> tuple[float, float]:
    """Where a point of the tank (an expression) is in the window, px."""
    drawn(page)
    box = page.locator("#gl canvas").bounding_box()
    at = page.evaluate(f"yard.view.onScreen({point})")
    return box["x"] + at["x"], box["y"] + at["y"]


def mesh_point(name: str, up: float = 0.0) -> str:
    """A point above the middle of a stone, mm, as an expression."""
    return f"(() => {{ const p = yard.stones.all.get({name!r}).mesh.position.clone(); p.z += {up}; return p; }})()"


def take_hold(page: Any, name: str, seconds: float = 20) -> tuple[float, float]:
    """Press the mouse on the upright handle of the picked piece: where that is in the window, px."""
    drawn(page)
    reach = page.evaluate("yard.gizmo.reach")
    x, y = on_page(page, mesh_point(name, 0.92 * reach))
    page.mouse.move(x, y)
    until(page, "yard.gizmo.controls.axis === 'Z'", seconds)
    page.mouse.down()
    return x, y


def pull_up(page: Any, name: str, by_px: float, steps: int = 4) -> None:
    """Drag the upright handle of the picked piece."""
    x, y = take_hold(page, name)
    for k in range(steps):
        page.mouse.move(x, y - (k + 1) / steps * by_px)
        page.wait_for_timeout(90)
    page.mouse.up()
