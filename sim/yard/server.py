"""The yard's server: the page, one websocket, meshes and uploads, for this computer only.

app = application(session, port)      an ASGI application
serve(session, port, ...)             runs it on 127.0.0.1 until it is stopped
"""

from __future__ import annotations

import asyncio
import contextlib
import socket
import sys
import threading
from collections import deque
from collections.abc import Callable
from pathlib import Path
from typing import Any

import anyio
import uvicorn
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response
from starlette.routing import Mount, Route, WebSocketRoute
from starlette.websockets import WebSocket, WebSocketDisconnect

from sim.errors import BedjointError, UnitsQuestion
from sim.yard.commands import OldVersion, carry_out
from sim.yard.exporting import export_zip, scene_glb
from sim.yard.guarding import LOOPBACK, Guard
from sim.yard.importing import (
    LARGEST_MB,
    LARGEST_PICTURE_MB,
    import_scan,
    kind_of,
    options_of,
    receiving_folder,
    set_concept,
)
from sim.yard.protocol import Drag, Problem, Refused
from sim.yard.receiving import FRESH, Page, TooLarge, received
from sim.yard.session import Session
from sim.yard.windows import Window, Windows
from sim.yard.wire import Asked, WireError, plain, read_command

PAGE = Path(__file__).parent / "page"
FOREVER = {"cache-control": "public, max-age=31536000, immutable"}
MOST_COMMANDS = 200  # that one window may have waiting
SWITCH_S = 0.5e-3  # between threads: judges at work keep a window waiting ten times as long with Python's own 5 ms


Waiting = deque[Asked | WireError]


def application(session: Session, port: int, page: Path = PAGE) -> Guard:
    """The application for one session, reached as 127.0.0.1 or localhost at `port`."""
    yard = _Yard(session, page)
    vendor = page / "vendor"
    routes = [
        Route("/", yard.index),
        WebSocketRoute("/socket", yard.socket),
        Route("/mesh/{key}", yard.mesh),
        Route("/thumb/{key}.png", yard.thumb),
        Route("/shot/{key}.png", yard.shot),
        Route("/concept", yard.concept, methods=["GET"]),
        Route("/concept", yard.upload_concept, methods=["POST"]),
        Route("/scan", yard.upload_scan, methods=["POST"]),
        Route("/scene.toml", yard.scene_toml),
        Route("/scene.glb", yard.scene_glb),
        Route("/export.zip", yard.export),
        Mount("/vendor", Page(directory=vendor, check_dir=False)),
        Mount("/page", Page(directory=page, check_dir=False)),
    ]
    return Guard(Starlette(routes=routes), port, page / "index.html")


def serve(session: Session, port: int, started: Callable[[int], None], page: Path = PAGE) -> None:
    """Serve a session on 127.0.0.1 until the process is told to end.

    Parameters
    ----------
    port : 0 takes a free one
    started : called with the port once the server listens

    Raises
    ------
    BedjointError
        When the port is taken.
    """
    listening = listen(port)
    port = listening.getsockname()[1]
    config = uvicorn.Config(
        application(session, port, page),
        log_level="warning",
        ws="websockets-sansio",
        ws_max_size=2_000_000,
        server_header=False,
        timeout_graceful_shutdown=2,
    )
    sys.setswitchinterval(SWITCH_S)
    threading.Thread(target=session.meshes.ahead, name="yard meshes", daemon=True).start()
    started(port)
    uvicorn.Server(config).run(sockets=[listening])


def listen(port: int) -> socket.socket:
    """A socket on the loopback address alone."""
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((LOOPBACK, port))
    except OSError as error:
        listening.close()
        raise BedjointError(f"Port {port} is taken ({error.strerror}). Give another one with --port, or 0.") from error
    listening.listen(64)
    return listening


class _Yard:
    """What the routes answer."""

    def __init__(self, session: Session, page: Path) -> None:
        self.session, self.page = session, page
        self.windows = Windows()
        self.one_at_a_time = asyncio.Semaphore(1)  # a scan may take all the memory that there is
        session.listeners.append(self.windows.say)

    # --- the socket ---

    async def socket(self, connection: WebSocket) -> None:
        """One window, until it goes."""
        await connection.accept()
        window = self.windows.open()
        try:
            for telling in await anyio.to_thread.run_sync(self._welcome):
                window.say(telling)
            waiting: Waiting = deque()
            there = asyncio.Event()
            tasks = [
                asyncio.create_task(self._tell(connection, window)),
                asyncio.create_task(self._work(window, waiting, there)),
                asyncio.create_task(_hear(connection, waiting, there)),
            ]
            _, others = await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
            for task in others:
                task.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)
        finally:
            self.windows.close(window)
            with contextlib.suppress(RuntimeError, WebSocketDisconnect):  # gone already
                await connection.close()

    def _welcome(self) -> list[Any]:
        with self.session.lock:
            return [self.session.state(), *self.session.background.last()]

    async def _tell(self, connection: WebSocket, window: Window) -> None:
        while not window.behind:
            await connection.send_text(await window.next())

    async def _work(self, window: Window, waiting: Waiting, there: asyncio.Event) -> None:
        """Carry out commands one after another."""
        while True:
            while not waiting:
                there.clear()
                await there.wait()
            asked = waiting.popleft()
            if isinstance(asked, WireError):
                window.say(Refused(None, str(asked)))
            else:
                await anyio.to_thread.run_sync(self._carry_out, window, asked)

    def _carry_out(self, window: Window, asked: Asked) -> None:
        try:
            done = carry_out(self.session, asked)
        except OldVersion as error:
            self.windows.say_to(window, self.session.state())
            self.windows.say_to(window, Refused(asked.id, str(error)))
        except BedjointError as error:
            self.windows.say_to(window, Refused(asked.id, str(error)))
        else:
            if done is not None:
                self.windows.say_to(window, done)

    # --- files ---

    async def index(self, _: Request) -> Response:
        """The page itself."""
        page = self.page / "index.html"
        if not page.is_file():
            return Response("The page is not installed.", 503)
        return FileResponse(page, headers=FRESH)

    async def mesh(self, request: Request) -> Response:
        """A display mesh."""
        made = self.session.meshes.made(request.path_params["key"])
        if made is not None:
            return Response(made, media_type="application/octet-stream", headers=FOREVER)
        return await _made(self.session.meshes.blob, request, "application/octet-stream")

    async def thumb(self, request: Request) -> Response:
        """A picture for the shelf."""
        return await _made(self.session.meshes.thumb, request, "image/png")

    async def shot(self, request: Request) -> Response:
        """One of the last shots."""
        return await _made(self.session.background.shots.png, request, "image/png")

    async def concept(self, _: Request) -> Response:
        """The concept picture that the scene names."""
        scene = self.session.laid.scene
        picture = None if scene.photo.concept is None else scene.folder / scene.photo.concept
        if picture is None or picture.suffix.lower() not in (".png", ".jpg", ".jpeg") or not picture.is_file():
            return Response("The scene has no concept picture.", 404)
        return FileResponse(picture, headers=FRESH)

    async def scene_toml(self, _: Request) -> Response:
        """The scene as it is."""
        name = {"content-disposition": f'attachment; filename="{_ascii(self.session.keeping.file.name)}"', **FRESH}
        return Response(self.session.text, media_type="text/plain; charset=utf-8", headers=name)

    async def scene_glb(self, _: Request) -> Response:
        """The pieces as glTF."""
        laid = self.session.laid
        return await self._download("scene.glb", "model/gltf-binary", lambda: scene_glb(laid.scene, laid.pieces))

    async def export(self, _: Request) -> Response:
        """Everything in one archive."""
        return await self._download("scene.zip", "application/zip", lambda: export_zip(self.session))

    async def _download(self, name: str, kind: str, make: Callable[[], bytes]) -> Response:
        try:
            data = await anyio.to_thread.run_sync(make)
        except (BedjointError, OSError) as error:
            return _problem(error)
        stem = _ascii(self.session.keeping.file.stem)
        headers = {"content-disposition": f'attachment; filename="{stem}{Path(name).suffix}"', **FRESH}
        return Response(data, media_type=kind, headers=headers)

    # --- uploads ---

    async def upload_scan(self, request: Request) -> Response:
        """A scan becomes a piece."""
        name = request.query_params.get("name", "")
        place = request.query_params.get("place", "1") != "0"
        try:
            ending, options = kind_of(name), options_of(request.query_params)
            with receiving_folder() as folder:
                data = Path(folder) / f"scan{ending}"
                await received(request, data, LARGEST_MB)
                work = lambda: import_scan(self.session, name, data, options, place)  # noqa: E731
                async with self.one_at_a_time:
                    return JSONResponse(plain(await anyio.to_thread.run_sync(work)))
        except BedjointError as error:
            return _problem(error)

    async def upload_concept(self, request: Request) -> Response:
        """A picture to lay over the shot."""
        try:
            with receiving_folder() as folder:
                data = Path(folder) / "picture"
                await received(request, data, LARGEST_PICTURE_MB)
                work = lambda: set_concept(self.session, data.read_bytes())  # noqa: E731
                return JSONResponse({"version": await anyio.to_thread.run_sync(work)})
        except BedjointError as error:
            return _problem(error)


async def _hear(connection: WebSocket, waiting: Waiting, there: asyncio.Event) -> None:
    """Take in what a window sends; of drags in a row only the last one counts."""
    with contextlib.suppress(WebSocketDisconnect, KeyError):  # KeyError: bytes instead of a text
        while len(waiting) < MOST_COMMANDS:
            asked = _read(await connection.receive_text())
            if _is_drag(asked) and waiting and _is_drag(waiting[-1]):
                waiting.pop()
            waiting.append(asked)
            there.set()


def _read(text: str) -> Asked | WireError:
    try:
        return read_command(text)
    except WireError as error:
        return error


def _is_drag(asked: Asked | WireError) -> bool:
    return isinstance(asked, Asked) and isinstance(asked.command, Drag)


async def _made(make: Callable[[str], bytes], request: Request, kind: str) -> Response:
    try:
        data = await anyio.to_thread.run_sync(make, request.path_params["key"])
    except KeyError:
        return Response("Nothing has this key.", 404)
    return Response(data, media_type=kind, headers=FOREVER)


def _problem(error: Exception) -> Response:
    candidates = error.candidates if isinstance(error, UnitsQuestion) else {}
    status = 413 if isinstance(error, TooLarge) else 422
    return JSONResponse(plain(Problem(str(error), candidates)), status)


def _ascii(name: str) -> str:
    return "".join(sign if sign.isascii() and (sign.isalnum() or sign in "._- ") else "_" for sign in name)
