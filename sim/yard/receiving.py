"""Bodies of uploads, up to a limit, and files of the page."""

from __future__ import annotations

import mimetypes
import stat
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

from sim.errors import BedjointError

FRESH = {"cache-control": "no-cache"}
BYTES_PER_MB = 1_000_000


class TooLarge(BedjointError):
    """An upload over the limit."""


class Page(StaticFiles):
    """Files of the page, asked for anew each time: they change with the program.

    They are small and few, and are answered from memory by the thread that listens: reading them in other threads, as
    is done otherwise, makes each of thirty scripts wait several times for judges at work.
    """

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._read: dict[str, tuple[str, bytes]] = {}  # tag and content by path

    async def get_response(self, path: str, scope: Scope) -> Response:
        """One file, or only that it is still the same."""
        if scope["method"] not in ("GET", "HEAD"):
            raise HTTPException(405)
        found, there = self.lookup_path(path)
        if there is None or not stat.S_ISREG(there.st_mode):
            raise HTTPException(404)
        tag = f'"{there.st_mtime_ns:x}-{there.st_size:x}"'
        headers = {"etag": tag, **FRESH}
        if Request(scope).headers.get("if-none-match") == tag:
            return Response(status_code=304, headers=headers)
        if self._read.get(found, ("", b""))[0] != tag:
            self._read[found] = (tag, Path(found).read_bytes())
        kind = mimetypes.guess_type(found)[0] or "application/octet-stream"
        return Response(self._read[found][1], media_type=kind, headers=headers)

    def lookup_path(self, path: str) -> Any:
        """Hidden files and folders above are not there."""
        if any(part.startswith(".") for part in Path(path).parts):
            return "", None
        return super().lookup_path(path)


async def received(request: Request, target: Path, most_mb: int) -> None:
    """Write the body of an upload to a file, and stop where it grows too large."""
    size, most = 0, most_mb * BYTES_PER_MB
    stated = request.headers.get("content-length", "0")
    too_large = TooLarge(f"The file is over {most_mb} MB. Reduce it in the scanning program first.")
    if stated.isdigit() and int(stated) > most:
        raise too_large
    with target.open("wb") as stream:
        async for part in _parts(request):
            size += len(part)
            if size > most:
                raise too_large
            stream.write(part)
    if not size:
        raise BedjointError("The file is empty.")


async def _parts(request: Request) -> AsyncIterator[bytes]:
    async for part in request.stream():
        yield part
