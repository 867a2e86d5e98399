"""Turn a raw scan into one closed body, and say everything that was done to it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import manifold3d
import numpy as np

from sim.errors import MeshError
from sim.pieces.body import Colours, Faces, Floats
from sim.pieces.closing import Cap, cap_rim, count_piercings
from sim.pieces.facing import Edges, find_edges, half_edges, label_bodies, trace_rims, turn_alike, unbalanced_faces
from sim.pieces.reading import RawMesh
from sim.pieces.welding import Indices, drop_unused, mean_colours, useful_faces, weld_equal, weld_near

WELD_TOLERANCE = 1e-5  # of the piece's size: 3 micrometres on a stone of 300 mm
LEAST_FULLNESS = 1e-6  # volume over the cube of the size: less is a flat sheet
ROUNDS = 4  # of taking crowded edges apart


@dataclass(frozen=True, slots=True, eq=False)
class Repaired:
    """One closed manifold body, in the units of its file.

    `volume_before` is that of the largest body as scanned, its openings closed by fans of
    triangles about the middles of their rims.
    """

    vertices: Floats  # (n, 3)
    faces: Faces  # (m, 3), outward
    colours: Colours | None  # (n, 3)
    notes: tuple[str, ...]
    warnings: tuple[str, ...]
    volume_before: float
    volume: float


@dataclass(slots=True, eq=False)
class _Work:
    """The mesh under repair."""

    vertices: Floats
    faces: Indices
    colours: Colours | None
    size: float
    notes: list[str]
    warnings: list[str]


def repair(raw: RawMesh, *, caps: bool = True) -> Repaired:
    """Weld, turn outward, keep the largest body, close it and make it manifold.

    Parameters
    ----------
    raw : RawMesh
    caps : bool
        False: closed meshes only; an opening of any size is an error.

    Returns
    -------
    Repaired

    Raises
    ------
    MeshError
        When the mesh bounds no volume, or has an opening that cannot be closed in good faith.
    """
    with _named(raw.file):
        work = _welded(raw)
        edges, before = _largest_body(work)
        edges = _uncrowded(work, edges)
        if len(edges.open):
            if not caps:
                raise MeshError(f"is open along {len(edges.open)} edges. Bring it in with: bedjoint piece import.")
            _close(work, edges)
        return _manifold(work, abs(before))


@contextmanager
def _named(file: str) -> Iterator[None]:
    """Put the file's name before what is wrong with its mesh."""
    try:
        yield
    except MeshError as error:
        raise MeshError(f"{file}: {error}") from error


def _welded(raw: RawMesh) -> _Work:
    """Weld split vertices: the equal ones everywhere, the nearly equal ones along open edges."""
    first, group = weld_equal(raw.vertices)
    colours = None if raw.colours is None else mean_colours(raw.colours, group, len(first))
    vertices = raw.vertices[first]
    size = float(np.ptp(vertices, axis=0).max())
    work = _Work(vertices, group[raw.faces], colours, size, [], [])
    merged = len(raw.vertices) - len(first)
    degenerate, repeated = _drop_useless(work)
    _refuse_few(work.faces)
    rim = np.unique(_open_ends(work.faces))
    if len(rim):
        target = weld_near(work.vertices, rim, WELD_TOLERANCE * size)
        merged += int((target != np.arange(len(target))).sum())
        work.faces = target[work.faces]
        more = _drop_useless(work)
        degenerate, repeated = degenerate + more[0], repeated + more[1]
        _refuse_few(work.faces)
    _note_count(work, merged, "welded", "split vertex", "split vertices")
    _note_count(work, degenerate, "removed", "degenerate face")
    _note_count(work, repeated, "removed", "repeated face")
    return work


def _open_ends(faces: Indices) -> Indices:
    """Vertices at open edges."""
    begins, ends = half_edges(faces)
    rim = find_edges(faces).open
    return np.concatenate([begins[rim], ends[rim]])


def _drop_useless(work: _Work) -> tuple[int, int]:
    work.faces, degenerate, repeated = useful_faces(work.faces)
    return degenerate, repeated


def _refuse_few(faces: Indices) -> None:
    if len(faces) < 4:
        raise MeshError(f"has {len(faces)} usable triangles and encloses no volume. Export the whole scan.")


def _note_count(work: _Work, count: int, done: str, one: str, many: str | None = None) -> None:
    """Note what was done to `count` things."""
    if count:
        work.notes.append(f"{done} {count:,} {one if count == 1 else many or one + 's'}")


def _largest_body(work: _Work) -> tuple[Edges, float]:
    """Turn the faces alike and keep the body that encloses most, outward."""
    edges = find_edges(work.faces)
    work.faces, turned = turn_alike(work.faces, edges)
    _note_count(work, turned, "turned", "face that looked the other way", "faces that looked the other way")
    labels = label_bodies(work.faces, edges)
    volumes = _body_volumes(work, edges, labels)
    largest = int(np.argmax(np.abs(volumes)))
    if not abs(volumes[largest]) > LEAST_FULLNESS * work.size**3:
        raise MeshError("encloses no volume: it is flat, or a sheet with two sides. Export the whole scan.")
    if len(volumes) > 1:
        others = np.delete(np.abs(volumes), largest)
        share = 100.0 * float(others.max()) / abs(float(volumes[largest]))
        work.notes.append(
            f"dropped {len(others):,} smaller {'body' if len(others) == 1 else 'bodies'}, "
            f"the largest {_percent(share)} of the volume kept"
        )
        if share > 5.0:
            work.warnings.append(
                f"a dropped body holds {_percent(share)} of the volume kept: if it is a second stone, "
                "export it as a file of its own"
            )
        work.faces = work.faces[labels == largest]
    if volumes[largest] < 0.0:
        work.faces = work.faces[:, ::-1]
        work.notes.append("turned the faces outward: they looked inward")
    work.vertices, work.faces, work.colours = drop_unused(work.vertices, work.faces, work.colours)
    work.size = float(np.ptp(work.vertices, axis=0).max())
    return find_edges(work.faces), float(volumes[largest])


def _percent(share: float) -> str:
    return f"{share:.1f} %" if share >= 0.1 else "under 0.1 %"


def _body_volumes(work: _Work, edges: Edges, labels: Faces) -> Floats:
    """Signed volume of every body, its openings closed by fans about one point."""
    count = int(labels.max()) + 1
    points = work.vertices - work.vertices.mean(axis=0)
    begins, ends = half_edges(work.faces)
    # the fans of a body start from the mean of its open edges: flat rims are closed exactly so
    at_rim = labels[edges.open // 3]
    rims = np.maximum(np.bincount(at_rim, minlength=count), 1)
    tips = np.column_stack(
        [np.bincount(at_rim, weights=points[begins[edges.open], axis], minlength=count) / rims for axis in range(3)]
    )
    volumes = np.zeros(count)
    for start in range(0, len(work.faces), 500_000):
        part = slice(start, start + 500_000)
        a, b, c = (points[work.faces[part, corner]] for corner in range(3))
        volumes += np.bincount(labels[part], weights=_determinants(a, b, c), minlength=count)
    fans = _determinants(points[ends[edges.open]], points[begins[edges.open]], tips[at_rim])
    total: Floats = (volumes + np.bincount(at_rim, weights=fans, minlength=count)) / 6.0
    return total


def _determinants(a: Floats, b: Floats, c: Floats) -> Floats:
    values: Floats = np.einsum("ij,ij->i", a, np.cross(b, c))
    return values


def _uncrowded(work: _Work, edges: Edges) -> Edges:
    """Take out the faces at edges where three or more meet and do not pair, and what they cut off."""
    removed = 0
    for _ in range(ROUNDS):
        uneven = unbalanced_faces(work.faces, edges)
        if len(uneven) == 0:
            break
        removed += len(uneven)
        work.faces = np.delete(work.faces, uneven, axis=0)
        _refuse_few(work.faces)
        labels = label_bodies(work.faces, find_edges(work.faces))
        work.faces = work.faces[labels == np.argmax(np.bincount(labels))]
        edges = find_edges(work.faces)
    else:
        raise MeshError("has edges where more than two faces meet. Remesh it in the scanning program.")
    _note_count(work, removed, "took out", "face at a crowded edge", "faces at crowded edges")
    return edges


def _close(work: _Work, edges: Edges) -> None:
    """Cap every rim."""
    caps = [cap_rim(work.vertices, rim, work.size) for rim in trace_rims(work.faces, edges)]
    surface = work.faces
    work.faces = np.concatenate([surface, *(cap.faces for cap in caps)])
    small = [cap for cap in caps if cap.is_small]
    if small:
        widest = max(cap.width for cap in small)
        work.notes.append(
            f"closed {len(small)} small {'hole' if len(small) == 1 else 'holes'}, "
            f"at most {_percent(100.0 * widest / work.size)} of the size wide"
        )
    for cap in caps:
        if not cap.is_small:
            _tell_cap(work, surface, cap)


def _tell_cap(work: _Work, surface: Indices, cap: Cap) -> None:
    uneven = 100.0 * cap.departure / cap.width
    pierced = count_piercings(work.vertices, surface, cap.faces)
    if pierced:
        raise MeshError(
            f"has an open side whose flat cap would cut through its surface at {pierced} edges, so its volume "
            "would be wrong. Close it in the scanning program, or trim the scan along a plane and import it again."
        )
    work.notes.append(
        f"closed an open side with a flat cap; its rim departs at most {_percent(uneven)} of its width from a plane"
    )
    if uneven > 2.0:
        work.warnings.append(
            f"the rim of the open side departs {_percent(uneven)} of its width from a plane: "
            "the underside is only as good as that"
        )


def _manifold(work: _Work, before: float) -> Repaired:
    """Hand the closed mesh to manifold3d, which proves that it is a manifold or refuses it."""
    middle = (work.vertices.min(axis=0) + work.vertices.max(axis=0)) / 2.0
    points = work.vertices - middle
    columns = points if work.colours is None else np.column_stack([points, work.colours.astype(np.float64)])
    solid = manifold3d.Manifold(
        manifold3d.Mesh64(np.ascontiguousarray(columns), np.ascontiguousarray(work.faces, dtype=np.uint64))
    )
    if solid.status() != manifold3d.Error.NoError or solid.is_empty():
        raise MeshError("stays open or crosses itself after repair. Remesh it in the scanning program.")
    mesh = solid.to_mesh64()
    values = np.asarray(mesh.vert_properties)
    volume = float(solid.volume())
    if not volume > LEAST_FULLNESS * work.size**3:
        raise MeshError("encloses no volume: it is flat, or a sheet with two sides. Export the whole scan.")
    colours = None if work.colours is None else np.rint(values[:, 3:6]).clip(0, 255).astype(np.uint8)
    return Repaired(
        vertices=np.ascontiguousarray(values[:, :3] + middle),
        faces=np.asarray(mesh.tri_verts).astype(np.int32),
        colours=colours,
        notes=tuple(work.notes),
        warnings=tuple(work.warnings),
        volume_before=before,
        volume=volume,
    )
