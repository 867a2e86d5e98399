"""Everything that can be undone: the text of the scene, and what lies on the desk beside it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

MOST_CHANGES = 1000  # that can be taken back


@dataclass(frozen=True, slots=True)
class ShelfEntry:
    """A stone at hand: the keys of a scene's piece apart from its place."""

    item: str
    keys: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Desk:
    """What belongs to the work and not to the scene."""

    hidden: frozenset[str] = frozenset()
    locked: frozenset[str] = frozenset()
    shelf: tuple[ShelfEntry, ...] = ()

    def without(self, gone: set[str]) -> Desk:
        """The same for a scene that some pieces have left."""
        return Desk(self.hidden - gone, self.locked - gone, self.shelf)

    def as_plain(self) -> dict[str, Any]:
        """For the journal."""
        shelf = [{"item": one.item, "keys": dict(one.keys)} for one in self.shelf]
        return {"hidden": sorted(self.hidden), "locked": sorted(self.locked), "shelf": shelf}

    @staticmethod
    def of_plain(table: Mapping[str, Any]) -> Desk:
        """From the journal."""
        shelf = tuple(ShelfEntry(str(one["item"]), dict(one["keys"])) for one in table["shelf"])
        return Desk(frozenset(table["hidden"]), frozenset(table["locked"]), shelf)


@dataclass(frozen=True, slots=True)
class Moment:
    """All that undo and redo bring back."""

    text: str
    desk: Desk


@dataclass(frozen=True, slots=True)
class Change:
    """One step of the history; `what` is said in the menu: "move lintel"."""

    what: str
    before: Moment
    after: Moment


@dataclass(slots=True)
class History:
    """What was done and what was taken back."""

    now: Moment
    done: list[Change] = field(default_factory=list)
    undone: list[Change] = field(default_factory=list)

    def did(self, what: str, after: Moment) -> None:
        """Keep a change; what had been taken back is gone."""
        self.done.append(Change(what, self.now, after))
        del self.done[:-MOST_CHANGES]
        self.undone.clear()
        self.now = after

    def undo(self) -> Change | None:
        """Take the last change back, if there is one."""
        if not self.done:
            return None
        change = self.done.pop()
        self.undone.append(change)
        self.now = change.before
        return change

    def redo(self) -> Change | None:
        """Do again what was taken back last."""
        if not self.undone:
            return None
        change = self.undone.pop()
        self.done.append(change)
        self.now = change.after
        return change
