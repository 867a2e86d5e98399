"""The journal: a file beside the scene that brings back what was not saved.

Each change is one line of JSON, on the disk before its answer goes out. The first line holds the text that the
scene file had; every other one says what was put in place of what, or that something was undone, redone, saved or
kept. A last line that was cut off by a crash is left out. Replaying it all gives scene, desk and history again.
"""

from __future__ import annotations

import json
import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sim.errors import OutputError
from sim.files import write_atomically
from sim.yard.history import Desk, History, Moment

FORMAT = 1
MOST_LINES = 3000  # of a journal that is taken up again; a longer one loses its history, and nothing else


def journal_path(scene: Path) -> Path:
    """Where the journal of a scene file lies."""
    return scene.with_name(f".{scene.name}.yard")


@dataclass(slots=True)
class Replayed:
    """What a journal holds."""

    history: History
    on_disk: str  # text that the scene file should have
    kept: dict[str, str]  # versions by name
    lines: int
    size: int  # bytes of the lines that are whole

    @property
    def unsaved(self) -> bool:
        """Whether something is there that the scene file has not."""
        return self.history.now.text != self.on_disk


class Journal:
    """Writes one line after another, each down to the disk."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def begin(self, moment: Moment, on_disk: str, kept: dict[str, str]) -> None:
        """Start it anew, without a history."""
        head = {"journal": FORMAT, "text": moment.text, "on_disk": on_disk, "desk": moment.desk.as_plain()}
        write_atomically(self.path, _line(head) + "".join(_line({"kept": name, "text": kept[name]}) for name in kept))

    def go_on(self, replayed: Replayed) -> None:
        """Take up one that was replayed, without what was cut off at its end."""
        with self.path.open("r+b") as stream:
            stream.truncate(replayed.size)

    def did(self, what: str, before: Moment, after: Moment) -> None:
        """Note a change."""
        note: dict[str, Any] = {"did": what, "splice": _splice(before.text, after.text)}
        if after.desk != before.desk:
            note["desk"] = after.desk.as_plain()
        self._append(note)

    def undid(self) -> None:
        """Note that the last change was taken back."""
        self._append({"undo": True})

    def redid(self) -> None:
        """Note that a change was done again."""
        self._append({"redo": True})

    def saved(self) -> None:
        """Note that the scene file now has the present text."""
        self._append({"saved": True})

    def kept(self, name: str, text: str) -> None:
        """Note a version to compare with."""
        self._append({"kept": name, "text": text})

    def _append(self, note: dict[str, Any]) -> None:
        try:
            with self.path.open("ab") as stream:
                stream.write(_line(note).encode())
                stream.flush()
                os.fsync(stream.fileno())
        except OSError as error:
            reason = error.strerror or str(error)
            raise OutputError(f"{self.path}: cannot be written ({reason}). Free space there, or save now.") from error


def replay(path: Path) -> Replayed | None:
    """What a journal holds, as far as it is whole; None when there is none, or its first line is no use."""
    try:
        lines = path.read_bytes().split(b"\n")
    except OSError:
        return None
    found: Replayed | None = None
    for raw in lines[:-1]:  # behind the last line break: nothing, or a line that was cut off
        try:
            note = json.loads(raw)
            if found is None:
                if note["journal"] != FORMAT:
                    return None
                moment = Moment(note["text"], Desk.of_plain(note["desk"]))
                found = Replayed(History(moment), note["on_disk"], {}, 0, 0)
            else:
                _again(found, note)
            found.lines += 1
            found.size += len(raw) + 1
        except (ValueError, KeyError, TypeError, RecursionError):
            break  # nothing behind a damaged line can be trusted to fit
    return found


def _again(found: Replayed, note: dict[str, Any]) -> None:
    history = found.history
    if "did" in note:
        start, end, new = note["splice"]
        text = history.now.text
        desk = Desk.of_plain(note["desk"]) if "desk" in note else history.now.desk
        history.did(note["did"], Moment(text[:start] + new + text[end:], desk))
    elif "undo" in note:
        history.undo()
    elif "redo" in note:
        history.redo()
    elif "saved" in note:
        found.on_disk = history.now.text
    elif "kept" in note:
        found.kept[note["kept"]] = note["text"]


def _line(note: dict[str, Any]) -> str:
    return json.dumps(note, ensure_ascii=True, separators=(",", ":")) + "\n"


def _splice(old: str, new: str) -> tuple[int, int, str]:
    """From where to where the old text was replaced, and by what."""
    start, most = 0, min(len(old), len(new))
    while start < most and old[start] == new[start]:
        start += 1
    end = 0
    while end < most - start and old[len(old) - 1 - end] == new[len(new) - 1 - end]:
        end += 1
    return start, len(old) - end, new[start : len(new) - end]
