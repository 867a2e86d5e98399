"""From touch points to patches: where one piece bears on another, by outline, normal and area.

Patch    touches that are linked and face the same way; its outline is the convex hull in its
         own plane.
Corner   a point of the reduced outline: few, but with the whole outline's lever in every
         direction to within one part in a hundred.
Core     the touches that make a patch: those that are sure of their normal, or all of them
         where there is none; doubtful ones near by only widen it.

Compiled code loops by hand: numpy's operations on arrays take longer to compile than all the rest.
"""

from __future__ import annotations

import math

import numpy as np

from sim.compiling import compiled, inner
from sim.contact.grouping import LINK_M, label_patches
from sim.contact.outline import area_and_centre, corner_areas, distinct, hull_2d, reduce_corners

FLAT_M = 5.0e-5  # a touch without a normal of its own joins a patch whose plane it fits so well,
# and a patch no wider is a line


@compiled
def patches_of_pairs(rows, owner):  # type: ignore[no-untyped-def]
    """Patches among the touches of many pairs.

    Parameters: rows (t, 9): point, normal, gap, sure or doubtful, any (see `nearness.touches`);
    owner (t,): number of each one's pair, ascending.

    Returns
    -------
    corners : (c, 10) point, normal, gap of the patch, area share, patch, pair
    patches : (p, 9) centre, normal, area, least gap, pair
    """
    corners, patches = np.empty((len(rows), 10)), np.empty((len(rows), 9))
    corner_count = patch_count = start = 0
    while start < len(rows):
        end = start
        while end < len(rows) and owner[end] == owner[start]:
            end += 1
        home, core, count = _homes(rows[start:end])
        member, cores = np.empty(end - start, np.int64), 0
        for p in range(count):
            size = 0
            for wanted in (True, False):
                for i in range(end - start):
                    if home[i] == p and core[i] == wanted:
                        member[size] = start + i
                        size += 1
                if wanted:
                    cores = size
            corner_count = _outline(
                rows, member[:size], cores, patch_count, owner[start], corners, corner_count, patches
            )
            patch_count += 1
        start = end
    return corners[:corner_count], patches[:patch_count]


@inner
def _homes(rows):  # type: ignore[no-untyped-def]
    """Patch of each touch of one pair, -1 where it belongs to none; whether it is of its core; how many patches."""
    n = len(rows)
    home, core = np.empty(n, np.int64), np.empty(n, np.bool_)
    chosen, alone = np.empty(n, np.int64), np.empty(n, np.int64)
    sure = loners = 0
    for i in range(n):
        home[i], core[i] = -1, rows[i, 7] > 0.5
        if core[i]:
            chosen[sure] = i
            sure += 1
    label, count = label_patches(rows, chosen[:sure])
    for k in range(sure):
        home[chosen[k]] = label[k]
    for i in range(n):
        if core[i]:
            continue
        close, at = _fitting(rows, i, chosen[:sure])
        if at >= 0:
            home[i] = home[at]
        elif not close:
            alone[loners] = i
            loners += 1
    lone, lone_count = label_patches(rows, alone[:loners])
    for k in range(loners):
        home[alone[k]], core[alone[k]] = count + lone[k], True
    return home, core, count + lone_count


@inner
def _fitting(rows, i, chosen):  # type: ignore[no-untyped-def]
    """Whether any chosen touch is near one, and the first near one whose plane it fits, or -1."""
    close = False
    for j in chosen:
        x, y, z = rows[i, 0] - rows[j, 0], rows[i, 1] - rows[j, 1], rows[i, 2] - rows[j, 2]
        if x * x + y * y + z * z < (3.0 * LINK_M) ** 2:
            close = True
            if abs(x * rows[j, 3] + y * rows[j, 4] + z * rows[j, 5]) < FLAT_M:
                return close, j
    return close, -1


@inner
def _outline(rows, member, cores, number, pair, corners, filled, patches):  # type: ignore[no-untyped-def]
    """Write one patch and its corners; returns how many corners are filled."""
    nx, ny, nz, t1x, t1y, t1z = _frame(rows, member[:cores])
    t2x, t2y, t2z = ny * t1z - nz * t1y, nz * t1x - nx * t1z, nx * t1y - ny * t1x
    uv = np.empty((len(member), 2))
    height, least = 0.0, np.inf
    for i in range(len(member)):
        x, y, z = rows[member[i], 0], rows[member[i], 1], rows[member[i], 2]
        uv[i, 0] = x * t1x + y * t1y + z * t1z
        uv[i, 1] = x * t2x + y * t2y + z * t2z
        height += (x * nx + y * ny + z * nz) / len(member)
        least = min(least, rows[member[i], 6])
    hull, outline = _corners(uv)
    area, cx, cy = area_and_centre(outline)
    low_u = low_v = np.inf
    high_u = high_v = -np.inf
    for i in range(len(hull)):
        low_u, high_u = min(low_u, outline[i, 0]), max(high_u, outline[i, 0])
        low_v, high_v = min(low_v, outline[i, 1]), max(high_v, outline[i, 1])
    if area < FLAT_M * math.hypot(high_u - low_u, high_v - low_v):
        area = 0.0  # a line, which rounding made a sliver of
    share = corner_areas(outline, area)
    patch = patches[number]
    patch[0] = cx * t1x + cy * t2x + height * nx
    patch[1] = cx * t1y + cy * t2y + height * ny
    patch[2] = cx * t1z + cy * t2z + height * nz
    patch[3], patch[4], patch[5], patch[6], patch[7], patch[8] = nx, ny, nz, area, least, pair
    for k in range(len(hull)):
        corner = corners[filled]
        for c in range(3):
            corner[c] = rows[member[hull[k]], c]
        corner[3], corner[4], corner[5], corner[6], corner[7] = nx, ny, nz, least, share[k]
        corner[8], corner[9] = number, pair
        filled += 1
    return filled


@inner
def _frame(rows, core):  # type: ignore[no-untyped-def]
    """Mean normal of touches, and a tangent."""
    nx = ny = nz = 0.0
    for i in core:
        nx, ny, nz = nx + rows[i, 3], ny + rows[i, 4], nz + rows[i, 5]
    length = math.sqrt(nx * nx + ny * ny + nz * nz)
    nx, ny, nz = nx / length, ny / length, nz / length
    if abs(nx) < 0.7:
        length = math.sqrt(nz * nz + ny * ny)
        return nx, ny, nz, 0.0, nz / length, -ny / length
    length = math.sqrt(nz * nz + nx * nx)
    return nx, ny, nz, -nz / length, 0.0, nx / length


@inner
def _corners(uv):  # type: ignore[no-untyped-def]
    """Indices of the reduced outline of points (n, 2), and its points."""
    hull = hull_2d(uv)
    hull = _picked(hull, distinct(_points(uv, hull)))
    hull = _picked(hull, reduce_corners(_points(uv, hull)))
    return hull, _points(uv, hull)


@inner
def _picked(numbers, chosen):  # type: ignore[no-untyped-def]
    found = np.empty(len(chosen), np.int64)
    for i in range(len(chosen)):
        found[i] = numbers[chosen[i]]
    return found


@inner
def _points(uv, chosen):  # type: ignore[no-untyped-def]
    found = np.empty((len(chosen), 2))
    for i in range(len(chosen)):
        found[i, 0], found[i, 1] = uv[chosen[i], 0], uv[chosen[i], 1]
    return found
