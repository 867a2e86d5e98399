"""Writing a changed scene beside the old one."""

from __future__ import annotations

from pathlib import Path

from sim.errors import OutputError
from sim.scene import Scene


def keep_mesh_paths(scene: Scene, output: Path) -> None:
    """Mesh paths count from the scene's folder: another folder would break them.

    Raises
    ------
    OutputError
        When the scene has meshes and `output` lies elsewhere.
    """
    if any(entry.mesh is not None for entry in scene.piece) and output.resolve().parent != scene.folder.resolve():
        raise OutputError(f"{output}: the meshes are found from the scene's folder. Write into {scene.folder} too.")
