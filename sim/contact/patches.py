"""From touch points to patches: where one piece bears on another, by outline, normal and area.

Patch    touches that are linked (`LINK_M`) and face the same way; its outline is the convex
         hull in its own plane.
Corner   a point of the reduced outline: few, but with the whole outline's lever in every
         direction to within `LEVER_LOSS`.
"""

from __future__ import annotations

import math

import numpy as np

from sim.contact.tree import compiled

LINK_M = 4.0e-3
SAME_WAY = 0.9  # cosine between normals that belong to one patch
LEVER_LOSS = 0.01
DIRECTIONS = 48
POINT_AREA_M2 = 1.0e-6  # a point contact counts as one square millimetre when load is shared out
SAME_POINT_M = 1.0e-5
FLAT_M = 5.0e-5  # a touch without a normal of its own joins a patch whose plane it fits so well,
# and a patch no wider is a line


@compiled
def _find(parent, i):  # type: ignore[no-untyped-def]
    while parent[i] != i:
        parent[i] = parent[parent[i]]
        i = parent[i]
    return i


@compiled
def _cell_keys(point, cell_m):  # type: ignore[no-untyped-def]
    """One integer per point for the cell that holds it; neighbouring cells differ by known steps."""
    low = np.empty(3)
    for c in range(3):
        low[c] = point[:, c].min() - 3.0 * cell_m
    keys = np.empty(len(point), np.int64)
    for i in range(len(point)):
        x = int((point[i, 0] - low[0]) / cell_m)
        y = int((point[i, 1] - low[1]) / cell_m)
        z = int((point[i, 2] - low[2]) / cell_m)
        keys[i] = (x << 42) + (y << 21) + z
    return keys


@compiled
def _linked(point, order, group, one, start, end, other, other_start, other_end):  # type: ignore[no-untyped-def]
    """Whether any touch that one leader stands for lies within `LINK_M` of any of another's."""
    for i in range(start, end):
        if group[i] != one:
            continue
        p = point[order[i]]
        for j in range(other_start, other_end):
            if group[j] == other:
                q = point[order[j]]
                x, y, z = p[0] - q[0], p[1] - q[1], p[2] - q[2]
                if x * x + y * y + z * z < LINK_M**2:
                    return True
    return False


@compiled
def label_patches(point, normal):  # type: ignore[no-untyped-def]
    """Patch number of each touch, 0 upward: linked touches that face the same way."""
    n = len(point)
    if n == 0:
        return np.empty(0, np.int64), 0
    cell = LINK_M / math.sqrt(3.0)  # any two touches in one cell are linked
    keys = _cell_keys(point, cell)
    order = np.argsort(keys)
    parent = np.arange(n)
    leader = np.empty(n, np.int64)  # touches that stand for their cell and direction
    leader_key = np.empty(n, np.int64)
    start, end = np.empty(n, np.int64), np.empty(n, np.int64)  # of the leader's cell in `order`
    group = np.empty(n, np.int64)  # which leader stands for each touch in `order`
    leaders = 0
    i = 0
    while i < n:
        first, begin = leaders, i
        key = keys[order[i]]
        while i < n and keys[order[i]] == key:
            k = order[i]
            joined = False
            for j in range(first, leaders):
                if np.dot(normal[leader[j]], normal[k]) > SAME_WAY:
                    parent[k] = leader[j]
                    group[i] = j
                    joined = True
                    break
            if not joined:
                leader[leaders], leader_key[leaders] = k, key
                group[i] = leaders
                leaders += 1
            i += 1
        start[first:leaders], end[first:leaders] = begin, i
    known = leader_key[:leaders]
    for j in range(leaders):
        k = leader[j]
        for dx in range(-2, 3):
            for dy in range(-2, 3):
                low = known[j] + (dx << 42) + (dy << 21) - 2
                at = np.searchsorted(known, low)
                while at < leaders and known[at] <= low + 4:
                    other = leader[at]
                    if at > j and np.dot(normal[k], normal[other]) > SAME_WAY:
                        one, two = _find(parent, k), _find(parent, other)
                        if one != two and _linked(point, order, group, j, start[j], end[j], at, start[at], end[at]):
                            parent[one] = two
                    at += 1
    label = np.full(n, -1, np.int64)
    count = 0
    for i in range(n):
        root = _find(parent, i)
        if label[root] < 0:
            label[root] = count
            count += 1
    result = np.empty(n, np.int64)
    for i in range(n):
        result[i] = label[_find(parent, i)]
    return result, count


@compiled
def hull_2d(uv):  # type: ignore[no-untyped-def]
    """Indices of the convex hull (n, 2), counter-clockwise (Andrew 1979, monotone chain)."""
    n = len(uv)
    order = np.argsort(uv[:, 1], kind="mergesort")
    order = order[np.argsort(uv[order, 0], kind="mergesort")]
    chain = np.empty(2 * n + 2, np.int64)
    size = 0
    for turn in range(2):
        floor = size + 1 if turn == 0 else size
        for step in range(n):
            i = order[step] if turn == 0 else order[n - 1 - step]
            if turn == 1 and step == 0:
                continue
            while size >= 2:
                p, q = chain[size - 2], chain[size - 1]
                area = (uv[q, 0] - uv[p, 0]) * (uv[i, 1] - uv[p, 1]) - (uv[q, 1] - uv[p, 1]) * (uv[i, 0] - uv[p, 0])
                if area > 0.0 or (turn == 1 and size <= floor):
                    break
                size -= 1
            chain[size] = i
            size += 1
    if size > 1 and chain[size - 1] == chain[0]:
        size -= 1
    return chain[:size].copy()


@compiled
def _distinct(uv):  # type: ignore[no-untyped-def]
    """Indices of corners (n, 2), in order, that are not the same point as the last one but for rounding."""
    keep = np.zeros(len(uv), np.bool_)
    last = -1
    first = 0
    for i in range(len(uv)):
        if last >= 0:
            x, y = uv[i, 0] - uv[last, 0], uv[i, 1] - uv[last, 1]
            if x * x + y * y < SAME_POINT_M**2:
                continue
            x, y = uv[i, 0] - uv[first, 0], uv[i, 1] - uv[first, 1]
            if x * x + y * y < SAME_POINT_M**2:
                continue
        keep[i] = True
        last = i
    return np.flatnonzero(keep)


@compiled
def _area_and_centre(uv):  # type: ignore[no-untyped-def]
    n = len(uv)
    area = x = y = 0.0
    for i in range(n):
        j = (i + 1) % n
        cross = uv[i, 0] * uv[j, 1] - uv[j, 0] * uv[i, 1]
        area += cross / 2.0
        x += (uv[i, 0] + uv[j, 0]) * cross / 6.0
        y += (uv[i, 1] + uv[j, 1]) * cross / 6.0
    if area > 1e-14:
        return area, x / area, y / area
    return 0.0, uv[:, 0].mean(), uv[:, 1].mean()


@compiled
def reduce_corners(uv):  # type: ignore[no-untyped-def]
    """Drop hull corners (n, 2), counter-clockwise, while every lever keeps 99 %; indices that stay."""
    n = len(uv)
    area, cx, cy = _area_and_centre(uv)
    stay = np.arange(n)
    if n <= 4 or area == 0.0:
        return stay
    lever = np.empty((n, DIRECTIONS))
    for i in range(n):
        for d in range(DIRECTIONS):
            turn = 2.0 * math.pi * d / DIRECTIONS
            lever[i, d] = (uv[i, 0] - cx) * math.cos(turn) + (uv[i, 1] - cy) * math.sin(turn)
    needed = np.empty(DIRECTIONS)
    for d in range(DIRECTIONS):
        needed[d] = lever[:, d].max() * (1.0 - LEVER_LOSS)
    locked = np.zeros(n, np.bool_)
    while len(stay) > 3:
        best, least = -1, np.inf
        m = len(stay)
        for i in range(m):
            if locked[stay[i]]:
                continue
            p, q, r = uv[stay[i - 1]], uv[stay[i]], uv[stay[(i + 1) % m]]
            loss = abs((q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0]))
            if loss < least:
                best, least = i, loss
        if best < 0:
            break
        fits = True
        for d in range(DIRECTIONS):
            top = -np.inf
            for i in range(m):
                if i != best:
                    top = max(top, lever[stay[i], d])
            if top < needed[d]:
                fits = False
                break
        if fits:
            stay = np.concatenate((stay[:best], stay[best + 1 :]))
        else:
            locked[stay[best]] = True
    return stay


@compiled
def _corner_areas(uv, area):  # type: ignore[no-untyped-def]
    """Share of the patch's area that each corner stands for; sums to the area, never below a point's."""
    n = len(uv)
    share = np.full(n, max(area, n * POINT_AREA_M2) / n)
    if n < 3 or area <= n * POINT_AREA_M2:
        return share
    _, cx, cy = _area_and_centre(uv)
    total = 0.0
    share[:] = 0.0
    for i in range(n):
        j = (i + 1) % n
        wedge = abs((uv[i, 0] - cx) * (uv[j, 1] - cy) - (uv[i, 1] - cy) * (uv[j, 0] - cx)) / 2.0
        share[i] += wedge / 2.0
        share[j] += wedge / 2.0
        total += wedge
    return np.maximum(share * (area / total), POINT_AREA_M2)


@compiled
def patches_of(rows):  # type: ignore[no-untyped-def]
    """Patches among the touches of one pair.

    Parameters: rows (t, 8): point, normal, gap, known (see `nearness.touches`).

    Returns
    -------
    corners : (c, 9) point, normal, gap of the patch, area share, patch number
    patches : (p, 8) centre, normal, area, least gap
    """
    sure, doubtful = np.flatnonzero(rows[:, 7] > 0.5), np.flatnonzero(rows[:, 7] <= 0.5)
    chosen = rows[sure]
    label, count = label_patches(chosen[:, 0:3].copy(), chosen[:, 3:6].copy())
    extra_row, extra_label = np.empty(len(doubtful), np.int64), np.empty(len(doubtful), np.int64)
    extras = 0
    alone = np.empty(len(doubtful), np.int64)
    loners = 0
    for i in doubtful:
        home, close = -1, False
        for j in range(len(chosen)):
            x, y, z = rows[i, 0] - chosen[j, 0], rows[i, 1] - chosen[j, 1], rows[i, 2] - chosen[j, 2]
            if x * x + y * y + z * z < (3.0 * LINK_M) ** 2:
                close = True
                if abs(x * chosen[j, 3] + y * chosen[j, 4] + z * chosen[j, 5]) < FLAT_M:
                    home = label[j]
                    break
        if home >= 0:
            extra_row[extras], extra_label[extras] = i, home
            extras += 1
        elif not close:
            alone[loners] = i
            loners += 1
    lone = rows[alone[:loners]]
    lone_label, lone_count = label_patches(lone[:, 0:3].copy(), lone[:, 3:6].copy())
    corners = np.empty((len(rows), 9))
    patches = np.empty((count + lone_count, 8))
    filled = 0
    for p in range(count + lone_count):
        if p < count:
            core = chosen[label == p]
            added = rows[extra_row[:extras][extra_label[:extras] == p]]
        else:
            core = lone[lone_label == p - count]
            added = rows[:0]
        filled = _outline(core, np.concatenate((core, added)), p, corners, filled, patches)
    return corners[:filled].copy(), patches


@compiled
def _outline(core, member, number, corners, filled, patches):  # type: ignore[no-untyped-def]
    """Write one patch and its corners; returns how many corners are filled."""
    normal = np.zeros(3)
    for i in range(len(core)):
        normal += core[i, 3:6]
    normal /= math.sqrt(np.dot(normal, normal))
    side = np.array([1.0, 0.0, 0.0]) if abs(normal[0]) < 0.7 else np.array([0.0, 1.0, 0.0])
    t1 = np.cross(normal, side)
    t1 /= math.sqrt(np.dot(t1, t1))
    t2 = np.cross(normal, t1)
    uv = np.empty((len(member), 2))
    for i in range(len(member)):
        uv[i, 0] = np.dot(member[i, 0:3], t1)
        uv[i, 1] = np.dot(member[i, 0:3], t2)
    hull = hull_2d(uv)
    hull = hull[_distinct(uv[hull])]
    hull = hull[reduce_corners(uv[hull])]
    area, cx, cy = _area_and_centre(uv[hull])
    wide, deep = uv[hull, 0].max() - uv[hull, 0].min(), uv[hull, 1].max() - uv[hull, 1].min()
    if area < FLAT_M * math.hypot(wide, deep):
        area = 0.0  # a line, which rounding made a sliver of
    share = _corner_areas(uv[hull], area)
    height = 0.0
    for i in range(len(member)):
        height += np.dot(member[i, 0:3], normal) / len(member)
    least = member[:, 6].min()
    for c in range(3):
        patches[number, c] = cx * t1[c] + cy * t2[c] + height * normal[c]
        patches[number, 3 + c] = normal[c]
    patches[number, 6], patches[number, 7] = area, least
    for k in range(len(hull)):
        corners[filled, 0:3] = member[hull[k], 0:3]
        corners[filled, 3:6] = normal
        corners[filled, 6], corners[filled, 7], corners[filled, 8] = least, share[k], number
        filled += 1
    return filled
