"""Which faces meet along which edge: bodies, open edges, and faces turned one way.

half-edge
    One side of a triangle, from one corner to the next; number ``3 * face + corner``.
partner
    The half-edge of the neighbouring face along the same edge. It runs the other way when
    both faces look to the same side of the surface.
open edge
    A half-edge without a partner: the rim of a hole.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from sim.errors import MeshError
from sim.pieces.welding import Indices


@dataclass(frozen=True, slots=True, eq=False)
class Edges:
    """The edges of a mesh, by how many faces meet there."""

    pairs: Indices  # (k, 2) half-edges of the edges with exactly two faces
    open: Indices  # (b,) half-edges of the edges with one face
    crowded: Indices  # (c,) half-edges of the edges with three faces or more
    crowd: Indices  # (c,) which crowded edge each of them belongs to


def find_edges(faces: Indices) -> Edges:
    """Sort the half-edges of a mesh by their edge."""
    begins, ends = half_edges(faces)
    span = int(faces.max()) + 1
    keys = np.minimum(begins, ends) * span + np.maximum(begins, ends)
    order = np.argsort(keys, kind="stable")
    keys = keys[order]
    starts = np.flatnonzero(np.append(True, keys[1:] != keys[:-1]))
    counts = np.diff(np.append(starts, len(keys)))
    twos = starts[counts == 2]
    many = np.repeat(counts > 2, counts)
    return Edges(
        pairs=np.column_stack([order[twos], order[twos + 1]]),
        open=order[starts[counts == 1]],
        crowded=order[many],
        crowd=np.repeat(np.arange(len(counts)), counts)[many],
    )


def half_edges(faces: Indices) -> tuple[Indices, Indices]:
    """First and last vertex of every half-edge, (3 m,) each."""
    return faces.reshape(-1), np.roll(faces, -1, axis=1).reshape(-1)


def label_bodies(faces: Indices, edges: Edges) -> NDArray[np.int32]:
    """Number the bodies: faces that hang together over edges with two faces, (m,)."""
    left, right = edges.pairs.T // 3
    links = coo_array((np.ones(len(left), dtype=np.int8), (left, right)), shape=(len(faces), len(faces)))
    _, labels = connected_components(links, directed=False)
    numbers: NDArray[np.int32] = labels.astype(np.int32)
    return numbers


def turn_alike(faces: Indices, edges: Edges) -> tuple[Indices, int]:
    """Turn faces so that all of a body look to the same side of its surface.

    Every face stands twice in a graph, once as it is and once turned; neighbours are linked in
    the way in which they agree. A surface with two sides then falls into two halves, and the
    half that holds a face as it is says whether to turn it.

    Returns
    -------
    faces : (m, 3) array
    turned : int
        How many faces were turned: at most half of each body.

    Raises
    ------
    MeshError
        When the surface has one side only, like a Möbius strip.
    """
    begins, _ = half_edges(faces)
    left, right = edges.pairs.T
    disagree = begins[left] == begins[right]
    if not disagree.any():
        return faces, 0
    count = len(faces)
    one, other = left // 3, right // 3
    shift = np.where(disagree, count, 0)
    rows, columns = np.concatenate([one, one + count]), np.concatenate([other + shift, other + count - shift])
    links = coo_array((np.ones(len(rows), dtype=np.int8), (rows, columns)), shape=(2 * count, 2 * count))
    _, labels = connected_components(links, directed=False)
    as_is, turned = labels[:count], labels[count:]
    if (as_is == turned).any():
        raise MeshError("its surface has only one side, so it bounds no solid. Remesh it in the scanning program.")
    flip = turned < as_is
    flip ^= _majority(flip, label_bodies(faces, edges))
    return np.where(flip[:, None], faces[:, ::-1], faces), int(flip.sum())


def _majority(flip: NDArray[np.bool_], body: NDArray[np.int32]) -> NDArray[np.bool_]:
    """Whether most faces of a face's body are to be turned: then the others are turned instead."""
    shares = np.bincount(body, weights=flip) / np.bincount(body)
    most: NDArray[np.bool_] = shares[body] > 0.5
    return most


def unbalanced_faces(faces: Indices, edges: Edges) -> Indices:
    """Faces at crowded edges where as many run one way as the other is not true."""
    if len(edges.crowded) == 0:
        return np.zeros(0, dtype=np.int64)
    begins, ends = half_edges(faces)
    _, crowd = np.unique(edges.crowd, return_inverse=True)
    runs = np.where(begins[edges.crowded] < ends[edges.crowded], 1, -1)
    uneven = np.bincount(crowd, weights=runs) != 0
    return np.unique(edges.crowded[uneven[crowd]] // 3)


def trace_rims(faces: Indices, edges: Edges) -> list[Indices]:
    """Chain the open half-edges to closed rims, each visiting a vertex once.

    Returns
    -------
    list of (k,) arrays
        Vertex indices, against the direction of the open half-edges: the way in which a cap has
        to run to look to the same side as the surface.

    Raises
    ------
    MeshError
        When the open edges do not chain to closed rims.
    """
    begins, ends = half_edges(faces)
    onward: dict[int, list[int]] = {}
    for begin, end in zip(ends[edges.open].tolist(), begins[edges.open].tolist(), strict=True):
        onward.setdefault(begin, []).append(end)
    rims: list[Indices] = []
    for start in list(onward):
        while onward[start]:
            rims.extend(_walk(start, onward))
    return rims


def _walk(start: int, onward: dict[int, list[int]]) -> list[Indices]:
    """Walk open edges from `start` back to it; a vertex met again cuts a rim off the way."""
    rims: list[Indices] = []
    way, place = [start], {start: 0}
    while way:
        following = onward.get(way[-1])
        if not following:
            raise MeshError("its open edges form no closed rims. Close its holes in the scanning program.")
        vertex = following.pop()
        if vertex not in place:
            place[vertex] = len(way)
            way.append(vertex)
            continue
        cut = place[vertex]
        rims.append(np.array(way[cut:], dtype=np.int64))
        for gone in way[cut + 1 :]:
            del place[gone]
        del way[cut + 1 :]
        if cut == 0:
            return rims
    return rims
