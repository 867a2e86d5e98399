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

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from scipy.spatial.transform import Rotation

from sim.contact import Rest
from sim.scene import Document, add_joint, parse_scene, remove_joints, set_key, set_piece_key, set_pose
from sim.yard import editing, handling
from sim.yard.bench import Laid
from sim.yard.changing import Changing, Refusal
from sim.yard.history import Change
from sim.yard.poses import number_of, place_of, write_places
from sim.yard.protocol import Dragged, PoseTo, SetCamera
from sim.yard.shooting import ShotSettings
from sim.yard.showing import faults_shown, pieces_shown
from sim.yard.words import listed

HAND_DECIMALS = 4  # of a mm, where a hand puts a stone: a tenth of a micrometre
AXES = {"x": (1.0, 0.0, 0.0), "y": (0.0, 1.0, 0.0), "z": (0.0, 0.0, 1.0)}


class Session(Changing):
    """One scene at work.

    Each change makes a new `version`, is on the disk before the method returns, can be undone, and is judged in the
    background. Methods may be called from any thread; listeners are called from several.
    """

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
            self._can_be_laid(self.keeping.history.done, "before")
            what = self.keeping.undo()
            self._lay()
            return what

    def redo(self) -> str:
        """Do the change again that was taken back last; what it was."""
        with self.lock:
            self._can_be_laid(self.keeping.history.undone, "after")
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

    def _can_be_laid(self, changes: Sequence[Change], side: str) -> None:
        """A piece whose file has gone meanwhile is told before anything changes."""
        if changes:
            self.bench.lay(parse_scene(getattr(changes[-1], side).text, self.keeping.file))

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
