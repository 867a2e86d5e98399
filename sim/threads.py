"""Threads for work that runs outside of Python's lock for the most part."""

from __future__ import annotations

import os
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager


@contextmanager
def threads(count: int | None = None) -> Iterator[ThreadPoolExecutor]:
    """So many threads, or one per core; at the end, an error or an interrupt what they have not begun is dropped."""
    pool = ThreadPoolExecutor(count or os.cpu_count() or 1)
    try:
        yield pool
    finally:
        pool.shutdown(cancel_futures=True)
