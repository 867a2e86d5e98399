"""How a session changes its scene: checked, kept on the disk, laid out anew, told, and judged."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from pathlib import Path

from sim.errors import BedjointError
from sim.scene import Document, parse_scene
from sim.states import Misplaced
from sim.yard.background import Background
from sim.yard.bench import Bench, Laid
from sim.yard.faults import Faults
from sim.yard.history import Desk, Moment
from sim.yard.keeping import Keeping
from sim.yard.meshes import Meshes
from sim.yard.poses import Places, number_of, write_places
from sim.yard.protocol import Notice, State, Telling
from sim.yard.stating import state_of
from sim.yard.words import listed

Listener = Callable[[Telling], None]


class Refusal(BedjointError):
    """A command that cannot be carried out; nothing has changed."""


class Changing:
    """A scene, its desk and its history; what a session does with them is in `sim.yard.session`."""

    def __init__(
        self, file: str | Path, listener: Listener | None = None, judged: bool = True, hurried: bool = False
    ) -> None:
        """Open a scene file.

        Parameters
        ----------
        listener : called with every telling of `sim.yard.protocol`
        judged : judge each version in the background
        hurried : look in the background too what is wrong with the places that the file gives, so that windows show
            the pieces seconds earlier

        Raises
        ------
        SceneError, PieceError
            When the scene or one of its pieces cannot be used.
        """
        self.lock = threading.RLock()
        self.listeners: list[Listener] = [] if listener is None else [listener]
        self.keeping = Keeping(Path(file))
        self.bench, self.meshes, self._faults = Bench(), Meshes(), Faults()
        self.background = Background(self.tell)
        self.judged = judged
        self.version = 1
        self._changed_at: dict[str, int] = {}  # version in which a piece changed last
        self._first = True
        self._found: tuple[Misplaced, ...] | None = None
        try:
            self._lay_first(hurried)
        except BedjointError:
            self.close()
            raise

    @property
    def text(self) -> str:
        """The scene file as it would be saved."""
        return self.keeping.now.text

    @property
    def desk(self) -> Desk:
        """Hidden and locked pieces, and the shelf."""
        return self.keeping.now.desk

    @property
    def faults(self) -> tuple[Misplaced, ...]:
        """Overlaps, pieces outside, and pieces that hang in the air."""
        with self.lock:
            return self._looked()

    @property
    def faults_so_far(self) -> tuple[Misplaced, ...]:
        """The same without waiting: none while nobody has looked yet."""
        return self._found or ()

    def state(self) -> State:
        """Everything that a window shows."""
        with self.lock:
            return state_of(self)

    def tell(self, telling: Telling) -> None:
        """Say something to all listeners."""
        for listener in list(self.listeners):
            listener(telling)

    def changed_since(self, version: int, pieces: Sequence[str]) -> list[str]:
        """Those of some pieces that have changed after a version."""
        return [piece for piece in pieces if self._changed_at.get(piece, 0) > version]

    def wait(self, seconds: float, *jobs: str) -> bool:
        """Wait for answers in the background: 'verdict', 'shot', 'check', 'order', or all of them."""
        return self.background.wait(seconds, *jobs)

    def close(self) -> None:
        """End the session; what is not saved comes back when it is opened again."""
        self.background.close()
        self.keeping.close()

    def edit(self, what: str, change: Callable[[Document], object], desk: Desk | None = None) -> int:
        """Change the scene file; the new version. When the changed scene has faults, nothing changes."""
        document = Document(self.text)
        change(document)
        return self._commit(what, Moment(document.text, desk or self.desk))

    def _arrange(self, what: str, desk: Desk) -> int:
        return self._commit(what, Moment(self.text, desk))

    def _commit(self, what: str, after: Moment) -> int:
        if after == self.keeping.now:
            return self.version
        scene = parse_scene(after.text, self.keeping.file)
        gone = {entry.id for entry in self.laid.scene.piece} - {entry.id for entry in scene.piece}
        after = replace(after, desk=after.desk.without(gone))
        self.bench.lay(scene)  # a piece that cannot be made is told before anything is kept
        self.keeping.did(what, after)
        self._lay()
        return self.version

    def _lay_first(self, hurried: bool) -> None:
        """Lay out what was recovered, or without it where a piece of it cannot be made any more."""
        try:
            self.bench.lay(parse_scene(self.text, self.keeping.file))
        except BedjointError:
            if not self.keeping.start_afresh():
                raise
        self._lay(look=not hurried)
        if hurried:
            self.background.begin(self._look_first)

    def _look_first(self) -> None:
        """What hurried windows do not wait for."""
        self.laid.standing.assembly()  # the long part, which keeps nobody waiting
        with self.lock:
            if self._found is None:
                self._looked()
                self.tell(self.state())
                self._have_judged()

    def _looked(self) -> tuple[Misplaced, ...]:
        if self._found is None:
            self._found = self._faults.of(self.laid)
            self._faults.tidy(self.laid)
        return self._found

    def _have_judged(self) -> None:
        if self.judged:
            self.background.changed(self.version, self.laid, self._looked())

    def _lay(self, judge: bool = True, look: bool = True) -> None:
        """Put the pieces where the text has them, look for faults, tell the state and have it judged."""
        before = None if self._first else {entry.id: entry for entry in self.laid.scene.piece}
        self._first = False
        self.laid: Laid = self.bench.lay(parse_scene(self.text, self.keeping.file))
        judge = (judge and look) or (self._found is None and before is not None)  # its first judging was to come yet
        self._found = None
        if look:
            self._looked()
        if before is not None:
            self.version += 1
            after = {entry.id: entry for entry in self.laid.scene.piece}
            names = {*before, *after}
            self._changed_at |= {n: self.version for n in names if before.get(n) != after.get(n)}
        self.tell(self.state())
        while self.keeping.notes:
            self.tell(Notice(self.keeping.notes.pop(0), "warning"))
        if judge:
            self._have_judged()

    def _move(self, verb: str, places: Places, decimals: int = 7) -> int:
        self._free(places)
        names = [self.laid.pieces[k].id for k in places]
        what = f"{verb} {listed(names)}"
        return self.edit(what, lambda document: write_places(document, self.laid, places, decimals))

    def _free(self, chosen: Iterable[int]) -> None:
        """Refuse to move what is locked."""
        names = [self.laid.pieces[k].id for k in chosen]
        locked = [name for name in names if name in self.desk.locked]
        if locked:
            raise Refusal(f"{listed(locked)}: locked. Unlock first.")

    def _marked(self, now: frozenset[str], pieces: Sequence[str], on: bool) -> frozenset[str]:
        for piece in pieces:
            number_of(self.laid, piece)
        return now | set(pieces) if on else now - set(pieces)
