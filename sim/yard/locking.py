"""One yard per scene: a lock that the system takes back by itself when its owner dies."""

from __future__ import annotations

import contextlib
import os
import sys
from pathlib import Path


class Lock:
    """Holds a scene, if nobody else does. Where the folder cannot be written, nobody else can either."""

    def __init__(self, journal: Path) -> None:
        self.path = journal.with_name(f"{journal.name}.lock")
        self._handle: int | None = None
        self.held = self._take()

    def release(self) -> None:
        """Let go of it."""
        if self._handle is None:
            return
        with contextlib.suppress(OSError):
            self.path.unlink()
        os.close(self._handle)
        self._handle = None

    def _take(self) -> bool:
        try:
            handle = os.open(self.path, os.O_RDWR | os.O_CREAT, 0o600)
        except OSError:
            return True
        try:
            _lock(handle)
        except (BlockingIOError, PermissionError):
            os.close(handle)
            return False
        except OSError:  # a file system that knows no locks
            os.close(handle)
            return True
        self._handle = handle
        return True


if sys.platform == "win32":
    import msvcrt

    def _lock(handle: int) -> None:
        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)

else:
    import fcntl

    def _lock(handle: int) -> None:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
