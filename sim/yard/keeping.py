"""The scene file of a session and its journal: opening, recovering, saving."""

from __future__ import annotations

import logging
import re
from collections.abc import Callable
from pathlib import Path

from sim.errors import BedjointError, Fault, OutputError, SceneError
from sim.files import write_atomically
from sim.scene import parse_scene, read_scene
from sim.scene.read import read_text
from sim.yard.history import Desk, History, Moment
from sim.yard.journal import MOST_LINES, Journal, journal_path, replay
from sim.yard.locking import Lock

log = logging.getLogger(__name__)

Writing = Callable[[Journal], None]

PLAIN_NAME = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_ .-]{0,99}\.toml")
ENOUGH_KEPT = 20  # versions to compare with


class Keeping:
    """History, scene file and journal of one session."""

    def __init__(self, file: Path) -> None:
        """Open a scene, and bring back what a journal beside it holds.

        Raises
        ------
        SceneError
            When the scene cannot be read, or another yard has it open.
        """
        self.file = file
        self.notes: list[str] = []  # to be said once somebody looks
        read_scene(file)
        self._lock = Lock(journal_path(file))
        if not self._lock.held:
            problem = "is open in another yard"
            raise SceneError(str(file), [Fault("", problem, "Go to its page, or close it first.")])
        self.on_disk = self.opened = read_text(file)
        self.kept: dict[str, str] = {}
        self.history = History(Moment(self.on_disk, Desk()))
        self.journal: Journal | None = Journal(journal_path(file))
        self._recover()

    @property
    def now(self) -> Moment:
        """Text and desk as they are."""
        return self.history.now

    @property
    def saved(self) -> bool:
        """Whether the scene file has the present text."""
        return self.now.text == self.on_disk

    def did(self, what: str, after: Moment) -> None:
        """Keep a change, on the disk before anything else."""
        self._note(lambda journal: journal.did(what, self.now, after))
        self.history.did(what, after)

    def undo(self) -> str:
        """Take the last change back, and say which."""
        if not self.history.done:
            raise BedjointError("There is nothing to undo.")
        self._note(lambda journal: journal.undid())
        change = self.history.undo()
        assert change is not None, "there is one"
        return change.what

    def redo(self) -> str:
        """Do the change again that was taken back last, and say which."""
        if not self.history.undone:
            raise BedjointError("There is nothing to redo.")
        self._note(lambda journal: journal.redid())
        change = self.history.redo()
        assert change is not None, "there is one"
        return change.what

    def keep(self, name: str) -> None:
        """Remember the present version under a name."""
        name = name.strip()[:80]
        if not name or name in ("saved", "opened"):
            raise BedjointError("Give the version a name of its own.")
        if name not in self.kept and len(self.kept) >= ENOUGH_KEPT:
            del self.kept[next(iter(self.kept))]
        self.kept[name] = self.now.text
        self._note(lambda journal: journal.kept(name, self.now.text))

    def version_named(self, name: str) -> str:
        """The text of a version to compare with."""
        known = {"saved": self.on_disk, "opened": self.opened, **self.kept}
        if name not in known:
            raise BedjointError(f'No version is called "{name[:80]}". There are: {", ".join(known)}.')
        return known[name]

    def save(self) -> None:
        """Write the scene file.

        Raises
        ------
        OutputError
            When it cannot be written, or another program has changed it meanwhile.
        """
        self._write(self.file, theirs=self.on_disk)
        self.on_disk = self.now.text
        self._note(lambda journal: journal.saved())

    def save_as(self, name: str, replace: bool = False) -> None:
        """Write the scene into another file beside it, and go on with that one."""
        name = name.strip()
        name = name if name.endswith(".toml") else f"{name}.toml"
        if not PLAIN_NAME.fullmatch(name):
            raise BedjointError("Give a plain file name: letters, digits, blanks, _ - and dots, no folder.")
        target = self.file.with_name(name)
        if target == self.file:
            self.save()
            return
        if target.exists() and not replace:
            raise BedjointError(f"{name} is there already. Choose another name, or say that it may be replaced.")
        lock = Lock(journal_path(target))
        if not lock.held:
            raise BedjointError(f"{name} is open in another yard. Choose another name.")
        try:
            self._write(target, theirs=None)
        except OutputError:
            lock.release()
            raise
        self._forget_journal()
        self._lock.release()
        self._lock, self.file, self.on_disk = lock, target, self.now.text
        self.journal = Journal(journal_path(target))
        self._begin()

    def start_afresh(self) -> bool:
        """Leave what was recovered, whose pieces cannot be made any more, in a file by itself; False without any."""
        if self.saved:
            return False
        self._set_aside(self.now.text, "A piece of what was not saved last time cannot be made any more.")
        self.history = History(Moment(self.on_disk, self.now.desk))
        self._begin()
        return True

    def close(self) -> None:
        """End the session; what is not saved stays in the journal."""
        if self.saved and self.now.desk == Desk() and not self.kept:
            self._forget_journal()
        self._lock.release()

    def _write(self, target: Path, theirs: str | None) -> None:
        parse_scene(self.now.text, target)
        if theirs is not None and target.exists() and read_text(target) != theirs:
            raise OutputError(f"{target.name} was changed by another program. Save under another name, then compare.")
        write_atomically(target, self.now.text)

    def _recover(self) -> None:
        """Take up the journal of a session that has ended, or begin one."""
        assert self.journal is not None, "called while opening"
        found = replay(self.journal.path)
        if found is not None and found.on_disk != self.on_disk:
            if found.unsaved:
                self._set_aside(found.history.now.text, f"{self.file.name} was changed elsewhere since.")
            found = None
        if found is None or not self._usable(found.history.now.text):
            self._begin()
            return
        self.history, self.kept = found.history, found.kept
        if found.unsaved:
            count = len(self.history.done)
            self.notes.append(f"What was not saved last time is back ({count} changes can be undone).")
        if found.lines > MOST_LINES:
            self.history = History(self.now)
            self._begin()
        else:
            self.journal.go_on(found)

    def _usable(self, text: str) -> bool:
        try:
            parse_scene(text, self.file)
        except SceneError:
            log.warning("the journal of %s does not hold a valid scene", self.file)
            self._set_aside(text, "What was not saved last time is no valid scene.")
            return False
        return True

    def _set_aside(self, text: str, why: str) -> None:
        """Keep a text that cannot be gone on with in a file of its own."""
        number = 1
        while (target := self.file.with_name(f"{self.file.stem}.recovered_{number}.toml")).exists():
            number += 1
        write_atomically(target, text)
        self.notes.append(f"{why} What was not saved is now in {target.name}.")

    def _begin(self) -> None:
        self._note(lambda journal: journal.begin(self.now, self.on_disk, self.kept))

    def _note(self, write: Writing) -> None:
        """Write to the journal; where that fails, go on without one and say so."""
        if self.journal is None:
            return
        try:
            write(self.journal)
        except OutputError as error:
            self.journal = None
            self.notes.append(f"Changes are no longer kept between saves: {error}")

    def _forget_journal(self) -> None:
        if self.journal is not None:
            self.journal.path.unlink(missing_ok=True)
