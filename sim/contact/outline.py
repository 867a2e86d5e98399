"""The outline of a patch in its own plane: convex hull, fewer corners, area and what each corner stands for."""

from __future__ import annotations

import math

import numpy as np

from sim.compiling import compiled, inner
from sim.contact.sorting import sort_by

LEVER_LOSS = 0.01
DIRECTIONS = 48
POINT_AREA_M2 = 1.0e-6  # a point contact counts as one square millimetre when load is shared out
SAME_POINT_M = 1.0e-5


@compiled
def hull_2d(uv):  # type: ignore[no-untyped-def]
    """Indices of the convex hull (n, 2), counter-clockwise (Andrew 1979, monotone chain)."""
    n = len(uv)
    order = _from_left(uv)
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
    return chain[:size]


@inner
def _from_left(uv):  # type: ignore[no-untyped-def]
    """Indices of points (n, 2) by their first coordinate, then by their second, then as they came."""
    n = len(uv)
    order, first = np.empty(n, np.int64), np.empty(n)
    for i in range(n):
        order[i], first[i] = i, uv[i, 0]
    sort_by(first, order, 0, n)
    for i in range(1, n):
        k, j = order[i], i
        while j > 0:
            other = order[j - 1]
            if first[other] != first[k] or uv[other, 1] < uv[k, 1] or (uv[other, 1] == uv[k, 1] and other < k):
                break
            order[j] = other
            j -= 1
        order[j] = k
    return order


@inner
def distinct(uv):  # type: ignore[no-untyped-def]
    """Indices of corners (n, 2), in order, that are not the same point as the last one but for rounding."""
    keep = np.empty(len(uv), np.int64)
    count = 0
    for i in range(len(uv)):
        if count > 0:
            last = keep[count - 1]
            x, y = uv[i, 0] - uv[last, 0], uv[i, 1] - uv[last, 1]
            if x * x + y * y < SAME_POINT_M**2:
                continue
            x, y = uv[i, 0] - uv[0, 0], uv[i, 1] - uv[0, 1]
            if x * x + y * y < SAME_POINT_M**2:
                continue
        keep[count] = i
        count += 1
    return keep[:count]


@inner
def area_and_centre(uv):  # type: ignore[no-untyped-def]
    """Area of an outline (n, 2) and its centre; no area: the mean of its corners."""
    n = len(uv)
    area = x = y = u = v = 0.0
    for i in range(n):
        j = (i + 1) % n
        cross = uv[i, 0] * uv[j, 1] - uv[j, 0] * uv[i, 1]
        area += cross / 2.0
        x += (uv[i, 0] + uv[j, 0]) * cross / 6.0
        y += (uv[i, 1] + uv[j, 1]) * cross / 6.0
        u += uv[i, 0]
        v += uv[i, 1]
    if area > 1e-14:
        return area, x / area, y / area
    return 0.0, u / n, v / n


@compiled
def reduce_corners(uv):  # type: ignore[no-untyped-def]
    """Drop hull corners (n, 2), counter-clockwise, while every lever keeps 99 %; indices that stay."""
    m = len(uv)
    area, cx, cy = area_and_centre(uv)
    stay = np.empty(m, np.int64)
    for i in range(m):
        stay[i] = i
    if m <= 4 or area == 0.0:
        return stay
    lever, needed = _levers(uv, cx, cy)
    locked = np.zeros(m, np.bool_)
    while m > 3:
        best, least = -1, np.inf
        for i in range(m):
            if locked[stay[i]]:
                continue
            p, q, r = stay[i - 1 if i > 0 else m - 1], stay[i], stay[(i + 1) % m]
            loss = abs((uv[q, 0] - uv[p, 0]) * (uv[r, 1] - uv[p, 1]) - (uv[q, 1] - uv[p, 1]) * (uv[r, 0] - uv[p, 0]))
            if loss < least:
                best, least = i, loss
        if best < 0:
            break
        if _keeps_levers(lever, needed, stay, m, best):
            m -= 1
            for i in range(best, m):
                stay[i] = stay[i + 1]
        else:
            locked[stay[best]] = True
    return stay[:m]


@inner
def _levers(uv, cx, cy):  # type: ignore[no-untyped-def]
    """Levers (n, d) of corners about a centre in each direction, and what must be kept of the longest (d,)."""
    lever, needed = np.empty((len(uv), DIRECTIONS)), np.empty(DIRECTIONS)
    for d in range(DIRECTIONS):
        turn = 2.0 * math.pi * d / DIRECTIONS
        along, across = math.cos(turn), math.sin(turn)
        longest = -np.inf
        for i in range(len(uv)):
            lever[i, d] = (uv[i, 0] - cx) * along + (uv[i, 1] - cy) * across
            longest = max(longest, lever[i, d])
        needed[d] = longest * (1.0 - LEVER_LOSS)
    return lever, needed


@inner
def _keeps_levers(lever, needed, stay, count, without):  # type: ignore[no-untyped-def]
    """Whether the first corners of `stay`, without one of them, reach as far as needed in all directions."""
    for d in range(DIRECTIONS):
        top = -np.inf
        for i in range(count):
            if i != without:
                top = max(top, lever[stay[i], d])
        if top < needed[d]:
            return False
    return True


@inner
def corner_areas(uv, area):  # type: ignore[no-untyped-def]
    """Share of the patch's area that each corner stands for; sums to the area, never below a point's."""
    n = len(uv)
    share = np.empty(n)
    if n < 3 or area <= n * POINT_AREA_M2:
        for i in range(n):
            share[i] = max(area, n * POINT_AREA_M2) / n
        return share
    _, cx, cy = area_and_centre(uv)
    total = 0.0
    for i in range(n):
        share[i] = 0.0
    for i in range(n):
        j = (i + 1) % n
        wedge = abs((uv[i, 0] - cx) * (uv[j, 1] - cy) - (uv[i, 1] - cy) * (uv[j, 0] - cx)) / 2.0
        share[i] += wedge / 2.0
        share[j] += wedge / 2.0
        total += wedge
    for i in range(n):
        share[i] = max(share[i] * (area / total), POINT_AREA_M2)
    return share
