"""Everything that a shot draws, made once and drawn from any camera, dry or flooded."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

from sim.materials.clearness import WATER_PER_M
from sim.pieces.placing import PlacedPiece
from sim.scene import Scene
from sim.shot.ambient import baked, unit
from sim.shot.colours import piece_colours
from sim.shot.floor import Floor, floor_of
from sim.shot.lamps import lamp_corners_m
from sim.shot.panes import Basin
from sim.shot.raycast import to_linear
from sim.shot.refraction import Tank, tank_of
from sim.shot.trace import Room
from sim.units import MM_PER_M

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

SEAM_M = 0.003  # silicone along an inner edge, on each pane: common practice, no source


@dataclass(frozen=True, slots=True, eq=False)
class Stage:
    """Pieces and floor as one mesh, with what is needed to light it.

    Owners are numbered as the pieces of the scene; the floor comes after them.
    """

    pieces: tuple[str, ...]
    inner_m: Floats  # (3,)
    solids: EmbreeScene  # pieces and floor
    ground: EmbreeScene  # the floor alone
    vertices_m: Floats  # (n, 3)
    faces: NDArray[np.int32]  # (m, 3)
    owner: NDArray[np.int32]  # (m,)
    face_normals: Singles  # (m, 3)
    vertex_normals: Singles  # (n, 3)
    albedo: Singles  # (n, 3) linear
    light: Singles  # (n, 2) open sky and lamp
    turns: Floats  # (owners, 3, 3) from the tank's frame to the piece's own
    places_m: Floats  # (owners, 3)
    wooden: NDArray[np.bool_]  # (owners,)
    floor: Floor

    @property
    def floor_owner(self) -> int:
        """Number of the floor among the owners."""
        return len(self.pieces)


def set_stage(scene: Scene, pieces: list[PlacedPiece], lit: bool = True) -> Stage:
    """Pieces where they stand, on the scene's floor.

    Parameters
    ----------
    lit : bool
        Work out the light as well; a few seconds the first time. Without it only `solids` and what
        belongs to it may be used.
    """
    floor = floor_of(scene)
    meshes = [(piece.vertices_m(), piece.body.faces) for piece in pieces] + [(floor.vertices_m, floor.faces)]
    offsets = np.cumsum([0, *(len(vertices) for vertices, _ in meshes)])
    vertices = np.concatenate([mesh[0] for mesh in meshes])
    faces = np.concatenate([mesh[1] + start for mesh, start in zip(meshes, offsets, strict=False)]).astype(np.int32)
    corners = vertices[faces]
    crosses = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals = np.zeros_like(vertices)
    for corner in range(3):
        np.add.at(normals, faces[:, corner], crosses)  # area-weighted
    normals = unit(normals)
    solids = EmbreeScene()
    TriangleMesh(solids, vertices.astype(np.float32), faces)
    ground = EmbreeScene()
    TriangleMesh(ground, floor.vertices_m.astype(np.float32), floor.faces)
    inner_m = np.array(scene.tank.inner_mm) / MM_PER_M
    light = np.ones((len(vertices), 2))
    if lit:
        light = baked(solids, vertices, faces, normals, lamp_corners_m(inner_m))
    top_rgb = np.tile(floor.rgb[-1], (len(floor.vertices_m), 1))
    colours = np.concatenate([*(piece_colours(piece) for piece in pieces), top_rgb])
    return Stage(
        pieces=tuple(piece.id for piece in pieces),
        inner_m=inner_m,
        solids=solids,
        ground=ground,
        vertices_m=vertices,
        faces=faces,
        owner=np.repeat(np.arange(len(meshes), dtype=np.int32), [len(mesh[1]) for mesh in meshes]),
        face_normals=unit(crosses).astype(np.float32),
        vertex_normals=normals.astype(np.float32),
        albedo=to_linear(colours).astype(np.float32),
        light=light.astype(np.float32),
        turns=np.array([*(piece.rotation.T for piece in pieces), np.eye(3)]),
        places_m=np.array([*(piece.position_m for piece in pieces), np.zeros(3)]),
        wooden=np.array([*(piece.is_wood for piece in pieces), False]),
        floor=floor,
    )


def basin_of(scene: Scene, flooded: bool) -> Basin:
    """The tank of a scene as rays meet it, dry or filled to its water level."""
    return _basin(tank_of(scene, flooded), scene)


def room_of(scene: Scene, stage: Stage, flooded: bool, with_pieces: bool = True) -> Room:
    """What rays move in: the stage's pieces and floor, or the floor alone."""
    return Room(
        basin=basin_of(scene, flooded),
        solids=stage.solids if with_pieces else stage.ground,
        floor_m=stage.floor.height_m,
        top_m=float((stage.vertices_m if with_pieces else stage.floor.vertices_m)[:, 2].max()),
        absorbed=np.array(WATER_PER_M),
    )


def _basin(tank: Tank, scene: Scene) -> Basin:
    film = scene.tank.film
    length, depth, height = tank.inner_m
    return Basin(
        length_m=length,
        depth_m=depth,
        height_m=height,
        side_m=tank.side_m,
        base_m=scene.tank.base_mm / MM_PER_M,
        level_m=min(tank.level_m, height),
        water_n=tank.water_index,
        glass_n=tank.glass_index,
        film_left="left" in film,
        film_right="right" in film,
        film_back="back" in film,
        seam_m=SEAM_M,
    )
