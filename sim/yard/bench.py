"""A scene's pieces made and placed: what was made once is kept while pieces are moved about."""

from __future__ import annotations

import threading
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sim.contact import Assembly, Poses
from sim.contact.settling import stand_up
from sim.pieces.placing import PlacedPiece, moved, place_pieces, pose_from_entry
from sim.pieces.turning import rotation_from_quaternion, rotation_from_turns
from sim.scene import PieceEntry, Scene

Floats = NDArray[np.float64]
Box = tuple[Floats, Floats]  # lowest and highest corner, (3,) each

PLACE_KEYS = {"id", "at_mm", "turn_deg", "quaternion", "fixed", "friction"}


class Standing:
    """The assembly of pieces, gathered when it is first asked for: windows show stones long before that."""

    def __init__(self, scene: Scene, pieces: list[PlacedPiece]) -> None:
        self.key = _assembly_key(scene, pieces)
        self._from, self._lock = (scene, pieces), threading.Lock()
        self._assembly: Assembly | None = None

    def assembly(self) -> Assembly:
        """The same one each time; whoever asks meanwhile waits."""
        with self._lock:
            if self._assembly is None:
                self._assembly = stand_up(*self._from)[0]
            return self._assembly


@dataclass(frozen=True, slots=True, eq=False)
class Laid:
    """A scene with its pieces in their places."""

    scene: Scene
    pieces: list[PlacedPiece]
    standing: Standing
    poses: Poses
    boxes: list[Box]  # of each piece as it lies, m

    @property
    def dry(self) -> Assembly:
        """The pieces as contact sees them, with dry friction; the first time takes seconds."""
        return self.standing.assembly()

    def index(self, piece: str) -> int:
        """Number of a piece; KeyError when it is not there."""
        for k, one in enumerate(self.pieces):
            if one.id == piece:
                return k
        raise KeyError(piece)

    def with_poses(self, places: dict[int, tuple[Floats, Floats]]) -> Laid:
        """The same with some pieces elsewhere: rotation (3, 3) and position (3,) by number."""
        rotation, position = self.poses.rotation.copy(), self.poses.position_m.copy()
        pieces, boxes = list(self.pieces), list(self.boxes)
        for k, (turn, place) in places.items():
            rotation[k], position[k] = turn, place
            pieces[k] = moved(self.pieces[k], turn, place)
            boxes[k] = box_of(pieces[k])
        return replace(self, pieces=pieces, poses=Poses(rotation, position), boxes=boxes)


def box_of(piece: PlacedPiece) -> Box:
    """The box about a piece as it lies, in the tank's frame."""
    points = piece.vertices_m()
    return points.min(axis=0), points.max(axis=0)


class Bench:
    """Makes pieces, and keeps bodies and the assembly as long as they serve."""

    def __init__(self) -> None:
        self._made: dict[str, PlacedPiece] = {}
        self._boxes: dict[tuple[int, bytes], Box] = {}  # about the piece's own origin, by body and turn
        self._standing: Standing | None = None

    def lay(self, scene: Scene) -> Laid:
        """Put every piece of a scene where the scene says.

        Raises
        ------
        PieceError
            Naming the piece that cannot be made.
        """
        pieces = [self._placed(scene, entry) for entry in scene.piece]
        self._forget(scene)
        if self._standing is None or self._standing.key != _assembly_key(scene, pieces):
            self._standing = Standing(scene, pieces)
        poses = Poses(
            np.array([piece.rotation for piece in pieces]).reshape(-1, 3, 3),
            np.array([piece.position_m for piece in pieces]).reshape(-1, 3),
        )
        return Laid(scene, pieces, self._standing, poses, [self._box(piece) for piece in pieces])

    def made(self, scene: Scene, entry: PieceEntry) -> PlacedPiece:
        """A single piece, wherever it lies; it is kept."""
        return self._placed(scene, entry)

    def _placed(self, scene: Scene, entry: PieceEntry) -> PlacedPiece:
        key = _source(scene, entry)
        if key not in self._made:
            self._made[key] = place_pieces(scene.model_copy(update={"piece": (entry,)}))[0]
        made = self._made[key]
        turns = rotation_from_turns(entry.turn_deg)
        rotation = turns if entry.quaternion is None else rotation_from_quaternion(entry.quaternion)
        position_m = pose_from_entry(made.body, entry.at_mm, rotation)
        return replace(
            made, id=entry.id, rotation=rotation, position_m=position_m, fixed=entry.fixed, friction=entry.friction
        )

    def _box(self, piece: PlacedPiece) -> Box:
        key = (id(piece.body), piece.rotation.tobytes())
        if key not in self._boxes:
            low, high = box_of(piece)
            self._boxes[key] = (low - piece.position_m, high - piece.position_m)
        low, high = self._boxes[key]
        return low + piece.position_m, high + piece.position_m

    def _forget(self, scene: Scene) -> None:
        """Bodies stay for undo and the shelf; turned boxes are cheap, and are kept only while they are few."""
        if len(self._boxes) > 20 * (len(scene.piece) + 10):
            self._boxes.clear()


def _source(scene: Scene, entry: PieceEntry) -> str:
    """What a piece's body and weight are made from, as text."""
    water = (scene.water.temperature_c, scene.water.salinity_ppt) if entry.mass_in_water_kg is not None else ()
    return f"{entry.model_dump_json(exclude=PLACE_KEYS)}|{water}|{scene.folder}"


def _assembly_key(scene: Scene, pieces: list[PlacedPiece]) -> tuple[object, ...]:
    each = tuple(
        (id(piece.body), piece.mass_kg, piece.fixed, piece.friction, piece.material and piece.material.name, piece.id)
        for piece in pieces
    )
    return each, scene.friction, scene.tank.inner_mm, scene.tank.under_stones
