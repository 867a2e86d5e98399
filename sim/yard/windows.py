"""Open windows: each has a queue of what it is yet to be told, and all are told the same."""

from __future__ import annotations

import asyncio
import contextlib
from collections import deque

from sim.yard.protocol import Dragged, Progress, State, Telling, VerdictTold
from sim.yard.wire import written

MOST_WAITING = 400  # a window that is so far behind is closed, and comes back with the whole state
NEWEST_COUNTS = (State, Dragged, Progress, VerdictTold)  # of what still waits, only the last one matters


class Window:
    """One connection."""

    def __init__(self) -> None:
        self._waiting: deque[Telling] = deque()
        self._there = asyncio.Event()
        self.behind = False

    def say(self, telling: Telling) -> None:
        """Put something into the queue; only from the loop's own thread."""
        if isinstance(telling, NEWEST_COUNTS) and self._waiting and type(self._waiting[-1]) is type(telling):
            self._waiting.pop()
        self._waiting.append(telling)
        self.behind = len(self._waiting) > MOST_WAITING
        self._there.set()

    async def next(self) -> str:
        """The next text for the page."""
        while not self._waiting:
            self._there.clear()
            await self._there.wait()
        return written(self._waiting.popleft())


class Windows:
    """All connections; may be told from any thread."""

    def __init__(self) -> None:
        self._windows: set[Window] = set()
        self._loop: asyncio.AbstractEventLoop | None = None

    def __len__(self) -> int:
        return len(self._windows)

    def open(self) -> Window:
        """A new window; from the loop's own thread."""
        self._loop = asyncio.get_running_loop()
        window = Window()
        self._windows.add(window)
        return window

    def close(self, window: Window) -> None:
        """A window that is gone."""
        self._windows.discard(window)

    def say(self, telling: Telling) -> None:
        """Tell all windows, from any thread."""
        if self._loop is not None:
            with contextlib.suppress(RuntimeError):  # the loop has ended
                self._loop.call_soon_threadsafe(self._say, telling)

    def say_to(self, window: Window, telling: Telling) -> None:
        """Tell one window, from any thread, behind what all were told before."""
        if self._loop is not None:
            with contextlib.suppress(RuntimeError):
                self._loop.call_soon_threadsafe(window.say, telling)

    def _say(self, telling: Telling) -> None:
        for window in self._windows:
            window.say(telling)
