"""Writing files so that a reader never meets half of one."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path

from sim.errors import OutputError


def write_atomically(path: str | os.PathLike[str], content: str | bytes) -> None:
    """Write `content` to `path` completely or not at all.

    The bytes go to a temporary file in the same folder, reach the disk, and then
    replace `path` in one step. Missing parent folders are made.

    Raises
    ------
    OutputError
        When the folder is not writable, the disk is full or `path` is a folder.
    """
    target = Path(path)
    data = content.encode("utf-8") if isinstance(content, str) else content
    temporary = ""
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        handle, temporary = tempfile.mkstemp(prefix=f".{target.name}.", dir=target.parent)
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        Path(temporary).chmod(_mode_for(target))
        Path(temporary).replace(target)
        temporary = ""
    except OSError as error:
        reason = error.strerror or str(error)
        raise OutputError(
            f"{target}: cannot be written ({reason}). Choose another folder with -o, or free space there."
        ) from error
    finally:
        if temporary:
            with contextlib.suppress(OSError):
                Path(temporary).unlink()


def _mode_for(target: Path) -> int:
    """Keep an existing file's permissions; otherwise what the umask allows."""
    if target.exists():
        return target.stat().st_mode & 0o777
    umask = os.umask(0)
    os.umask(umask)
    return 0o666 & ~umask
