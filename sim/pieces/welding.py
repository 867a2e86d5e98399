"""Weld split vertices by position, and drop the faces that this leaves useless.

Scanners and exporters split a vertex where its normal, colour or texture place changes; the
surface is then open along every such seam although it looks closed.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from sim.pieces.body import Colours, Floats

Indices = NDArray[np.int64]


def weld_equal(vertices: Floats) -> tuple[Indices, Indices]:
    """Group the vertices that have the same coordinates, bit for bit.

    Returns
    -------
    first : (k,) array, one vertex of each group
    group : (n,) array, the group of each vertex
    """
    bits = (np.ascontiguousarray(vertices) + 0.0).view(np.uint64)  # + 0.0 turns -0 into 0
    keys = np.zeros(len(bits), dtype=np.uint64)
    for axis in range(3):
        # mixed so that coordinates on a grid do not cancel each other
        keys = (keys ^ bits[:, axis]) * np.uint64(0x9E3779B97F4A7C15)
        keys ^= keys >> np.uint64(29)
    _, first, group = np.unique(keys, return_index=True, return_inverse=True)
    if (vertices[first][group] != vertices).any():  # two places with one key
        _, first, group = np.unique(vertices + 0.0, axis=0, return_index=True, return_inverse=True)
    return first.astype(np.int64), group.reshape(-1).astype(np.int64)


def weld_near(vertices: Floats, which: Indices, tolerance: float) -> Indices:
    """New index for every vertex, with those of `which` closer than `tolerance` made one."""
    target = np.arange(len(vertices), dtype=np.int64)
    pairs = cKDTree(vertices[which]).query_pairs(tolerance, output_type="ndarray")
    if len(pairs) == 0:
        return target
    links = coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(len(which), len(which)))
    _, labels = connected_components(links, directed=False)
    _, lead = np.unique(labels, return_index=True)
    target[which] = which[lead[labels]]
    return target


def mean_colours(colours: Colours, group: Indices, count: int) -> Colours:
    """Mean colour of each group of vertices."""
    sizes = np.maximum(np.bincount(group, minlength=count), 1)
    sums = [np.bincount(group, weights=colours[:, channel], minlength=count) for channel in range(3)]
    return np.rint(np.column_stack(sums) / sizes[:, None]).astype(np.uint8)


def drop_unused(vertices: Floats, faces: Indices, colours: Colours | None) -> tuple[Floats, Indices, Colours | None]:
    """Leave out vertices that no face names."""
    used = np.zeros(len(vertices), dtype=bool)
    used[faces.reshape(-1)] = True
    if used.all():
        return vertices, faces, colours
    new = np.cumsum(used, dtype=np.int64) - 1
    return vertices[used], new[faces], None if colours is None else colours[used]


def useful_faces(faces: Indices) -> tuple[Indices, int, int]:
    """Leave out faces with a corner named twice, and faces that repeat another.

    Of two equal faces that look the same way one stays. Two that look opposite ways are a flap
    without thickness and both go, unless the whole mesh is exported two-sided.

    Returns
    -------
    faces : (k, 3) array
    degenerate, repeated : int
        How many went for which reason.
    """
    a, b, c = faces.T
    kept = faces[(a != b) & (b != c) & (c != a)]
    degenerate = len(faces) - len(kept)
    if len(kept) == 0:
        return kept, degenerate, 0
    ordered = np.sort(kept, axis=1)
    order = np.lexsort(ordered.T[::-1])
    starts = np.ones(len(kept), dtype=bool)
    starts[1:] = (ordered[order[1:]] != ordered[order[:-1]]).any(axis=1)
    if starts.all():
        return kept, degenerate, 0
    # a turn of the corners that keeps their cycle is the same side of the same face
    cycle = np.argmin(kept, axis=1)
    second = np.take_along_axis(kept, ((cycle + 1) % 3)[:, None], axis=1)[:, 0]
    facing = np.where(second == ordered[:, 1], 1, -1)[order]
    bounds = np.flatnonzero(starts)
    net = np.add.reduceat(facing, bounds)
    stays = np.abs(net) > 0
    if (~stays).sum() > 0.4 * len(bounds):
        stays[:] = True
    # of a group the first one that looks the way of the majority
    wanted = np.repeat(np.where(net >= 0, 1, -1), np.diff(np.append(bounds, len(order))))
    fits = np.where(facing == wanted, np.arange(len(order)), len(order))
    chosen = np.minimum.reduceat(fits, bounds)[stays]
    result = kept[np.sort(order[chosen])]
    return result, degenerate, len(kept) - len(result)
