"""Bodies of uploads, up to a limit, and files of the page."""

from __future__ import annotations

from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.staticfiles import StaticFiles

from sim.errors import BedjointError

FRESH = {"cache-control": "no-cache"}
BYTES_PER_MB = 1_000_000


class TooLarge(BedjointError):
    """An upload over the limit."""


class Page(StaticFiles):
    """Files of the page, asked for anew each time: they change with the program."""

    def file_response(self, *args: Any, **kwargs: Any) -> Response:
        """One file."""
        response = super().file_response(*args, **kwargs)
        response.headers.update(FRESH)
        return response

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
