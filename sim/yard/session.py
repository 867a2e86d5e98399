"""A session at the yard: one scene, everything that hands can do with it, and the answers to it. It has no screen.

session = Session("sea_arch.toml")
session.move(["lintel"], (0, 0, 5))
session.set_down(["lintel"])
session.wait(10)
print(session.background.verdict.verdict)
session.undo()
session.save()
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from scipy.spatial.transform import Rotation

from sim.contact import Rest
from sim.errors import BedjointError
from sim.scene import Document, add_joint, parse_scene, remove_joints, set_key, set_piece_key, set_pose
from sim.states import Misplaced
from sim.yard import editing, handling
from sim.yard.background import Background
from sim.yard.bench import Bench, Laid
from sim.yard.faults import Faults
from sim.yard.history import Desk, Moment
from sim.yard.keeping import Keeping
from sim.yard.meshes import Meshes
from sim.yard.poses import Places, number_of, place_of, write_places
from sim.yard.protocol import Dragged, Notice, PoseTo, SetCamera, State, Telling
from sim.yard.shooting import ShotSettings
from sim.yard.showing import faults_shown, pieces_shown
from sim.yard.stating import state_of
from sim.yard.words import listed

HAND_DECIMALS = 4  # of a mm, where a hand puts a stone: a tenth of a micrometre
AXES = {"x": (1.0, 0.0, 0.0), "y": (0.0, 1.0, 0.0), "z": (0.0, 0.0, 1.0)}

Listener = Callable[[Telling], None]


class Refusal(BedjointError):
    """A command that cannot be carried out; nothing has changed."""


class Session:
    """One scene at work.

    Each change makes a new `version`, is on the disk before the method returns, can be undone, and is judged in the
    background. Methods may be called from any thread; listeners are called from several.
    """

    def __init__(self, file: str | Path, listener: Listener | None = None, judged: bool = True) -> None:
        """Open a scene file.

        Parameters
        ----------
        listener : called with every telling of `sim.yard.protocol`
        judged : judge each version in the background

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
        try:
            self._lay()
        except BedjointError:
            if not self.keeping.start_afresh():
                self.close()
                raise
            self._first = True
            self._lay()

    # --- seeing ---

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
        return self._found

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

    # --- placing ---

    def drag(self, poses: Sequence[PoseTo]) -> Dragged:
        """What is wrong with pieces under the hand; nothing is kept."""
        with self.lock:
            places = dict(place_of(self.laid, pose) for pose in poses)
            self._free(places)
            moved = self.laid.with_poses(places)
            only = sorted(places)
            shown = pieces_shown(moved, self.desk, self.meshes, only)
            dragged = Dragged(shown, faults_shown(self._faults.of(moved, only)))
            self.tell(dragged)
            return dragged

    def place(self, poses: Sequence[PoseTo]) -> int:
        """Leave pieces where the hand holds them."""
        with self.lock:
            places = dict(place_of(self.laid, pose) for pose in poses)
            return self._move("place", places, HAND_DECIMALS)

    def move(self, pieces: Sequence[str], by_mm: Sequence[float]) -> int:
        """Move pieces by so much."""
        with self.lock:
            self._free([number_of(self.laid, piece) for piece in pieces])

            def change(document: Document) -> None:
                for piece in pieces:
                    at_mm = self.laid.scene.piece_named(piece).at_mm
                    set_pose(document, piece, [a + b for a, b in zip(at_mm, by_mm, strict=True)])

            return self.edit(f"move {listed(pieces)}", change)

    def turn(self, pieces: Sequence[str], axis: str, by_deg: float, together: bool = False) -> int:
        """Turn pieces about an axis of the tank, each about its own middle or all about the first one's."""
        with self.lock:
            chosen = [number_of(self.laid, piece) for piece in pieces]
            turn = Rotation.from_rotvec(np.radians(by_deg) * np.array(AXES[axis])).as_matrix()
            return self._move("turn", handling.turned(self.laid, chosen, turn, together), HAND_DECIMALS)

    def set_down(self, pieces: Sequence[str]) -> dict[str, Rest]:
        """Free pieces of overlaps and drop them until they rest, the lowest first; how each one ended.

        Then they and what they touch give a little, together, unless locked. A piece that finds no rest stays where
        it was; one that gives way under what was set on it is named too, and lies where it lay.
        """
        with self.lock:
            chosen = handling.lowest_first(self.laid, [number_of(self.laid, piece) for piece in pieces])
            self._free(chosen)
            laid, rests = self._lowered(chosen)
            resting = [k for k in chosen if rests[self.laid.pieces[k].id] is Rest.AT_REST]
            laid, gave_way = self._given_way(laid, resting)
            rests |= gave_way
            places = {
                k: (laid.poses.rotation[k], laid.poses.position_m[k])
                for k in range(len(laid.pieces))
                if laid.pieces[k] is not self.laid.pieces[k]
            }
            if places:
                names = listed([self.laid.pieces[k].id for k in resting])
                self.edit(f"set down {names}", lambda document: write_places(document, self.laid, places))
            return rests

    def _lowered(self, chosen: Sequence[int]) -> tuple[Laid, dict[str, Rest]]:
        """Pieces set down one after the other, and how each ended."""
        there = np.ones(len(self.laid.pieces), np.bool_)
        there[list(chosen)] = False
        laid, rests = self.laid, {}
        for k in chosen:
            down = handling.lowered(laid, k, there)
            there[k] = True
            rests[laid.pieces[k].id] = down.rest
            if down.rest is Rest.AT_REST:
                laid = laid.with_poses({k: down.pose})
        return laid, rests

    def _given_way(self, laid: Laid, resting: Sequence[int]) -> tuple[Laid, dict[str, Rest]]:
        """What was set down and what it touches, given a little; and what does not bear it."""
        if not resting:
            return laid, {}
        group = sorted(self._faults.touching(laid, resting))
        held = np.array([piece.id in self.desk.locked for piece in laid.pieces], np.bool_)
        given = handling.given_way(laid, group, held)
        bad: dict[str, Rest] = {laid.pieces[k].id: rest for k, (rest, _) in given.items() if rest is not Rest.AT_REST}
        return (laid if bad else laid.with_poses({k: pose for k, (_, pose) in given.items()})), bad

    def level(self, pieces: Sequence[str]) -> int:
        """Lay the beds of pieces level, by the least turn."""
        with self.lock:
            chosen = [number_of(self.laid, piece) for piece in pieces]
            bedded = [self.laid.scene.piece[k].mesh is None for k in chosen]
            places = {k: handling.levelled(self.laid, k, flat) for k, flat in zip(chosen, bedded, strict=True)}
            return self._move("level", places)

    def snap(self, piece: str, to: str, other: str | None = None) -> int:
        """Move a piece to a pane, the base, or onto another piece's top, until it touches."""
        with self.lock:
            k = number_of(self.laid, piece)
            if to == "top" and (other is None or other == piece):
                raise Refusal("Pick the other piece whose top it shall lie on.")
            below = number_of(self.laid, other) if to == "top" and other is not None else None
            return self._move(f"snap to {other or to}:", {k: handling.snapped(self.laid, k, to, below)})

    # --- what is there ---

    def duplicate(self, pieces: Sequence[str]) -> list[str]:
        """Copy pieces, beside the old ones; the new names."""
        with self.lock:
            chosen = [number_of(self.laid, piece) for piece in pieces]
            made: list[str] = []
            self.edit(
                f"duplicate {listed(pieces)}",
                lambda document: made.extend(editing.duplicate(document, self.laid, chosen)),
            )
            return made

    def delete(self, pieces: Sequence[str]) -> int:
        """Take pieces out of the tank, with their joints, onto the shelf."""
        with self.lock:
            self._free([number_of(self.laid, piece) for piece in pieces])
            desk = editing.shelved(self.laid, self.desk, pieces)
            return self.edit(f"delete {listed(pieces)}", lambda document: editing.delete(document, pieces), desk)

    def take(self, item: str, at_mm: Sequence[float] | None = None) -> str:
        """Put a stone from the shelf into the tank; its name there."""
        with self.lock:
            entry, desk = editing.taken(self, item, at_mm)
            self.edit(f"take {entry.id}", lambda document: editing.append(document, entry), desk)
            return entry.id

    def discard(self, item: str) -> int:
        """Take a stone off the shelf."""
        with self.lock:
            rest = tuple(one for one in self.desk.shelf if one.item != item)
            if len(rest) == len(self.desk.shelf):
                raise Refusal(f'"{item[:64]}" is not on the shelf.')
            return self._arrange(f"discard {item}", replace(self.desk, shelf=rest))

    def add_to_shelf(self, name: str, keys: dict[str, Any]) -> str:
        """Lay a new stone onto the shelf: the keys of a scene's piece without its place; its name there."""
        with self.lock:
            item, desk = editing.onto_shelf(self, name, keys)
            self._arrange(f"add {item}", desk)
            return item

    def add_stand_in(self, name: str, size_mm: Sequence[float], mass_kg: float, **kind: Any) -> str:
        """Lay a body from caliper sizes and a weight onto the shelf: rock or wood, habit, seed; its name there."""
        return self.add_to_shelf(name, editing.stand_in_keys(size_mm, mass_kg, **kind))

    def hide(self, pieces: Sequence[str], hidden: bool = True) -> int:
        """Hide pieces in the page, or show them again."""
        with self.lock:
            marked = self._marked(self.desk.hidden, pieces, hidden)
            return self._arrange(f"{'hide' if hidden else 'show'} {listed(pieces)}", replace(self.desk, hidden=marked))

    def lock_pieces(self, pieces: Sequence[str], locked: bool = True) -> int:
        """Lock pieces against moving, or free them."""
        with self.lock:
            marked = self._marked(self.desk.locked, pieces, locked)
            return self._arrange(
                f"{'lock' if locked else 'unlock'} {listed(pieces)}", replace(self.desk, locked=marked)
            )

    def fix(self, pieces: Sequence[str], fixed: bool = True) -> int:
        """Make pieces immovable supports, or loose again."""
        with self.lock:

            def change(document: Document) -> None:
                for piece in pieces:
                    set_piece_key(document, piece, "fixed", True if fixed else None)

            return self.edit(f"{'fix' if fixed else 'loosen'} {listed(pieces)}", change)

    def group(self, pieces: Sequence[str], name: str = "") -> str:
        """Declare pieces a module that is glued outside the tank; its name."""
        with self.lock:
            name = editing.module_name(self.laid.scene, name)
            self.edit(f"group {name}", lambda document: editing.add_module(document, name, pieces))
            return name

    def ungroup(self, module: str) -> int:
        """Take a module apart."""
        with self.lock:
            return self.edit(f"ungroup {module}", lambda document: editing.remove_module(document, module))

    def join(self, between: Sequence[str], glue: str | None = None, kind: str = "glue", **keys: Any) -> int:
        """Declare a joint between two pieces."""
        with self.lock:
            given = {key: value for key, value in keys.items() if value is not None}
            more = given if kind == "glue" else {"kind": kind, **given}
            return self.edit(f"join {listed(between)}", lambda document: add_joint(document, between, glue, **more))

    def unjoin(self, between: Sequence[str]) -> int:
        """Take out every joint between two pieces."""
        with self.lock:
            return self.edit(
                f"unjoin {listed(between)}",
                lambda document: editing.some(remove_joints(document, between), "There is no joint between these two."),
            )

    def set_camera(self, asked: SetCamera) -> int:
        """Write the camera."""
        with self.lock:
            return self.edit("camera", lambda document: editing.camera(document, self.laid.scene, asked))

    def set_water(self, level_mm: float | None) -> int:
        """Level of the full tank; 0 stays dry."""
        with self.lock:
            return self.edit("water", lambda document: set_key(document, "water", "level_mm", level_mm))

    # --- keeping ---

    def undo(self) -> str:
        """Take the last change back; what it was."""
        with self.lock:
            what = self.keeping.undo()
            self._lay()
            return what

    def redo(self) -> str:
        """Do the change again that was taken back last; what it was."""
        with self.lock:
            what = self.keeping.redo()
            self._lay()
            return what

    def save(self) -> None:
        """Write the scene file."""
        with self.lock:
            self.keeping.save()
            self.tell(self.state())

    def save_as(self, name: str, replace_it: bool = False) -> None:
        """Write the scene into another file beside it, and go on with that one."""
        with self.lock:
            self.keeping.save_as(name, replace_it)
            self._lay(judge=False)

    def keep(self, name: str) -> None:
        """Remember the present version under a name, to compare with."""
        with self.lock:
            self.keeping.keep(name)
            self.tell(self.state())

    # --- asking ---

    def check(self) -> None:
        """Hear all judges in the background; `background.checked` then has the report."""
        with self.lock:
            self.background.check(self.version, self.laid)

    def order(self, given: Sequence[str] | None = None, seconds: float = 20.0) -> None:
        """Look for the best order, or judge one, in the background; `background.ordered` then has it."""
        with self.lock:
            self.background.order(self.version, self.laid, None if given is None else tuple(given), seconds)

    def shoot(self, settings: ShotSettings | None = None) -> None:
        """Take the front shot in the background, and again after every change."""
        with self.lock:
            self.background.shoot(self.version, self.laid, settings or ShotSettings())

    # --- how a change is made ---

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

    def _lay(self, judge: bool = True) -> None:
        """Put the pieces where the text has them, look for faults, tell the state and have it judged."""
        before = None if self._first else {entry.id: entry for entry in self.laid.scene.piece}
        self._first = False
        self.laid: Laid = self.bench.lay(parse_scene(self.text, self.keeping.file))
        self._found = self._faults.of(self.laid)
        self._faults.tidy(self.laid)
        if before is not None:
            self.version += 1
            after = {entry.id: entry for entry in self.laid.scene.piece}
            names = {*before, *after}
            self._changed_at |= {n: self.version for n in names if before.get(n) != after.get(n)}
        self.tell(self.state())
        while self.keeping.notes:
            self.tell(Notice(self.keeping.notes.pop(0), "warning"))
        if judge and self.judged:
            self.background.changed(self.version, self.laid, self._found)

    def _move(self, verb: str, places: Places, decimals: int = 7) -> int:
        self._free(places)
        names = [self.laid.pieces[k].id for k in places]
        what = f"{verb} {listed(names)}"
        return self.edit(what, lambda document: write_places(document, self.laid, places, decimals))

    def _free(self, chosen: Any) -> None:
        """Refuse to move what is locked."""
        names = [self.laid.pieces[k].id for k in chosen]
        locked = [name for name in names if name in self.desk.locked]
        if locked:
            raise Refusal(f"{listed(locked)}: locked. Unlock first.")

    def _marked(self, now: frozenset[str], pieces: Sequence[str], on: bool) -> frozenset[str]:
        for piece in pieces:
            number_of(self.laid, piece)
        return now | set(pieces) if on else now - set(pieces)
