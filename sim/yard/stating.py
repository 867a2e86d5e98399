"""The whole state of a session as one telling."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sim.materials import ADHESIVES, ROCKS, WOODS
from sim.yard.importing import KINDS, LARGEST_MB
from sim.yard.legends import legends
from sim.yard.protocol import State
from sim.yard.showing import (
    camera_shown,
    faults_shown,
    joints_shown,
    modules_shown,
    pieces_shown,
    shelf_shown,
    tank_shown,
)

if TYPE_CHECKING:
    from sim.yard.changing import Changing


def state_of(session: Changing) -> State:
    """Everything that a window shows apart from answers."""
    laid, desk, keeping = session.laid, session.desk, session.keeping
    scene, history = laid.scene, keeping.history
    return State(
        version=session.version,
        title=scene.title or keeping.file.stem,
        file=keeping.file.name,
        saved=keeping.saved,
        undo=history.done[-1].what if history.done else None,
        redo=history.undone[-1].what if history.undone else None,
        tank=tank_shown(scene),
        camera=camera_shown(scene),
        pieces=pieces_shown(laid, desk, session.meshes),
        joints=joints_shown(scene),
        modules=modules_shown(scene),
        shelf=shelf_shown(laid, desk, session.bench, session.meshes),
        faults=faults_shown(session.faults_so_far),
        kept=("opened", "saved", *keeping.kept),
        legends=legends(),
        rocks=tuple(ROCKS),
        woods=tuple(WOODS),
        glues=tuple(ADHESIVES),
        upload_mb=LARGEST_MB,
        upload_kinds=KINDS,
        concept=scene.photo.concept is not None,
        opacity=scene.photo.opacity,
    )
