"""Everything of a session in one archive: scene with its meshes, pictures, report, GLB."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from sim.check import checked
from sim.pieces.placing import PlacedPiece
from sim.report import loads_picture, margin_picture, report_json, report_text
from sim.scene import Document, Scene, set_piece_key
from sim.shot.lens import lens_of
from sim.shot.scene_picture import draw_scene, png_bytes
from sim.shot.stage import set_stage
from sim.yard.bench import Laid
from sim.yard.meshes import light_mesh
from sim.yard.shooting import shot_png

if TYPE_CHECKING:
    from sim.yard.session import Session

SHOT_PX = 1440
UPRIGHT = np.array([[1.0, 0, 0, 0], [0, 0, 1.0, 0], [0, -1.0, 0, 0], [0, 0, 0, 1.0]])  # z up becomes y up, as in glTF
WHEN = (1980, 1, 1, 0, 0, 0)  # of every file in the archive: the same scene gives the same bytes


def export_zip(session: Session) -> bytes:
    """The archive, judged quickly unless the present version has been checked in full.

    Raises
    ------
    BedjointError
        When a mesh is gone, or there is no place for the camera.
    """
    with session.lock:
        text, laid, folder, version = session.text, session.laid, session.keeping.file.parent, session.version
    full = session.background.checked
    report, carrier = checked(laid.scene, laid.pieces, quick=True)
    files: dict[str, bytes] = {}
    document = Document(text)
    for entry in laid.scene.piece:
        source = entry.mesh_path(folder)
        if source is not None:
            name = f"meshes/{entry.id}{source.suffix.lower()}"
            files[name] = source.read_bytes()
            set_piece_key(document, entry.id, "mesh", name)
    files["scene.toml"] = document.text.encode()
    files["scene.glb"] = scene_glb(laid.scene, laid.pieces)
    if full is not None and full.version == version:
        files["report.txt"], files["report.json"] = full.text.encode(), _json(full.report)
    else:
        files["report.txt"], files["report.json"] = report_text(report).encode(), report_json(report).encode()
    files["margins.png"] = margin_picture(laid.scene, laid.pieces, report)
    files["loads.png"] = loads_picture(report, carrier)
    files["tank.png"] = png_bytes(draw_scene(laid.scene, laid.pieces).rgb)
    files |= _shots(laid)
    return _zipped(files)


def scene_glb(scene: Scene, pieces: list[PlacedPiece]) -> bytes:
    """Pieces with their colours as glTF 2.0 binary: metres, y up, one node per piece."""
    import trimesh

    made: Any = trimesh.Scene(metadata={"title": scene.title})
    for piece in pieces:
        light, colours = light_mesh(piece)
        mesh = trimesh.Trimesh(light.vertices_m, light.faces, vertex_colors=colours, process=False)
        pose = np.eye(4)
        pose[:3, :3], pose[:3, 3] = piece.rotation, piece.position_m
        made.add_geometry(mesh, node_name=piece.id, geom_name=piece.id, transform=UPRIGHT @ pose)
    return bytes(made.export(file_type="glb"))


def _shots(laid: Laid) -> dict[str, bytes]:
    lens, stage = lens_of(laid.scene), set_stage(laid.scene, laid.pieces)
    size_px = lens.size_px(SHOT_PX)
    names = {"shot_flooded.png": True, "shot_dry.png": False}
    return {name: shot_png(laid.scene, stage, lens, flooded, size_px, True) for name, flooded in names.items()}


def _json(report: dict[str, object]) -> bytes:
    import json

    return json.dumps(report, indent=2).encode()


def _zipped(files: dict[str, bytes]) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name in sorted(files):
            archive.writestr(zipfile.ZipInfo(Path(name).as_posix(), WHEN), files[name], zipfile.ZIP_DEFLATED)
    return stream.getvalue()
