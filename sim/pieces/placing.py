"""From the entries of a scene to pieces with a body, a mass and a pose."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Future
from dataclasses import dataclass, replace

import numpy as np

from sim import materials
from sim.errors import BedjointError, PieceError
from sim.materials import Rock, Wood
from sim.pieces.body import Body, Floats
from sim.pieces.generate import generate
from sim.pieces.saving import load_body
from sim.pieces.stand_in import make_stand_in
from sim.pieces.turning import rotation_from_quaternion, rotation_from_turns, turns_from_rotation
from sim.scene import PieceEntry, Pose, Scene
from sim.threads import threads
from sim.units import ML_PER_M3, MM_PER_M

WEIGHED_SHARE = 0.2  # by which a mesh's volume and the weighed one may differ: pores, scan and scales together


@dataclass(frozen=True, slots=True, eq=False)
class PlacedPiece:
    """A piece where the scene has it.

    Its body's frame is turned by `rotation` and its centre of volume lies at `position_m`,
    in the tank's frame. The mass is that of the dry piece.
    """

    id: str
    body: Body
    material: Rock | Wood | None
    density_kg_m3: float
    mass_kg: float
    rotation: Floats  # (3, 3)
    position_m: Floats  # (3,)
    fixed: bool = False
    friction: float | None = None

    @property
    def is_wood(self) -> bool:
        """Whether it is a piece of wood."""
        return isinstance(self.material, Wood)

    @property
    def volume_m3(self) -> float:
        """Volume of the envelope: what it displaces."""
        return self.body.volume_m3

    def vertices_m(self) -> Floats:
        """Vertices (n, 3) in the tank's frame."""
        return np.asarray(self.body.vertices_m @ self.rotation.T + self.position_m)


def moved(piece: PlacedPiece, rotation: Floats, position_m: Floats) -> PlacedPiece:
    """The same piece at another pose."""
    return replace(piece, rotation=rotation, position_m=position_m)


def pose_from_entry(body: Body, at_mm: Sequence[float], rotation: Floats) -> Floats:
    """Position (3,) of the centre of volume, in metres, for the place that a scene file gives.

    `at_mm`: x and y of the middle of the turned piece's bounding box, z of its lowest point.
    """
    turned = body.vertices_m @ rotation.T
    low, high = turned.min(axis=0), turned.max(axis=0)
    at_m = np.asarray(at_mm, dtype=np.float64) / MM_PER_M
    return np.array([*(at_m[:2] - (low[:2] + high[:2]) / 2.0), at_m[2] - low[2]])


def entry_from_pose(
    body: Body, rotation: Floats, position_m: Floats
) -> tuple[tuple[float, float, float], tuple[float, float, float]]:
    """`at_mm` and `turn_deg` of a scene file for a pose; the inverse of `pose_from_entry`."""
    turned = body.vertices_m @ rotation.T + position_m
    low, high = turned.min(axis=0) * MM_PER_M, turned.max(axis=0) * MM_PER_M
    at_mm = (float(low[0] + high[0]) / 2.0, float(low[1] + high[1]) / 2.0, float(low[2]))
    return at_mm, turns_from_rotation(rotation)


def file_poses(pieces: Sequence[PlacedPiece]) -> dict[str, Pose]:
    """Poses by id in the terms of a scene file, ready for `sim.scene.set_poses`."""
    return {piece.id: Pose(*entry_from_pose(piece.body, piece.rotation, piece.position_m)) for piece in pieces}


def place_pieces(scene: Scene) -> list[PlacedPiece]:
    """Make or load every piece of a scene and put it where the scene says.

    Raises
    ------
    PieceError
        Naming the piece, when its mesh cannot be used or its stand-in cannot be made.
    """
    made: dict[str, Future[Body]] = {}
    with threads() as pool:
        keys = [_key(entry) for entry in scene.piece]
        for entry, key in zip(scene.piece, keys, strict=True):
            if key not in made:
                made[key] = pool.submit(_body, scene, entry, _material(entry))
        return [_place(scene, entry, made[key]) for entry, key in zip(scene.piece, keys, strict=True)]


def _key(entry: PieceEntry) -> str:
    """The same for pieces of the same body."""
    source = entry.model_dump_json(include={"mesh", "generate", "stand_in", "units", "scale", "density_kg_m3"})
    return f"{source}|{entry.rock or entry.wood}" if entry.stand_in else source


def _place(scene: Scene, entry: PieceEntry, made: Future[Body]) -> PlacedPiece:
    material = _material(entry)
    try:
        body = made.result()
    except BedjointError as error:
        raise PieceError(f'{scene.file}: piece "{entry.id}": {error}') from error
    density, mass = _weight(scene, entry, material, body)
    rotation = rotation_from_turns(entry.turn_deg)
    if entry.quaternion is not None:
        rotation = rotation_from_quaternion(entry.quaternion)
    position_m = pose_from_entry(body, entry.at_mm, rotation)
    return PlacedPiece(entry.id, body, material, density, mass, rotation, position_m, entry.fixed, entry.friction)


def _material(entry: PieceEntry) -> Rock | Wood | None:
    if entry.rock is not None:
        return materials.rock(entry.rock)
    return materials.wood(entry.wood) if entry.wood is not None else None


def _body(scene: Scene, entry: PieceEntry, material: Rock | Wood | None) -> Body:
    if entry.generate is not None:
        options = entry.generate.model_dump(exclude={"shape", "seed", "size_mm"}, exclude_none=True)
        return generate(entry.generate.shape, entry.generate.seed, entry.generate.size_mm, **options)
    if entry.stand_in is not None:
        made = entry.stand_in
        return make_stand_in(made.size_mm, made.mass_kg, material, made.habit, made.seed, entry.density_kg_m3)
    path = entry.mesh_path(scene.folder)
    if path is None:
        raise PieceError("nothing says what it looks like. Give mesh, generate or stand_in.")
    return load_body(path, entry.units, entry.scale)


def _weight(scene: Scene, entry: PieceEntry, material: Rock | Wood | None, body: Body) -> tuple[float, float]:
    """Density and mass: the scales first, then a density given, then the table's."""
    mass = entry.mass_kg
    if mass is None and entry.stand_in is not None:
        mass = entry.stand_in.mass_kg
    if mass is not None:
        if entry.mass_in_water_kg is not None:
            _check_weighings(scene, entry, mass, entry.mass_in_water_kg, body)
        return mass / body.volume_m3, mass
    density = entry.density_kg_m3
    if density is None:
        if material is None:
            raise PieceError(f'{scene.file}: piece "{entry.id}": no weight. Give rock, wood, density_kg_m3 or mass_kg.')
        density = material.density_kg_m3.default
    return density, density * body.volume_m3


def _check_weighings(scene: Scene, entry: PieceEntry, mass_kg: float, in_water_kg: float, body: Body) -> None:
    """Two weighings give the volume too: a mesh that holds another one has the wrong units or scale."""
    water = materials.water_density_kg_m3(scene.water.temperature_c, scene.water.salinity_ppt)
    weighed_m3 = mass_kg / materials.density_from_weighings(mass_kg, in_water_kg, water)
    if abs(body.volume_m3 / weighed_m3 - 1.0) > WEIGHED_SHARE:
        raise PieceError(
            f'{scene.file}: piece "{entry.id}": its mesh holds {body.volume_m3 * ML_PER_M3:.0f} ml, its weighings '
            f"{weighed_m3 * ML_PER_M3:.0f} ml. Check units, scale and both weights."
        )
