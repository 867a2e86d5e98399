"""Who may talk to the yard: this computer's own page, and nobody else.

The server listens on 127.0.0.1 only. A page of some other site, open in the same browser, could still send requests
there: by a name of its own that it lets point to 127.0.0.1, or straight across origins. So each request must be
addressed to this very host and port, and where a browser says which page sent it, that must be our own.
"""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Iterable, MutableMapping
from pathlib import Path
from typing import Any

from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LOOPBACK = "127.0.0.1"
_IMPORT_MAP = re.compile(r'<script[^>]*type="importmap"[^>]*>(.*?)</script>', re.DOTALL)


class Guard:
    """Lets through what is addressed to this host and comes from its own page, and sends safe headers along."""

    def __init__(self, app: ASGIApp, port: int, page: Path) -> None:
        self.app = app
        self.hosts = {f"{LOOPBACK}:{port}", f"localhost:{port}"}
        self.origins = {f"http://{host}" for host in self.hosts}
        self.page = page

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        reason = self._refuses(scope)
        if reason and scope["type"] == "websocket":
            await receive()
            await send({"type": "websocket.close", "code": 1008, "reason": reason})
        elif reason:
            await PlainTextResponse(reason, 403)(scope, receive, send)
        else:
            await self.app(scope, receive, self._with_headers(send))

    def _refuses(self, scope: Scope) -> str:
        """Why a request is not let through, or nothing."""
        headers = _headers(scope["headers"])
        if headers.get("host", "") not in self.hosts:
            return "This page is only for this computer."
        origin = headers.get("origin")
        if origin is not None and origin not in self.origins:
            return "Only the yard's own page may do this."
        if headers.get("sec-fetch-site") == "cross-site" and headers.get("sec-fetch-mode") != "navigate":
            return "Only the yard's own page may do this."
        return ""

    def _with_headers(self, send: Send) -> Send:
        async def sending(message: Message) -> None:
            if message["type"] == "http.response.start":
                _add(message, self._safe_headers())
            await send(message)

        return sending

    def _safe_headers(self) -> dict[str, str]:
        sockets = " ".join(sorted(f"ws://{host}" for host in self.hosts))
        scripts = " ".join(["'self'", *_import_map_hashes(self.page)])
        return {
            "content-security-policy": (
                f"default-src 'self'; script-src {scripts}; style-src 'self' 'unsafe-inline'; "
                f"img-src 'self' blob: data:; connect-src 'self' {sockets}; object-src 'none'; base-uri 'none'; "
                "frame-ancestors 'none'; form-action 'none'"
            ),
            "x-content-type-options": "nosniff",
            "referrer-policy": "no-referrer",
            "cross-origin-resource-policy": "same-origin",
        }


def _headers(raw: Iterable[tuple[bytes, bytes]]) -> dict[str, str]:
    return {name.decode("latin-1").lower(): value.decode("latin-1") for name, value in raw}


def _add(message: MutableMapping[str, Any], headers: dict[str, str]) -> None:
    message["headers"] = [*message.get("headers", []), *((k.encode(), v.encode()) for k, v in headers.items())]


def _import_map_hashes(page: Path) -> list[str]:
    """An import map stands inside the page: a browser runs it only if it is named by its hash."""
    try:
        text = page.read_text(encoding="utf-8")
    except OSError:
        return []
    found = (hashlib.sha256(body.encode()).digest() for body in _IMPORT_MAP.findall(text))
    return [f"'sha256-{base64.b64encode(digest).decode()}'" for digest in found]
