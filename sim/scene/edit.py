"""Changing a scene file while the user's comments and layout stay.

Every function changes one thing in a `Document`; `save` checks the whole before a byte is written.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sim.errors import Fault, SceneError
from sim.files import write_atomically
from sim.scene.document import Document, Splice, appending, assigning, discarding, key_written, removing, written
from sim.scene.model import Scene
from sim.scene.picture import Camera
from sim.scene.piece import PieceEntry
from sim.scene.read import load_toml, parse_scene, read_text

DECIMALS = 7  # of a mm or a degree in a file: a tenth of a nanometre, and no long tails of digits
QUATERNION_DECIMALS = 12


@dataclass(frozen=True, slots=True)
class Pose:
    """Where a piece lies, in the terms of the file; with neither turn the old one stays."""

    at_mm: Sequence[float]  # (3,)
    turn_deg: Sequence[float] | None = None  # (3,) about fixed x, y, z
    quaternion: Sequence[float] | None = None  # (4,) w, x, y, z


def read_document(path: str | os.PathLike[str]) -> Document:
    """The scene file at `path`, ready to be changed; it is not checked until it is saved.

    Raises
    ------
    SceneError
        When there is no such file or its TOML is not valid.
    """
    return parse_document(read_text(path), path)


def parse_document(text: str, file: str | os.PathLike[str] = "scene.toml") -> Document:
    """The text of a scene file, ready to be changed."""
    load_toml(text, Path(file))
    return Document(text)


def document_of(scene: Scene) -> Document:
    """A scene made in Python as a new document, what is not set left out."""
    top: list[str] = []
    sections: list[str] = []
    for key, value in scene.model_dump(exclude_defaults=True, exclude_none=True).items():
        if isinstance(value, dict):
            sections += ["", f"[{key}]", *_lines(value)]
        elif isinstance(value, tuple):
            for entry in value:
                sections += ["", f"[[{key}]]", *_lines(entry)]
        else:
            top.append(f"{key} = {written(value)}")
    return Document("\n".join([*top, *sections, ""]))


def _lines(table: Mapping[str, Any]) -> list[str]:
    return [f"{key_written(key)} = {written(value)}" for key, value in table.items()]


def save(document: Document, path: str | os.PathLike[str]) -> None:
    """Write the document, completely or not at all.

    Raises
    ------
    SceneError
        When the changed scene has faults; the file stays as it was.
    OutputError
        When the file cannot be written.
    """
    parse_scene(document.text, path)
    write_atomically(path, document.text)


def write_scene(path: str | os.PathLike[str], document: Document | Scene) -> None:
    """`save`, also for a scene that was made in Python."""
    save(document_of(document) if isinstance(document, Scene) else document, path)


def set_pose(
    document: Document,
    piece_id: str,
    at_mm: Sequence[float],
    turn_deg: Sequence[float] | None = None,
    quaternion: Sequence[float] | None = None,
) -> None:
    """Move a piece, and turn it when one of `turn_deg` and `quaternion` (w, x, y, z) is given.

    The turn is written in the given form; the other form leaves the file.

    Raises
    ------
    SceneError
        When no piece has this id.
    """
    set_poses(document, {piece_id: Pose(at_mm, turn_deg, quaternion)})


def set_poses(document: Document, poses: Mapping[str, Pose]) -> None:
    """Move many pieces in one pass, by id.

    Raises
    ------
    SceneError
        When a piece is not there; nothing is changed then.
    """
    splices: list[Splice] = []
    for piece_id, pose in poses.items():
        table = ("piece", _number_of(document, piece_id))
        splices += assigning(document, table, "at_mm", _tidy(pose.at_mm, DECIMALS))
        if pose.quaternion is not None:
            turn = _tidy(pose.quaternion, QUATERNION_DECIMALS)
            splices += assigning(document, table, "quaternion", turn, instead_of="turn_deg")
        elif pose.turn_deg is not None:
            turn = _tidy(pose.turn_deg, DECIMALS)
            splices += assigning(document, table, "turn_deg", turn, instead_of="quaternion")
    document.splice(splices)


def set_key(document: Document, section: str, key: str, value: Any) -> None:
    """Set one key of a plain section such as ``water``; None takes the key out."""
    if value is None:
        document.splice(removing(document, (section,), key))
    else:
        value = list(value) if isinstance(value, tuple) else value
        document.splice(assigning(document, (section,), key, value))


def set_piece_key(document: Document, piece_id: str, key: str, value: Any) -> None:
    """Set one key of a piece, such as ``fixed`` or ``friction``; None takes the key out."""
    table = ("piece", _number_of(document, piece_id))
    document.splice(removing(document, table, key) if value is None else assigning(document, table, key, value))


def set_camera(document: Document, camera: Camera) -> None:
    """Write all that `camera` says other than by default, and take out what it leaves open."""
    for key, default in Camera().model_dump().items():
        value = getattr(camera, key)
        set_key(document, "camera", key, value if value != default or key in camera.model_fields_set else None)


def add_piece(document: Document, entry: PieceEntry) -> None:
    """Append a piece.

    Raises
    ------
    SceneError
        When its id is taken.
    """
    if any(table.get("id") == entry.id for table in document.entries("piece")):
        raise SceneError("scene", [Fault("piece", f'the id "{entry.id}" is taken', "Choose another one.")])
    document.splice([appending(document, "piece", entry.model_dump(exclude_unset=True, exclude_none=True))])


def add_joint(document: Document, between: Sequence[str], glue: str | None = None, **keys: Any) -> None:
    """Append a joint between two pieces; `keys` are those of `JointEntry`.

    Raises
    ------
    SceneError
        When one of the pieces is not there.
    """
    for piece_id in between:
        _number_of(document, piece_id)
    table = {"between": list(between), "glue": glue, **keys}
    document.splice([appending(document, "joint", {key: value for key, value in table.items() if value is not None})])


def remove_joints(document: Document, between: Sequence[str]) -> int:
    """Take out every joint between the two pieces, and say how many there were."""
    return _discard(document, "joint", lambda table: set(table.get("between", ())) == set(between))


def remove_piece(document: Document, piece_id: str) -> None:
    """Take out a piece and whatever cannot be without it: joints, friction pairs, rules, its place in a module.

    Raises
    ------
    SceneError
        When no piece has this id.
    """
    _number_of(document, piece_id)
    _discard(document, "piece", lambda table: table.get("id") == piece_id)
    for section in ("joint", "friction"):
        _discard(document, section, lambda table: piece_id in table.get("between", ()))
    gone = {piece_id}
    for number, module in enumerate(document.entries("module")):
        rest = [name for name in module.get("pieces", ()) if name != piece_id]
        if len(rest) < 2:
            gone.add(str(module.get("id")))
        document.splice(assigning(document, ("module", number), "pieces", rest))
    _discard(document, "module", lambda table: table.get("id") in gone)
    _discard(document, "rule", lambda table: bool(gone & {*table.get("before", ()), *table.get("after", ())}))
    moving = document.table.get("expect", {}).get("moving", [])
    if piece_id in moving:
        set_key(document, "expect", "moving", [name for name in moving if name != piece_id])


def _number_of(document: Document, piece_id: str) -> int:
    for number, table in enumerate(document.entries("piece")):
        if table.get("id") == piece_id:
            return number
    raise SceneError("scene", [Fault("piece", f'there is no piece "{piece_id}"', "Name a piece of this file.")])


def _discard(document: Document, section: str, condemned: Callable[[dict[str, Any]], bool]) -> int:
    """Take out the tables of a list for which `condemned` holds, from the last to the first."""
    numbers = [number for number, table in enumerate(document.entries(section)) if condemned(table)]
    for number in reversed(numbers):
        document.splice(discarding(document, section, number))
    return len(numbers)


def _tidy(values: Sequence[float], decimals: int) -> list[float]:
    return [round(float(value), decimals) + 0.0 for value in values]
