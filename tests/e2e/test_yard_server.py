"""The yard's server as browsers meet it: a real one on a free port, or its application in this process."""

from __future__ import annotations

import asyncio
import contextlib
import io
import json
import os
import signal
import socket
import struct
import subprocess
import sys
import time
import zipfile
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any

import httpx2 as httpx
import numpy as np
import pytest
import trimesh
import websockets
from click.testing import CliRunner
from PIL import Image
from starlette.testclient import TestClient
from starlette.websockets import WebSocketDisconnect
from yards import small_scene

from sim.cli import command
from sim.scene import read_scene
from sim.yard import exporting, importing, receiving, server
from sim.yard.journal import journal_path
from sim.yard.session import Session

PORT = 8123
SOCKET = f"ws://127.0.0.1:{PORT}/socket"  # the test client calls itself otherwise
SLOW_START_S = 90


@pytest.fixture
def session(tmp_path: Path) -> Iterator[Session]:
    made = Session(small_scene(tmp_path), judged=False)
    yield made
    made.close()


@pytest.fixture
def page(tmp_path: Path) -> Path:
    """A page of our own, so that these tests need none."""
    folder = tmp_path / "page"
    (folder / "vendor" / "three").mkdir(parents=True)
    (folder / "index.html").write_text('<script type="importmap">{"imports": {}}</script>')
    (folder / "main.js").write_text("export const here = 1;")
    (folder / ".hidden").write_text("secret")
    (folder / "vendor" / "three" / "three.js").write_text("export {};")
    return folder


@pytest.fixture
def client(session: Session, page: Path) -> Iterator[TestClient]:
    with TestClient(server.application(session, PORT, page), base_url=f"http://127.0.0.1:{PORT}") as made:
        yield made


def heard(window: Any, tell: str) -> dict[str, Any]:
    """The next telling of a kind."""
    while True:
        told: dict[str, Any] = json.loads(window.receive_text())
        if told["tell"] == tell:
            return told


def ask(window: Any, do: str, number: int, on: int | None = None, **fields: object) -> None:
    window.send_text(json.dumps({"do": do, "id": number, "on": on, **fields}))


def test_the_page_and_its_files_are_served_and_nothing_else(client: TestClient) -> None:
    index = client.get("/")
    assert index.status_code == 200
    policy = index.headers["content-security-policy"]
    assert "default-src 'self'" in policy
    assert "'sha256-" in policy
    assert "unsafe-eval" not in policy
    assert client.get("/page/main.js").text == "export const here = 1;"
    assert client.get("/vendor/three/three.js").status_code == 200
    for path in (
        "/page/.hidden",
        "/page/../server.py",
        "/page/%2e%2e/small.toml",
        "/page/..%2fsmall.toml",
        "/etc/passwd",
    ):
        assert client.get(path).status_code == 404, path


def test_a_script_is_sent_again_only_when_it_has_changed(client: TestClient, page: Path) -> None:
    first = client.get("/page/main.js")
    assert first.headers["cache-control"] == "no-cache"
    same = {"if-none-match": first.headers["etag"]}
    assert client.get("/page/main.js", headers=same).status_code == 304
    (page / "main.js").write_text("export const here = 12;")
    again = client.get("/page/main.js", headers=same)
    assert (again.status_code, again.text) == (200, "export const here = 12;")
    assert client.post("/page/main.js").status_code == 405


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({}, 200),
        ({"host": f"localhost:{PORT}"}, 200),
        ({"origin": f"http://127.0.0.1:{PORT}"}, 200),
        ({"host": "evil.example"}, 403),  # a name that somebody lets point here
        ({"host": f"evil.example:{PORT}"}, 403),
        ({"host": "127.0.0.1:9999"}, 403),
        ({"origin": "http://evil.example"}, 403),
        ({"origin": "null"}, 403),
        ({"origin": "http://127.0.0.1:9999"}, 403),
        ({"sec-fetch-site": "cross-site", "sec-fetch-mode": "no-cors"}, 403),
    ],
)
def test_only_our_own_page_is_answered(client: TestClient, headers: dict[str, str], status: int) -> None:
    assert client.get("/scene.toml", headers=headers).status_code == status
    assert client.post("/scan?name=x.txt", headers=headers, content=b"x").status_code == (422 if status == 200 else 403)


def test_a_socket_from_elsewhere_is_refused(client: TestClient) -> None:
    for headers in ({"origin": "http://evil.example"}, {"host": "evil.example"}):
        with pytest.raises(WebSocketDisconnect) as refused, client.websocket_connect(SOCKET, headers=headers):
            pass
        assert refused.value.code == 1008


def test_another_interface_refuses() -> None:
    """The socket is bound to the loopback address: whatever else this machine is called, nobody answers there."""
    listening = server.listen(0)
    port = listening.getsockname()[1]
    try:
        assert listening.getsockname()[0] == "127.0.0.1"
        with socket.create_connection(("127.0.0.1", port), 5):
            pass
        others = {"127.0.0.2", *_own_addresses()} - {"127.0.0.1"}
        for address in others:
            with pytest.raises(OSError, match=r"refused|unreachable|timed out|assign"):
                socket.create_connection((address, port), 5)
    finally:
        listening.close()


def _own_addresses() -> set[str]:
    with contextlib.suppress(OSError):
        return {str(info[4][0]) for info in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)}
    return set()


def test_a_window_gets_the_state_and_changes_come_to_all(client: TestClient, session: Session) -> None:
    with client.websocket_connect(SOCKET) as one, client.websocket_connect(SOCKET) as other:
        state = heard(one, "state")
        assert state["version"] == heard(other, "state")["version"] == 1
        assert state["title"] == "Small <b>yard</b>"
        assert {piece["id"] for piece in state["pieces"]} == {"low", "beside", "high"}
        ask(one, "move", 7, 1, pieces=["high"], by_mm=[5, 0, 0])
        assert heard(one, "done") == {"tell": "done", "id": 7, "version": 2, "note": "", "pieces": ["high"]}
        assert heard(other, "state")["version"] == 2
        ask(other, "drag", 1, poses=[{"piece": "high", "at_mm": [200, 200, 90]}])
        assert heard(one, "dragged")["poses"][0]["at_mm"] == pytest.approx([200, 200, 90], abs=1e-6)
        # both windows move the same piece: the later one is told, and shown what there is
        ask(other, "move", 8, 1, pieces=["high"], by_mm=[0, 0, 1])
        assert heard(other, "state")["version"] == 2
        assert "another window" in heard(other, "refused")["reason"]
        # another piece fits
        ask(other, "move", 9, 1, pieces=["low"], by_mm=[0, 1, 0])
        assert heard(other, "done")["version"] == 3
        assert heard(one, "state")["undo"] == "move low"
    assert session.laid.scene.piece_named("high").at_mm == (215.0, 205.0, 60.0)


def test_a_window_that_comes_back_needs_to_ask_for_nothing(client: TestClient, session: Session) -> None:
    with client.websocket_connect(SOCKET) as window:
        heard(window, "state")
    session.judged = True
    session.move(["high"], (1.0, 0.0, 0.0))
    assert session.wait(120, "verdict")
    with client.websocket_connect(SOCKET) as window:
        assert heard(window, "state")["version"] == 2
        verdict = heard(window, "verdict")
        assert (verdict["version"], verdict["verdict"], verdict["complete"]) == (2, "falls", True)


def test_rubbish_is_refused_and_the_window_goes_on(client: TestClient) -> None:
    with client.websocket_connect(SOCKET) as window:
        heard(window, "state")
        for text in ("", "{}", "[[[[", '{"do": "move"}', '{"do": "save_as", "id": 4, "name": "../../x"}'):
            window.send_text(text)
            assert heard(window, "refused")["reason"]
        ask(window, "hide", 5, pieces=["low"])
        assert heard(window, "done")["id"] == 5


def test_a_mesh_is_what_the_protocol_says(client: TestClient, session: Session) -> None:
    piece = session.state().pieces[0]
    answer = client.get(f"/mesh/{piece.mesh}")
    assert "immutable" in answer.headers["cache-control"]
    data = answer.content
    (size,) = struct.unpack_from("<I", data)
    header = json.loads(data[4 : 4 + size])
    points, faces = header["vertices"], header["triangles"]
    assert size % 4 == 0
    assert len(data) == 4 + size + points * (12 + 12 + 4) + faces * 12
    at = 4 + size
    vertices = np.frombuffer(data, "<f4", points * 3, at).reshape(-1, 3)
    normals = np.frombuffer(data, "<f4", points * 3, at + 12 * points).reshape(-1, 3)
    corners = np.frombuffer(data, "<u4", faces * 3, at + 28 * points).reshape(-1, 3)
    np.testing.assert_allclose(np.ptp(vertices, axis=0), [120.0, 90.0, 40.0], atol=1.0)
    np.testing.assert_allclose(np.linalg.norm(normals, axis=1), 1.0, atol=1e-3)
    assert corners.max() < points
    assert client.get("/mesh/nothing").status_code == 404
    thumb = client.get(f"/thumb/{piece.mesh}.png")
    assert Image.open(io.BytesIO(thumb.content)).size == (256, 192)


def stl(size_mm: tuple[float, float, float]) -> bytes:
    data = trimesh.creation.box(size_mm).export(file_type="stl")
    assert isinstance(data, bytes)
    return data


def test_a_scan_comes_in_with_a_report(client: TestClient, session: Session) -> None:
    answer = client.post("/scan?name=Grey%20stone.STL&units=mm&rock=granite", content=stl((100, 60, 40)))
    assert answer.status_code == 200, answer.text
    report = answer.json()
    assert report["piece"] == "Grey_stone"
    assert report["size_mm"] == pytest.approx([100, 60, 40])
    assert report["volume_ml"] == pytest.approx(240.0)
    entry = session.laid.scene.piece_named("Grey_stone")
    assert (session.keeping.file.parent / str(entry.mesh)).is_file()
    assert client.get(f"/mesh/{report['mesh']}").status_code == 200
    again = client.post("/scan?name=Grey%20stone.stl&units=mm&rock=granite&place=0", content=stl((90, 60, 40)))
    assert again.json()["piece"] is None
    assert session.desk.shelf[0].item == again.json()["item"] != "Grey_stone"
    session.save()
    assert read_scene(session.keeping.file).piece_named("Grey_stone").rock == "granite"


@pytest.mark.parametrize(
    ("query", "body", "status", "words"),
    [
        ("name=a.exe", b"MZ", 422, "no kind of scan"),
        ("name=a.gltf", b"{}", 422, "no kind of scan"),
        ("", b"x", 422, "no kind of scan"),
        ("name=a.stl&rock=slate", b"", 422, "empty"),
        ("name=a.stl&rock=slate", b"no mesh at all", 422, "a.stl"),
        ("name=a.ply&rock=slate", b"ply\nformat ascii 1.0\nelement vertex 999999999\n", 422, "a.ply"),
        ("name=a.stl&units=mm&rock=gorgonzola", "box", 422, "gorgonzola"),
        ("name=a.stl&units=mm&mass_kg=heavy", "box", 422, "no number"),
        ("name=a.stl&units=mm", "box", 422, "how heavy"),
    ],
)
def test_a_bad_upload_is_refused_in_words(
    client: TestClient, session: Session, query: str, body: bytes | str, status: int, words: str
) -> None:
    before = session.text
    content = stl((100, 60, 40)) if isinstance(body, str) else body
    answer = client.post(f"/scan?{query}", content=content)
    assert answer.status_code == status, answer.text
    problem = answer.json()["problem"]
    assert words in problem
    assert "/tmp" not in problem, "a path of this machine is nobody's business"
    assert session.text == before
    assert not (session.keeping.file.parent / "small_stones").exists()


def test_a_size_that_tells_no_units_asks(client: TestClient) -> None:
    answer = client.post("/scan?name=a.stl&rock=slate", content=stl((3.0, 2.0, 1.5)))
    if answer.status_code == 422:
        assert answer.json()["candidates"]
    else:  # it says then why it took the units that it took
        assert answer.json()["units_because"]


def test_an_upload_over_the_limit_is_cut_off(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(receiving, "BYTES_PER_MB", 10)
    assert client.post("/scan?name=a.stl", content=b"x" * 3000).status_code == 413

    def parts() -> Iterator[bytes]:  # sent piece by piece, without a length
        for _ in range(50):
            yield b"x" * 100

    assert client.post("/scan?name=a.stl", content=parts()).status_code == 413
    assert client.post("/concept?name=a.png", content=b"x" * 3000).status_code == 413


HOSTILE = [
    "../../../etc/cron.d/x.stl",
    "..\\..\\windows\\x.stl",
    "/etc/passwd.stl",
    "<img src=x onerror=alert(1)>.stl",
    "a\x00b.stl",
    "nul\n\r\tline.stl",
    "x" * 3000 + ".stl",
    "'; DROP TABLE pieces;--.stl",
    "\u202egnp.stl",
]


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_name_is_only_a_word(client: TestClient, session: Session, name: str) -> None:
    folder = session.keeping.file.parent
    answer = client.post("/scan", params={"name": name, "units": "mm", "rock": "slate"}, content=stl((100, 60, 40)))
    assert answer.status_code == 200, answer.text
    piece = answer.json()["piece"]
    assert piece.isascii()
    assert piece.replace("_", "").replace("-", "").isalnum()
    made = {path.relative_to(folder).as_posix() for path in folder.rglob("*.ply")}
    assert made == {f"small_stones/{piece}.ply", f"small_stones/{piece}.display.ply"}
    assert "\x00" not in session.text


def test_a_concept_picture_is_written_anew(client: TestClient, session: Session) -> None:
    stream = io.BytesIO()
    Image.new("RGB", (40, 30), (200, 10, 10)).save(stream, "JPEG", comment=b"<script>")
    assert client.get("/concept").status_code == 404
    assert client.post("/concept?name=../../x.html", content=stream.getvalue()).status_code == 200
    assert session.laid.scene.photo.concept == "small_concept.png"
    shown = client.get("/concept")
    assert shown.headers["content-type"] == "image/png"
    assert b"<script>" not in shown.content
    assert client.post("/concept?name=x.png", content=b"<svg onload=alert(1)>").status_code == 422


def test_everything_is_in_the_export(client: TestClient, session: Session, monkeypatch: pytest.MonkeyPatch) -> None:
    # pictures of full size take half a minute, and the browser downloads them
    monkeypatch.setattr(exporting, "SHOT_PX", 120)
    for draws in ("margin_picture", "draw_scene"):
        monkeypatch.setattr(exporting, draws, partial(getattr(exporting, draws), size_px=(120, 80)))
    assert client.post("/scan?name=extra.stl&units=mm&rock=granite", content=stl((100, 60, 40))).status_code == 200
    session.set_down(["low", "beside", "high", "extra"])
    glb = client.get("/scene.glb")
    scene = trimesh.load(io.BytesIO(glb.content), file_type="glb")
    assert isinstance(scene, trimesh.Scene)
    assert {"low", "beside", "high", "extra"} <= set(scene.graph.nodes_geometry)
    box = scene.bounds  # metres, y up, z to the front
    assert 0.0 <= box[0][0] < box[1][0] <= 0.6
    assert 0.0 <= box[0][1] < box[1][1] < 0.2
    assert -0.4 <= box[0][2] < box[1][2] <= 0.0
    answer = client.get("/export.zip")
    assert answer.status_code == 200
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        names = set(archive.namelist())
        archive.extractall(session.keeping.file.parent / "unpacked")
    assert {"scene.toml", "scene.glb", "report.txt", "report.json", "margins.png", "loads.png", "tank.png"} <= names
    assert {"shot_dry.png", "shot_flooded.png", "meshes/extra.ply"} <= names
    unpacked = read_scene(session.keeping.file.parent / "unpacked" / "scene.toml")
    assert [entry.at_mm for entry in unpacked.piece] == [entry.at_mm for entry in session.laid.scene.piece]


# --- a real process ---


def started(scene: Path, *options: str) -> tuple[subprocess.Popen[str], int]:
    """The command as a user starts it, and its port."""
    environment = {**os.environ, "PYTHONUNBUFFERED": "1"}
    code = "import sim.yard.server as s, sim.cli.open as o; " + (
        "from pathlib import Path; s.PAGE = Path(sys.argv.pop(1)); from sim.cli import main; main()"
    )
    process = subprocess.Popen(
        [sys.executable, "-c", f"import sys; {code}", str(scene.parent / "page"), "open", str(scene), *options],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        cwd=scene.parent,  # not where the sources are: they would be imported, and compiled, instead
        env=environment,
    )
    assert process.stdout is not None
    ends = time.monotonic() + SLOW_START_S
    while time.monotonic() < ends:
        line = process.stdout.readline()
        if "http://127.0.0.1:" in line:
            return process, int(line.split("http://127.0.0.1:")[1].split("/")[0])
        if not line and process.poll() is not None:
            break
    ended(process, signal.SIGKILL)
    raise AssertionError("the server did not start")


def ended(process: subprocess.Popen[str], by: signal.Signals) -> None:
    """Send a signal and wait for the end."""
    process.send_signal(by)
    process.wait(30)
    assert process.stdout is not None
    process.stdout.close()


@pytest.fixture
def installed(page: Path) -> Path:
    build = page / "vendor" / "three" / "build"
    build.mkdir()
    (build / "three.module.js").write_text("export {};")
    return page


async def talk(port: int, *commands: dict[str, object]) -> list[dict[str, Any]]:
    """Send commands through a real socket; each one's answer and the states told meanwhile."""
    found = []
    async with websockets.connect(f"ws://127.0.0.1:{port}/socket", max_size=None) as window:
        found.append(json.loads(await window.recv()))
        for number, one in enumerate(commands):
            await window.send(json.dumps({"id": number, "on": None, **one}))
            while True:
                told = json.loads(await asyncio.wait_for(window.recv(), 60))
                found.append(told)
                if told["tell"] in ("done", "refused"):
                    break
    return found


def test_killed_during_an_edit_nothing_that_was_answered_is_lost(tmp_path: Path, installed: Path) -> None:
    assert installed.is_dir()
    scene = small_scene(tmp_path)
    original = scene.read_text()
    process, port = started(scene, "--no-browser")
    told = asyncio.run(
        talk(
            port,
            {"do": "move", "pieces": ["high"], "by_mm": [3, 0, 0]},
            {"do": "hide", "pieces": ["low"]},
            {"do": "move", "pieces": ["beside"], "by_mm": [0, 4, 0]},
        )
    )
    assert [one["tell"] for one in told].count("done") == 3
    present = httpx.get(f"http://127.0.0.1:{port}/scene.toml").text
    ended(process, signal.SIGKILL)
    with journal_path(scene).open("ab") as stream:
        stream.write(b'{"did": "move high", "splice": [3')  # what was being written when it died
    assert scene.read_text() == original

    process, port = started(scene, "--no-browser")
    try:
        assert httpx.get(f"http://127.0.0.1:{port}/scene.toml").text == present
        (state, *_) = asyncio.run(talk(port))
        assert state["undo"] == "move beside"
        assert not state["saved"]
        assert [piece["hidden"] for piece in state["pieces"]] == [True, False, False]
        told = asyncio.run(talk(port, {"do": "undo"}, {"do": "undo"}, {"do": "undo"}))
        assert told[-1]["tell"] == "done"
        assert httpx.get(f"http://127.0.0.1:{port}/scene.toml").text == original
    finally:
        ended(process, signal.SIGINT)


def test_a_port_that_is_taken_is_named(tmp_path: Path, installed: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(server, "PAGE", installed)
    with contextlib.closing(server.listen(0)) as taken:
        port = taken.getsockname()[1]
        result = CliRunner().invoke(
            command, ["open", str(small_scene(tmp_path)), "--no-browser", "--port", str(port)], standalone_mode=False
        )
    assert result.return_value == 2 or result.exit_code == 2
    assert f"Port {port} is taken" in result.output


def test_without_three_js_it_says_what_to_do(tmp_path: Path, page: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(server, "PAGE", page)
    result = CliRunner().invoke(command, ["open", str(small_scene(tmp_path)), "--no-browser"])
    assert result.exit_code == 2
    assert "pip install" in result.output
    assert not journal_path(tmp_path / "small.toml").exists()


def test_upload_kinds_are_all_readable() -> None:
    assert all(importing.kind_of(f"x{ending.upper()}") == ending for ending in importing.KINDS)
