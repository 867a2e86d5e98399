"""Poses as a page gives them, and as the scene file has them."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from sim.errors import BedjointError
from sim.pieces.placing import entry_from_pose, pose_from_entry
from sim.pieces.turning import rotation_from_quaternion, rotation_from_turns
from sim.scene import Document, Pose, set_poses
from sim.units import MM_PER_M
from sim.yard.bench import Floats, Laid
from sim.yard.protocol import PoseTo
from sim.yard.showing import quaternion

Places = Mapping[int, tuple[Floats, Floats]]  # rotation (3, 3) and position (3,) by number of the piece

FARTHEST_MM = 5000.0  # outside the tank


def place_of(laid: Laid, asked: PoseTo) -> tuple[int, tuple[Floats, Floats]]:
    """The piece and where it shall be.

    Raises
    ------
    BedjointError
        When there is no such piece, or the pose is none.
    """
    k = number_of(laid, asked.piece)
    if asked.quaternion is not None and asked.turn_deg is not None:
        raise BedjointError(f"{asked.piece}: give quaternion or turn_deg, not both.")
    rotation = laid.poses.rotation[k]
    if asked.quaternion is not None:
        if not 0.9 < float(np.linalg.norm(asked.quaternion)) < 1.1:
            raise BedjointError(f"{asked.piece}: the length of a quaternion is 1.")
        rotation = rotation_from_quaternion(asked.quaternion)
    elif asked.turn_deg is not None:
        rotation = rotation_from_turns(asked.turn_deg)
    if (asked.position_mm is None) == (asked.at_mm is None):
        raise BedjointError(f"{asked.piece}: give either position_mm or at_mm.")
    if asked.at_mm is not None:
        position = pose_from_entry(laid.pieces[k].body, asked.at_mm, rotation)
    else:
        position = np.array(asked.position_mm) / MM_PER_M
    if np.abs(position).max() * MM_PER_M > FARTHEST_MM:
        raise BedjointError(f"{asked.piece}: that is too far away from the tank.")
    return k, (rotation, position)


def number_of(laid: Laid, piece: str) -> int:
    """Number of a piece.

    Raises
    ------
    BedjointError
        When it is not there.
    """
    try:
        return laid.index(piece)
    except KeyError:
        raise BedjointError(f'There is no piece "{piece[:64]}" in the tank.') from None


def write_places(document: Document, laid: Laid, places: Places, decimals: int = 7) -> None:
    """Put pieces elsewhere in a scene file; a turn stays in the form that the file gives it."""
    found: dict[str, Pose] = {}
    for k, (rotation, position) in places.items():
        piece, entry = laid.pieces[k], laid.scene.piece[k]
        at_mm, turn_deg = entry_from_pose(piece.body, rotation, position)
        at_mm = tuple(round(value, decimals) for value in at_mm)  # type: ignore[assignment]  # three stay three
        if np.array_equal(rotation, laid.poses.rotation[k]):
            found[piece.id] = Pose(at_mm)
        elif entry.quaternion is not None:
            found[piece.id] = Pose(at_mm, quaternion=quaternion(rotation))
        else:
            found[piece.id] = Pose(at_mm, turn_deg=[round(angle, decimals) for angle in turn_deg])
    set_poses(document, found)
