"""Results that take seconds, kept between runs under the hash of what they were made from.

The cache lies outside every project: in the folder of the environment variable BEDJOINT_CACHE, else in the
user's own cache folder. It is never needed: an entry that is missing, damaged or cannot be written only costs
the time to work it out again.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import os
import sys
import zipfile
from collections import OrderedDict
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Generic, TypeVar

import numpy as np
from numpy.typing import NDArray

from sim.errors import OutputError
from sim.files import write_atomically

_DIGEST_BYTES = 32  # of SHA-256, in front of each entry

Arrays = Mapping[str, NDArray[Any]]
Made = TypeVar("Made")


class Recent(Generic[Made]):
    """What was made for the last so many keys, in this process alone."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._made: OrderedDict[str, Made] = OrderedDict()

    def get(self, key: str, make: Callable[[], Made]) -> Made:
        """Find it again, or make it."""
        # taken out and put last again, so that no other thread can drop it in between
        made = self._made.pop(key, None)
        if made is None:
            made = make()
        self._made[key] = made
        if len(self._made) > self._most:
            self._made.popitem(last=False)
        return made


def cache_folder() -> Path | None:
    """Folder of the cache, which need not exist; None where this user has no home."""
    named = os.environ.get("BEDJOINT_CACHE")
    if named:
        return Path(named)
    if sys.platform == "win32":
        local = os.environ.get("LOCALAPPDATA")
        return Path(local) / "bedjoint" / "cache" if local else None
    shared = os.environ.get("XDG_CACHE_HOME", "")
    if Path(shared).is_absolute():  # the standard has relative ones ignored
        return Path(shared) / "bedjoint"
    try:
        return Path.home() / ".cache" / "bedjoint"
    except RuntimeError:
        return None


def recall(kind: str, key: str) -> dict[str, NDArray[Any]] | None:
    """Arrays kept under `kind` and `key`, or None when there are none that can be trusted."""
    folder = cache_folder()
    if folder is None:
        return None
    try:
        data = _entry(folder, kind, key).read_bytes()
        digest, content = data[:_DIGEST_BYTES], data[_DIGEST_BYTES:]
        if hashlib.sha256(content).digest() != digest:
            return None
        with np.load(io.BytesIO(content), allow_pickle=False) as arrays:
            return {name: arrays[name] for name in arrays.files}
    except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile):
        return None


def keep(kind: str, key: str, arrays: Arrays) -> None:
    """Keep arrays under `kind` and `key`; where that is impossible, do nothing."""
    folder = cache_folder()
    if folder is None:
        return
    stream = io.BytesIO()
    np.savez_compressed(stream, **dict(arrays))  # type: ignore[arg-type]  # the stubs take any keyword for its flag
    content = stream.getvalue()
    with contextlib.suppress(OutputError, OSError):
        write_atomically(_entry(folder, kind, key), hashlib.sha256(content).digest() + content)


def _entry(folder: Path, kind: str, key: str) -> Path:
    return folder / kind / key[:2] / f"{key}.npz"
