"""Which touches belong to one patch: linked (`LINK_M`) and facing the same way.

Leader   a touch that stands for those of its cell that face the same way; only leaders are compared.
"""

from __future__ import annotations

import math

import numpy as np

from sim.compiling import inner
from sim.contact.sorting import sort_by

LINK_M = 4.0e-3
SAME_WAY = 0.9  # cosine between normals that belong to one patch
CELL_M = LINK_M / math.sqrt(3.0)  # any two touches in one cell are linked
ROW = 2.0**17  # cells in a row, 300 m of them: a cell's number is exact as a float
LAYER = ROW * ROW


@inner
def label_patches(rows, member):  # type: ignore[no-untyped-def]
    """Patch number of each touch rows[member], 0 upward, and how many there are."""
    n = len(member)
    label = np.empty(n, np.int64)
    if n == 0:
        return label, 0
    order, parent, group = np.empty(n, np.int64), np.empty(n, np.int64), np.empty(n, np.int64)
    for i in range(n):
        order[i], parent[i], label[i] = i, i, -1
    keys = _cell_keys(rows, member)
    sort_by(keys, order, 0, n)
    leader = _leaders(rows, member, keys, order, parent, group)
    _join_leaders(rows, member, keys, order, parent, group, leader)
    count = 0
    for i in range(n):
        root = _find(parent, i)
        if label[root] < 0:
            label[root] = count
            count += 1
    found = np.empty(n, np.int64)
    for i in range(n):
        found[i] = label[_find(parent, i)]
    return found, count


@inner
def _cell_keys(rows, member):  # type: ignore[no-untyped-def]
    """A number per touch for the cell that holds it; neighbouring cells differ by known steps."""
    low = np.full(3, np.inf)
    for i in member:
        for c in range(3):
            low[c] = min(low[c], rows[i, c] - 3.0 * CELL_M)
    keys = np.empty(len(member))
    for k in range(len(member)):
        key = 0.0
        for c in range(3):
            key = key * ROW + math.floor((rows[member[k], c] - low[c]) / CELL_M)
        keys[k] = key
    return keys


@inner
def _leaders(rows, member, keys, order, parent, group):  # type: ignore[no-untyped-def]
    """Leaders (m, 3): touch, and its cell's part of `order`; fills `parent`, and `group` with each one's leader."""
    n = len(member)
    leader = np.empty((n, 3), np.int64)
    leaders = i = 0
    while i < n:
        first, begin = leaders, i
        key = keys[order[i]]
        while i < n and keys[order[i]] == key:
            k = order[i]
            group[i] = leaders
            for j in range(first, leaders):
                if _same_way(rows, member[leader[j, 0]], member[k]):
                    parent[k] = leader[j, 0]
                    group[i] = j
                    break
            if group[i] == leaders:
                leader[leaders, 0] = k
                leaders += 1
            i += 1
        for j in range(first, leaders):
            leader[j, 1], leader[j, 2] = begin, i
    return leader[:leaders]


@inner
def _join_leaders(rows, member, keys, order, parent, group, leader):  # type: ignore[no-untyped-def]
    """Join in `parent` the leaders of near cells whose touches are linked."""
    for j in range(len(leader)):
        k = leader[j, 0]
        for dx in range(-2, 3):
            for dy in range(-2, 3):
                low = keys[k] + dx * LAYER + dy * ROW - 2.0
                at = _first_from(keys, leader, low)
                while at < len(leader) and keys[leader[at, 0]] <= low + 4.0:
                    other = leader[at, 0]
                    if at > j and _same_way(rows, member[k], member[other]):
                        one, two = _find(parent, k), _find(parent, other)
                        if one != two and _linked(rows, member, order, group, leader, j, at):
                            parent[one] = two
                    at += 1


@inner
def _first_from(keys, leader, low):  # type: ignore[no-untyped-def]
    """The first leader whose cell has that number or a higher one."""
    start, end = 0, len(leader)
    while start < end:
        middle = (start + end) // 2
        if keys[leader[middle, 0]] < low:
            start = middle + 1
        else:
            end = middle
    return start


@inner
def _linked(rows, member, order, group, leader, one, other):  # type: ignore[no-untyped-def]
    """Whether any touch that one leader stands for lies within `LINK_M` of any of another's."""
    for i in range(leader[one, 1], leader[one, 2]):
        if group[i] != one:
            continue
        p = member[order[i]]
        for j in range(leader[other, 1], leader[other, 2]):
            if group[j] == other:
                q = member[order[j]]
                x, y, z = rows[p, 0] - rows[q, 0], rows[p, 1] - rows[q, 1], rows[p, 2] - rows[q, 2]
                if x * x + y * y + z * z < LINK_M**2:
                    return True
    return False


@inner
def _same_way(rows, i, j):  # type: ignore[no-untyped-def]
    return rows[i, 3] * rows[j, 3] + rows[i, 4] * rows[j, 4] + rows[i, 5] * rows[j, 5] > SAME_WAY


@inner
def _find(parent, i):  # type: ignore[no-untyped-def]
    while parent[i] != i:
        parent[i] = parent[parent[i]]
        i = parent[i]
    return i
