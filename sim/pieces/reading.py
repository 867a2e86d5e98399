"""Read a mesh file as it is: coordinates in the file's own units, nothing repaired."""

from __future__ import annotations

import logging
import os
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import trimesh
from numpy.typing import NDArray
from trimesh.resolvers import FilePathResolver

from sim.errors import MeshError
from sim.pieces.body import Colours, Floats
from sim.pieces.claims import check_claims

KINDS = ("stl", "ply", "obj", "glb", "gltf", "3mf")

# units that a 3MF file may declare -> (our unit, factor on the coordinates)
DECLARED_3MF = {
    "micron": ("mm", 0.001),
    "millimeter": ("mm", 1.0),
    "centimeter": ("cm", 1.0),
    "meter": ("m", 1.0),
    "inch": ("in", 1.0),
    "foot": ("in", 12.0),
}


@dataclass(frozen=True, slots=True, eq=False)
class RawMesh:
    """A mesh as its file has it."""

    file: str
    vertices: Floats  # (n, 3), in the units of the file
    faces: NDArray[np.int64]  # (m, 3)
    colours: Colours | None  # (n, 3) sRGB per vertex
    declared_units: str | None  # "mm", "cm", "m", "in", or None when the file does not say


def read_mesh(path: str | os.PathLike[str]) -> RawMesh:
    """Read an STL, PLY, OBJ, GLB, GLTF or 3MF file.

    Several objects in one file are put together as the file places them. Colours come from the
    vertices, or from a texture sampled at them.

    Returns
    -------
    RawMesh
        All coordinates finite, all face indices valid; nothing else is promised.

    Raises
    ------
    MeshError
        When the file is missing, unreadable, of another kind, cut short or without triangles.
    """
    file = Path(path)
    kind = _kind_of(file)
    try:
        if file.is_dir():
            raise MeshError(f"{file}: is a folder. Name the mesh files in it.")
        if file.stat().st_size == 0:
            raise MeshError(f"{file}: is empty. Copy or export the scan again.")
        check_claims(file, kind)
        with file.open("rb") as stream:
            scene = _load(file, stream, kind)
    except OSError as error:
        reason = error.strerror or str(error)
        raise MeshError(f"{file}: cannot be read ({reason}). Check its name and permissions.") from error
    unit, factor = _declared_units(file, kind, scene)
    return _checked(file, *_gather(file, scene, factor), unit)


def _kind_of(file: Path) -> str:
    kind = file.suffix.lower().removeprefix(".")
    if kind in KINDS or file.is_dir() or not file.exists():
        return kind
    raise MeshError(f"{file}: is no kind of mesh that can be read. Export the scan as STL, PLY, OBJ, GLB or 3MF.")


def _load(file: Path, stream: Any, kind: str) -> Any:
    with _quiet():
        try:
            return trimesh.load_scene(stream, file_type=kind, resolver=FilePathResolver(str(file)), process=False)
        # the reader meets arbitrary bytes, and each of its parsers fails in its own ways
        except Exception as error:
            if isinstance(error, OSError) and error.errno is not None:
                raise
            raise MeshError(
                f"{file}: cannot be read as {kind.upper()}: broken or cut short. Copy or export the scan again."
            ) from error


@contextmanager
def _quiet() -> Iterator[None]:
    """A broken texture or material is no news to the user: the shape counts."""
    logger = logging.getLogger("trimesh")
    level = logger.level
    logger.setLevel(logging.CRITICAL + 1)
    try:
        with warnings.catch_warnings(), np.errstate(all="ignore"):
            warnings.simplefilter("ignore")
            yield
    finally:
        logger.setLevel(level)


def _declared_units(file: Path, kind: str, scene: Any) -> tuple[str | None, float]:
    """glTF 2.0 fixes metres; a 3MF names its unit, by default millimetres."""
    if kind in ("glb", "gltf"):
        return "m", 1.0
    if kind != "3mf":
        return None, 1.0
    name = str(scene.metadata.get("units") or scene.units or "millimeter").lower().rstrip("s")
    if name not in DECLARED_3MF:
        raise MeshError(f"{file}: declares an unknown unit ({name[:30]}). Export the scan again in millimetres.")
    return DECLARED_3MF[name]


def _gather(file: Path, scene: Any, factor: float) -> tuple[Floats, NDArray[np.int64], Colours | None]:
    """Put the placed meshes of a file into one list of triangles."""
    vertices, faces, colours, count = [], [], [], 0
    with _quiet():
        try:
            for node in scene.graph.nodes_geometry:
                placing, name = scene.graph[node]
                mesh = scene.geometry[name]
                if not isinstance(mesh, trimesh.Trimesh) or len(mesh.faces) == 0:
                    continue
                corners = np.asarray(mesh.faces, dtype=np.int64)
                points = np.asarray(mesh.vertices, dtype=np.float64)
                if not np.array_equal(placing, np.eye(4)):
                    points = points @ placing[:3, :3].T + placing[:3, 3]
                    # a mirroring turns every triangle inside out
                    corners = corners[:, ::-1] if np.linalg.det(placing[:3, :3]) < 0.0 else corners
                vertices.append(points if factor == 1.0 else points * factor)
                faces.append(corners + count if count else corners)
                colours.append(_vertex_colours(mesh))
                count += len(points)
        # see `_load`
        except Exception as error:
            raise MeshError(f"{file}: holds a broken mesh. Export the scan again.") from error
    if not faces:
        raise MeshError(f"{file}: holds no triangles. Export the scan as a triangle mesh, not as points or curves.")
    together = _one_colouring(colours, [len(points) for points in vertices])
    if len(faces) == 1:
        return vertices[0], faces[0], together
    return np.concatenate(vertices), np.concatenate(faces), together


def _vertex_colours(mesh: Any) -> Colours | None:
    """Colours of one mesh's vertices, or None; a broken texture counts as none."""
    try:
        own = mesh.vertex_attributes.get("color")
        if own is None and mesh.visual.kind == "texture":
            own = mesh.visual.to_color().vertex_colors if _has_picture(mesh.visual.material) else None
        elif own is None and mesh.visual.kind in ("vertex", "face"):
            own = mesh.visual.vertex_colors
        if own is None or np.shape(own)[0] != len(mesh.vertices) or np.shape(own)[1] < 3:
            return None
        values = np.asarray(own)[:, :3]
        if values.dtype.kind == "f":
            values = np.rint(np.nan_to_num(values).clip(0.0, 1.0) * 255.0)
        return np.ascontiguousarray(values.astype(np.uint8))
    except Exception:  # colours are no reason to lose a shape
        return None


def _has_picture(material: Any) -> bool:
    """Whether a material colours anything: without, the reader paints a plain grey of its own."""
    names = ("image", "baseColorTexture", "baseColorFactor")
    return any(getattr(material, name, None) is not None for name in names)


def _one_colouring(colours: list[Colours | None], counts: list[int]) -> Colours | None:
    """Colours of all meshes, where at least one has some; the others take its mean."""
    known = [own for own in colours if own is not None]
    if not known:
        return None
    if len(colours) == 1:
        return known[0]
    mean = np.rint(np.concatenate(known).mean(axis=0)).astype(np.uint8)
    filled = [own if own is not None else np.tile(mean, (count, 1)) for own, count in zip(colours, counts, strict=True)]
    return np.concatenate(filled)


def _checked(
    file: Path, vertices: Floats, faces: NDArray[np.int64], colours: Colours | None, units: str | None
) -> RawMesh:
    if vertices.ndim != 2 or vertices.shape[1] != 3 or faces.ndim != 2 or faces.shape[1] != 3:
        raise MeshError(f"{file}: holds a broken mesh. Export the scan again.")
    unusable = int((~np.isfinite(vertices).all(axis=1)).sum())
    if unusable:
        raise MeshError(
            f"{file}: {unusable} of {len(vertices)} vertices have coordinates that are no numbers (NaN or infinite). "
            "Clean the scan in its program and export it again."
        )
    if faces.min() < 0 or faces.max() >= len(vertices):
        raise MeshError(f"{file}: has faces that name missing vertices. Export the scan again.")
    size = float(np.ptp(vertices, axis=0).max())
    if not 1e-9 < size < 1e9:
        raise MeshError(f"{file}: is {size:.3g} units across, which is no stone in any unit. Export the scan again.")
    return RawMesh(str(file), vertices, faces, colours, units)
