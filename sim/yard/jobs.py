"""Work in the background: only the newest request counts, and older ones end as soon as they notice."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from functools import partial

from sim.errors import BedjointError

Outdated = Callable[[], bool]
Work = Callable[[Outdated], None]

log = logging.getLogger(__name__)


class GivenUp(Exception):
    """Work that has become needless."""


class Latest:
    """One thread that takes up the newest request; a request replaces one that waits or is under way."""

    def __init__(self, name: str, failed: Callable[[str], None]) -> None:
        self._failed = failed
        self._change = threading.Condition()
        self._waiting: Work | None = None
        self._ticket = 0
        self._busy = self._closed = False
        self._thread = threading.Thread(target=self._run, name=name, daemon=True)
        self._thread.start()

    def ask(self, work: Work) -> None:
        """Do this next, and give up whatever else was asked for."""
        with self._change:
            self._waiting = work
            self._ticket += 1
            self._change.notify_all()

    def stop(self) -> bool:
        """Give up what is under way or waits; whether there was anything."""
        with self._change:
            there = self._busy or self._waiting is not None
            self._waiting = None
            self._ticket += 1
            return there

    def wait(self, seconds: float) -> bool:
        """Wait until nothing is left to do; whether that came about in time."""
        with self._change:
            return self._change.wait_for(lambda: not self._busy and self._waiting is None, seconds)

    def close(self, seconds: float = 2.0) -> None:
        """Give up everything and end the thread."""
        self.stop()
        with self._change:
            self._closed = True
            self._change.notify_all()
        self._thread.join(seconds)

    def _outdated(self, ticket: int) -> bool:
        return self._ticket != ticket

    def _run(self) -> None:
        while True:
            with self._change:
                self._change.wait_for(lambda: self._waiting is not None or self._closed)
                if self._closed:
                    return
                work, self._waiting, self._busy = self._waiting, None, True
                ticket = self._ticket
            assert work is not None, "the wait above ends with work or closed"
            try:
                work(partial(self._outdated, ticket))
            except GivenUp:
                pass
            except BedjointError as error:
                self._failed(str(error))
            except Exception as error:
                log.exception("work in the background failed")
                self._failed(f"an error in the program ({type(error).__name__}: {error}). Please report it.")
            finally:
                with self._change:
                    self._busy = False
                    self._change.notify_all()
