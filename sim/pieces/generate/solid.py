"""From an implicit solid to a closed, coloured mesh.

Glossary
--------
field     a function of position, in mm, negative inside the piece and about the distance near its surface
paint     a function of position and outward normal that gives the colour
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import manifold3d
import numpy as np
from scipy import sparse

from sim.compiling import compiled
from sim.errors import MeshError
from sim.pieces.body import Body, Faces, Floats
from sim.pieces.collapsing import collapse_edges
from sim.pieces.crossings import crossing_pairs
from sim.pieces.mass import make_body
from sim.units import MM_PER_M

Field = Callable[[Floats], Floats]
Paint = Callable[[Floats, Floats], Floats]

RAW_PER_KEPT = 3.5  # the surface is drawn this much finer than it is kept, so that edges stay crisp


@dataclass(frozen=True, slots=True)
class Solid:
    """What a generator hands over: shape, colour and how finely to mesh them."""

    field: Field
    paint: Paint
    low_mm: Floats  # (3,) corner of a box that holds the solid
    high_mm: Floats  # (3,)
    area_mm2: float  # rough guess of the surface, which sets the mesh width
    faces: int  # triangles to keep


def smooth_max(a: Floats, b: Floats, radius: float) -> Floats:
    """Maximum of two fields with the edge between them rounded to about `radius` (mm)."""
    h = np.maximum(radius - np.abs(a - b), 0.0) / radius
    blended: Floats = np.maximum(a, b) + h * h * radius / 4.0
    return blended


def mesh_solid(solid: Solid, size_mm: Floats | None) -> Body:
    """Mesh a solid, paint it and stretch it to exact outer sizes.

    Parameters
    ----------
    solid : Solid
    size_mm : (3,) array or None
        Extents of the bounding box; None keeps the solid's own.

    Raises
    ------
    MeshError
        When the solid is empty, or its mesh is not a closed manifold.
    """
    vertices_mm, faces = _extract(solid)
    normals = _vertex_normals(vertices_mm, faces)
    colours = np.clip(np.rint(solid.paint(vertices_mm, normals)), 0, 255).astype(np.uint8)
    if size_mm is not None:
        vertices_mm = fit_to_box(vertices_mm, size_mm)
    return make_body(vertices_mm / MM_PER_M, faces, colours)


def fit_to_box(vertices: Floats, size: Floats) -> Floats:
    """Stretch (n, 3) vertices along the axes until their extents are exactly `size`."""
    low = vertices.min(axis=0)
    fitted: Floats = (vertices - low) * (size / np.ptp(vertices, axis=0)) - size / 2.0
    return fitted


def _extract(solid: Solid) -> tuple[Floats, Faces]:
    """Mesh finely and reduce; where that makes the surface cut through itself, mesh coarsely at once."""
    for raw_per_kept in (RAW_PER_KEPT, 1.0, 2.0, 0.6):
        vertices, faces = _surface(solid, raw_per_kept)
        reduced = _reduce(vertices, faces, solid.faces)
        if reduced is not None:
            return reduced
    raise MeshError("generator: this seed gives a surface that cuts through itself. Choose another seed.")


def _surface(solid: Solid, raw_per_kept: float) -> tuple[Floats, Faces]:
    # 4.1 triangles per squared edge length is what the tetrahedra of the level set give
    edge_mm = float(np.sqrt(4.1 * solid.area_mm2 / (raw_per_kept * solid.faces)))
    step_mm = edge_mm / 1.6
    low, high = solid.low_mm - 2.0 * edge_mm, solid.high_mm + 2.0 * edge_mm
    axes = [low[i] + step_mm * np.arange(int(np.ceil((high[i] - low[i]) / step_mm)) + 1) for i in range(3)]
    points = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
    grid = -solid.field(points).reshape([len(axis) for axis in axes])

    # called a hundred thousand times: numbers out of an array would take thrice as long
    low_x, low_y, low_z = low.tolist()

    def inside(x: float, y: float, z: float) -> float:
        value: float = _sample(grid, (x - low_x) / step_mm, (y - low_y) / step_mm, (z - low_z) / step_mm)
        return value

    surface = manifold3d.Manifold.level_set(inside, [*low.tolist(), *high.tolist()], edge_mm)
    bodies = surface.decompose()
    if not bodies:
        raise MeshError("generator: the options leave nothing of the piece. Choose larger sizes.")
    mesh = max(bodies, key=lambda body: float(body.volume())).to_mesh64()
    # copies: the library's own arrays may be read but not handed back to it
    vertices = np.array(mesh.vert_properties, dtype=np.float64)[:, :3].copy()
    faces = np.array(mesh.tri_verts, dtype=np.int32)
    return vertices, faces


def _settle(vertices: Floats, faces: Faces, passes: int) -> Floats:
    """Take the sawtooth of the marching grid off the arrises without shrinking the piece.

    References
    ----------
    Taubin, G. (1995). A Signal Processing Approach to Fair Surface Design. Weights 0.5 and -0.53.
    """
    ends = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    links = sparse.coo_matrix((np.ones(len(ends)), (ends[:, 0], ends[:, 1])), shape=(len(vertices),) * 2).tocsr()
    mean = sparse.diags_array(1.0 / np.asarray(links.sum(axis=1)).ravel()) @ links
    for weight in (0.5, -0.53) * passes:
        vertices = vertices + weight * (mean @ vertices - vertices)
    return vertices


def _reduce(vertices: Floats, faces: Faces, count: int) -> tuple[Floats, Faces] | None:
    """Keep about `count` triangles; less smoothing and more of them where the surface would cut through itself."""
    for passes in (3, 1, 0):
        settled = _settle(vertices, faces, passes)
        for factor in (1.0, 1.2, 1.5):
            kept, kept_faces = settled, faces
            if len(faces) > factor * count:
                kept, kept_faces = collapse_edges(settled.astype(np.float32), faces, int(factor * count))
            kept, kept_faces = _closed(kept, kept_faces)
            if crossing_pairs(kept, kept_faces) == 0:
                return kept, kept_faces
    return None


def _closed(vertices: Floats, faces: Faces) -> tuple[Floats, Faces]:
    solid = manifold3d.Manifold(
        manifold3d.Mesh64(
            vert_properties=np.ascontiguousarray(vertices, dtype=np.float64),
            tri_verts=np.ascontiguousarray(faces, dtype=np.uint64),
        )
    )
    if solid.status() != manifold3d.Error.NoError:
        raise MeshError(f"generator: the mesh is not closed ({solid.status().name}). Choose another seed.")
    mesh = solid.to_mesh64()
    return np.asarray(mesh.vert_properties)[:, :3].astype(np.float64), np.asarray(mesh.tri_verts).astype(np.int32)


@compiled  # type: ignore[untyped-decorator]
def _sample(grid: Floats, x: float, y: float, z: float) -> float:
    """Trilinear value of `grid` at a position counted in cells."""
    i = min(max(int(np.floor(x)), 0), grid.shape[0] - 2)
    j = min(max(int(np.floor(y)), 0), grid.shape[1] - 2)
    k = min(max(int(np.floor(z)), 0), grid.shape[2] - 2)
    total = 0.0
    for di in range(2):
        for dj in range(2):
            for dk in range(2):
                u = x - i if di else 1.0 - x + i
                v = y - j if dj else 1.0 - y + j
                w = z - k if dk else 1.0 - z + k
                total += u * v * w * grid[i + di, j + dj, k + dk]
    return total


def _vertex_normals(vertices: Floats, faces: Faces) -> Floats:
    triangles = vertices[faces]
    crosses = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    normals = np.zeros_like(vertices)
    for corner in range(3):
        np.add.at(normals, faces[:, corner], crosses)
    lengths = np.linalg.norm(normals, axis=1, keepdims=True)
    unit: Floats = normals / np.where(lengths > 0.0, lengths, 1.0)
    return unit
