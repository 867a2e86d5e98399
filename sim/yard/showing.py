"""The state of a session as the page shows it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from scipy.spatial.transform import Rotation

from sim.base.ground import layer_depth_m
from sim.errors import BedjointError
from sim.pieces.placing import PlacedPiece
from sim.pieces.turning import turns_from_rotation
from sim.scene import PieceEntry, Scene
from sim.shot.lens import lens_of
from sim.states import Misplaced
from sim.units import MM_PER_M
from sim.yard.bench import Bench, Laid
from sim.yard.history import Desk
from sim.yard.meshes import Meshes
from sim.yard.protocol import (
    CameraState,
    FaultState,
    JointState,
    ModuleState,
    PieceState,
    Point,
    Quaternion,
    ShelfItem,
    TankState,
)

STONE, WOOD = "#a49a8a", "#96846e"  # of the pictures of a scene


def triple(values: Iterable[float]) -> Point:
    """Three plain numbers."""
    x, y, z = (float(value) for value in values)
    return (x, y, z)


def quaternion(rotation: np.ndarray) -> Quaternion:
    """Quaternion (w, x, y, z) of a rotation (3, 3), with w not negative."""
    x, y, z, w = (float(value) for value in Rotation.from_matrix(rotation).as_quat(canonical=True))
    return (w, x, y, z)


def pieces_shown(laid: Laid, desk: Desk, meshes: Meshes, only: Sequence[int] | None = None) -> tuple[PieceState, ...]:
    """Pieces in their places."""
    module_of = {name: module.id for module in laid.scene.module for name in module.pieces}
    chosen = range(len(laid.pieces)) if only is None else only
    return tuple(_piece(laid, k, desk, meshes, module_of.get(laid.pieces[k].id)) for k in chosen)


def _piece(laid: Laid, k: int, desk: Desk, meshes: Meshes, module: str | None) -> PieceState:
    piece, (low, high) = laid.pieces[k], laid.boxes[k]
    return PieceState(
        id=piece.id,
        mesh=meshes.key(piece),
        position_mm=triple(piece.position_m * MM_PER_M),
        quaternion=quaternion(piece.rotation),
        at_mm=triple(np.array([*(low + high)[:2] / 2.0, low[2]]) * MM_PER_M),
        turn_deg=triple(turns_from_rotation(piece.rotation)),
        size_mm=triple((high - low) * MM_PER_M),
        mass_kg=piece.mass_kg,
        material=_material(piece),
        wood=piece.is_wood,
        fixed=piece.fixed,
        hidden=piece.id in desk.hidden,
        locked=piece.id in desk.locked,
        module=module,
        colour=WOOD if piece.is_wood else STONE,
    )


def faults_shown(faults: Iterable[Misplaced]) -> tuple[FaultState, ...]:
    """Faults of place, each in words."""
    return tuple(
        FaultState(one.piece, one.other, one.fault, one.by_mm, str(one))  # type: ignore[arg-type]  # one of the three
        for one in faults
    )


def shelf_shown(laid: Laid, desk: Desk, bench: Bench, meshes: Meshes) -> tuple[ShelfItem, ...]:
    """Stones at hand first, then those in the tank, each body once."""
    scene = laid.scene
    users: dict[str, list[int]] = {}
    for k, piece in enumerate(laid.pieces):
        users.setdefault(meshes.key(piece), []).append(k)
    shown, there = [], set()
    for one in desk.shelf:
        entry = entry_of(one.item, dict(one.keys))
        try:
            piece = bench.made(scene, entry)
        except BedjointError:  # its file is gone
            continue
        key = meshes.key(piece)
        there.add(key)
        names = tuple(laid.pieces[k].id for k in users.get(key, []))
        shown.append(_item(one.item, piece, entry, key, names))
    for key, numbers in users.items():
        if key not in there:
            first = laid.pieces[numbers[0]]
            names = tuple(laid.pieces[k].id for k in numbers)
            shown.append(_item(first.id, first, scene.piece[numbers[0]], key, names))
    return tuple(shown)


def entry_of(item: str, keys: dict[str, object]) -> PieceEntry:
    """A stone of the shelf as an entry of a scene, at the origin."""
    return PieceEntry.model_validate({"id": item, **keys, "at_mm": [0.0, 0.0, 0.0]})


def _item(item: str, piece: PlacedPiece, entry: PieceEntry, key: str, used_by: tuple[str, ...]) -> ShelfItem:
    size_mm = triple(np.ptp(piece.body.vertices_m, axis=0) * MM_PER_M)
    source = "scan" if entry.mesh else "stand-in" if entry.stand_in else "generated"
    return ShelfItem(item, key, size_mm, piece.mass_kg, _material(piece), source, used_by)  # type: ignore[arg-type]


def _material(piece: PlacedPiece) -> str:
    return piece.material.name if piece.material is not None else ""


def joints_shown(scene: Scene) -> tuple[JointState, ...]:
    """Declared joints."""
    return tuple(JointState(joint.between, joint.kind, joint.glue) for joint in scene.joint)


def modules_shown(scene: Scene) -> tuple[ModuleState, ...]:
    """Modules."""
    return tuple(ModuleState(module.id, module.pieces) for module in scene.module)


def tank_shown(scene: Scene) -> TankState:
    """The tank and what fills it."""
    tank = scene.tank
    middle_m, depth_m = tank.inner_mm[0] / 2.0 / MM_PER_M, tank.inner_mm[1] / MM_PER_M
    edges = np.array([[middle_m, 0.0], [middle_m, depth_m]])
    ground = sum((layer_depth_m(layer, scene, edges) for layer in scene.ground.layers), np.zeros(2)) * MM_PER_M
    return TankState(
        inner_mm=tank.inner_mm,
        base_mm=tank.base_mm,
        side_mm=tank.side_mm,
        floor_mm=tank.under_stones.thickness_mm or 0.0,
        water_mm=scene.water_level_mm,
        ground_mm=(float(ground[0]), float(ground[1])),
        film=tank.film,
        background=(scene.background.top, scene.background.bottom),
    )


def camera_shown(scene: Scene) -> CameraState:
    """The camera; of a lens that fits nowhere, in front of the middle of the tank."""
    camera = scene.camera
    length, depth, height = scene.tank.inner_mm
    position, look_at = (length / 2.0, -2.0 * length, height / 2.0), (length / 2.0, depth / 2.0, height / 2.0)
    up, angles = (0.0, 0.0, 1.0), (40.0, 27.0)
    try:
        lens = lens_of(scene)
    except BedjointError:
        pass
    else:
        position = triple(lens.position_m * MM_PER_M)
        look_at = camera.look_at_mm or triple((lens.position_m + lens.axes[2] * lens.focus_m) * MM_PER_M)
        up = triple(-lens.axes[1])
        across, upward, _ = lens.angles_of_view_rad()
        angles = (float(np.degrees(across)), float(np.degrees(upward)))
    return CameraState(
        position_mm=position,
        look_at_mm=look_at,
        up=up,
        focal_mm=camera.focal_mm,
        sensor_mm=camera.sensor_mm,
        aperture=camera.aperture,
        crop=camera.crop,
        angles_deg=angles,
        given=camera.position_mm is not None,
    )
