"""A tree of boxes over triangles, and exact signed distances to a closed mesh.

Signed distance  negative inside the stone, positive outside.
Feature          where the closest point lies: in a face, on an edge or on a vertex. The
                 sign there comes from the angle-weighted normal of that feature.
Root             index of a mesh's topmost box in arrays that hold many meshes.

References
----------
Baerentzen, J. A. and Aanaes, H. (2005). Signed distance computation using the angle
weighted pseudonormal. IEEE TVCG 11(3), 243-253.
Ericson, C. (2005). Real-Time Collision Detection, section 5.1.5 (closest point on a triangle).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sim.compiling import compiled, inner
from sim.contact.sorting import sort_by

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

LEAF_TRIANGLES = 4
ON_SURFACE_M = 2.0e-5  # nearer than this the direction to the closest point is numerically empty
FOLDED_COSINE = 0.3  # between a face and the mean normal of a side: a scan may be folded over below it
POINTED_COSINE = 0.8  # likewise of its vertex, where another face may be the one that is folded over
RAY = (0.5377, 0.3129, 0.7829)  # any direction that no mesh has faces along
SHARP_COSINE = 0.99  # between a face and an edge's mean normal: below it the edge is a real one


class Mesh(NamedTuple):
    """One or many closed meshes in their own frames, as plain arrays for compiled code."""

    corners: Floats  # (t, 3, 3) in tree order
    vertex: Ints  # (t, 3) index into vertex_normal
    face_normal: Floats  # (t, 3)
    edge_normal: Floats  # (t, 3, 3) of the edges 0-1, 1-2, 2-0
    vertex_normal: Floats  # (v, 3)
    box_low: Floats  # (k, 3)
    box_high: Floats  # (k, 3)
    child: Ints  # (k,) first of two children, -1: leaf
    start: Ints  # (k,) first triangle
    end: Ints  # (k,)


@compiled
def build_boxes(low, high, middle, leaf_size):  # type: ignore[no-untyped-def]
    """Boxes over items, split at the median of the longest side; children always follow parents."""
    n = len(low)
    most = 2 * n + 1
    box_low, box_high = np.empty((most, 3)), np.empty((most, 3))
    child, start, end = np.empty(most, np.int64), np.empty(most, np.int64), np.empty(most, np.int64)
    order, waiting, keys = np.empty(n, np.int64), np.empty(most, np.int64), np.empty(n)
    for i in range(n):
        order[i] = i
    start[0], end[0], waiting[0] = 0, n, 0
    count = size = 1
    while size > 0:
        size -= 1
        k = waiting[size]
        s, e = start[k], end[k]
        child[k] = -1
        axis = _fill_box(low, high, order[s:e], box_low[k], box_high[k])
        if e - s <= leaf_size:
            continue
        for i in range(s, e):
            keys[order[i]] = middle[order[i], axis]
        sort_by(keys, order, s, e)
        half = (s + e) // 2
        child[k] = count
        start[count], end[count] = s, half
        start[count + 1], end[count + 1] = half, e
        waiting[size], waiting[size + 1] = count, count + 1
        size += 2
        count += 2
    return order, box_low[:count], box_high[:count], child[:count], start[:count], end[:count]


@inner
def _fill_box(low, high, order, box_low, box_high):  # type: ignore[no-untyped-def]
    """Fill the box over some items; returns its longest axis."""
    longest = 0
    for c in range(3):
        lo, hi = np.inf, -np.inf
        for i in order:
            lo, hi = min(lo, low[i, c]), max(hi, high[i, c])
        box_low[c], box_high[c] = lo, hi
        if hi - lo > box_high[longest] - box_low[longest]:
            longest = c
    return longest


@inner
def closest_on_triangle(px, py, pz, corners):  # type: ignore[no-untyped-def]
    """Closest point of a triangle (3, 3), with the feature: 0 face, 1-3 vertices, 4-6 edges 0-1, 1-2, 2-0."""
    ax, ay, az = corners[0, 0], corners[0, 1], corners[0, 2]
    bx, by, bz = corners[1, 0], corners[1, 1], corners[1, 2]
    cx, cy, cz = corners[2, 0], corners[2, 1], corners[2, 2]
    abx, aby, abz = bx - ax, by - ay, bz - az
    acx, acy, acz = cx - ax, cy - ay, cz - az
    x, y, z = px - ax, py - ay, pz - az
    d1 = abx * x + aby * y + abz * z
    d2 = acx * x + acy * y + acz * z
    if d1 <= 0.0 and d2 <= 0.0:
        return ax, ay, az, 1
    x, y, z = px - bx, py - by, pz - bz
    d3 = abx * x + aby * y + abz * z
    d4 = acx * x + acy * y + acz * z
    if d3 >= 0.0 and d4 <= d3:
        return bx, by, bz, 2
    vc = d1 * d4 - d3 * d2
    if vc <= 0.0 and d1 >= 0.0 and d3 <= 0.0:
        v = d1 / (d1 - d3)
        return ax + v * abx, ay + v * aby, az + v * abz, 4
    x, y, z = px - cx, py - cy, pz - cz
    d5 = abx * x + aby * y + abz * z
    d6 = acx * x + acy * y + acz * z
    if d6 >= 0.0 and d5 <= d6:
        return cx, cy, cz, 3
    vb = d5 * d2 - d1 * d6
    if vb <= 0.0 and d2 >= 0.0 and d6 <= 0.0:
        w = d2 / (d2 - d6)
        return ax + w * acx, ay + w * acy, az + w * acz, 6
    va = d3 * d6 - d5 * d4
    if va <= 0.0 and d4 - d3 >= 0.0 and d5 - d6 >= 0.0:
        w = (d4 - d3) / ((d4 - d3) + (d5 - d6))
        return bx + w * (cx - bx), by + w * (cy - by), bz + w * (cz - bz), 5
    scale = 1.0 / (va + vb + vc)
    v, w = vb * scale, vc * scale
    return ax + abx * v + acx * w, ay + aby * v + acy * w, az + abz * v + acz * w, 0


@inner
def box_distance_2(px, py, pz, low, high):  # type: ignore[no-untyped-def]
    """Squared distance from a point to an axis-aligned box, zero inside."""
    x = max(low[0] - px, px - high[0], 0.0)
    y = max(low[1] - py, py - high[1], 0.0)
    z = max(low[2] - pz, pz - high[2], 0.0)
    return x * x + y * y + z * z


@inner
def closest(mesh, root, px, py, pz, reach_m):  # type: ignore[no-untyped-def]
    """Closest triangle within reach: (squared distance, triangle or -1, feature, x, y, z)."""
    best = reach_m * reach_m
    face = -1
    feature = 0
    qx = qy = qz = 0.0
    stack = np.empty(96, np.int32)
    far = np.empty(96)
    stack[0] = root
    far[0] = box_distance_2(px, py, pz, mesh.box_low[root], mesh.box_high[root])
    size = 1
    while size > 0:
        size -= 1
        if far[size] >= best:
            continue
        k = stack[size]
        left = mesh.child[k]
        if left < 0:
            for i in range(mesh.start[k], mesh.end[k]):
                x, y, z, where = closest_on_triangle(px, py, pz, mesh.corners[i])
                d = (px - x) ** 2 + (py - y) ** 2 + (pz - z) ** 2
                if d < best:
                    best, face, feature = d, i, where
                    qx, qy, qz = x, y, z
            continue
        dl = box_distance_2(px, py, pz, mesh.box_low[left], mesh.box_high[left])
        dr = box_distance_2(px, py, pz, mesh.box_low[left + 1], mesh.box_high[left + 1])
        near, next_, dn, df = left, left + 1, dl, dr
        if dr < dl:
            near, next_, dn, df = left + 1, left, dr, dl
        if df < best:
            stack[size], far[size] = next_, df
            size += 1
        if dn < best:
            stack[size], far[size] = near, dn
            size += 1
    return best, face, feature, qx, qy, qz


@inner
def _may_be_folded(mesh, face, feature, normal):  # type: ignore[no-untyped-def]
    """Whether a face has so sharp a side, or its vertex is so pointed, that the normal may show the wrong side."""
    flat = mesh.face_normal[face]
    for side in range(3):
        blunt = mesh.edge_normal[face, side]
        if flat[0] * blunt[0] + flat[1] * blunt[1] + flat[2] * blunt[2] < FOLDED_COSINE:
            return True
    if feature == 0 or feature > 3:
        return False
    return flat[0] * normal[0] + flat[1] * normal[1] + flat[2] * normal[2] < POINTED_COSINE


@inner
def _inside(mesh, root, px, py, pz):  # type: ignore[no-untyped-def]
    """Whether a ray leaves the body once more often than it enters: true to side where a mean normal is not."""
    stack = np.empty(96, np.int32)
    stack[0] = root
    size, leaves = 1, 0
    while size > 0:
        size -= 1
        k = stack[size]
        if not _ray_meets_box(px, py, pz, mesh.box_low[k], mesh.box_high[k]):
            continue
        left = mesh.child[k]
        if left >= 0:
            stack[size], stack[size + 1] = left, left + 1
            size += 2
            continue
        for i in range(mesh.start[k], mesh.end[k]):
            leaves += _ray_leaves(px, py, pz, mesh.corners[i])
    return leaves > 0


@inner
def _ray_meets_box(px, py, pz, low, high):  # type: ignore[no-untyped-def]
    """Whether the ray from a point, all of whose components are positive, meets a box."""
    enters = max((low[0] - px) / RAY[0], (low[1] - py) / RAY[1], (low[2] - pz) / RAY[2], 0.0)
    return enters <= min((high[0] - px) / RAY[0], (high[1] - py) / RAY[1], (high[2] - pz) / RAY[2])


@inner
def _ray_leaves(px, py, pz, corners):  # type: ignore[no-untyped-def]
    """1 where the ray from a point leaves the body through a triangle (3, 3), -1 where it enters, else 0."""
    volume = np.empty(3)
    for k in range(3):
        p, q = corners[k], corners[(k + 1) % 3]
        ax, ay, az = p[0] - px, p[1] - py, p[2] - pz
        bx, by, bz = q[0] - px, q[1] - py, q[2] - pz
        volume[k] = RAY[0] * (ay * bz - az * by) + RAY[1] * (az * bx - ax * bz) + RAY[2] * (ax * by - ay * bx)
    out = volume[0] > 0.0 and volume[1] > 0.0 and volume[2] > 0.0
    if not out and not (volume[0] < 0.0 and volume[1] < 0.0 and volume[2] < 0.0):
        return 0
    along, total = 0.0, volume[0] + volume[1] + volume[2]
    for k in range(3):
        p = corners[(k + 2) % 3]
        along += volume[k] / total * ((p[0] - px) * RAY[0] + (p[1] - py) * RAY[1] + (p[2] - pz) * RAY[2])
    if along < 0.0:
        return 0
    return 1 if out else -1


@inner
def signed_distance(mesh, root, px, py, pz, reach_m):  # type: ignore[no-untyped-def]
    """Signed distance, outward unit normal and closest point: (distance, nx, ny, nz, triangle, feature, x, y, z).

    Beyond `reach_m` the distance is `reach_m` and the triangle -1. On an edge or vertex,
    nearer than `ON_SURFACE_M`, the surface has no single normal: the normal is zero there
    and the caller takes that of the touching surface.
    """
    best, face, feature, qx, qy, qz = closest(mesh, root, px, py, pz, reach_m)
    if face < 0:
        return reach_m, 0.0, 0.0, 0.0, -1, 0, 0.0, 0.0, 0.0
    if feature == 0:
        normal = mesh.face_normal[face]
    elif feature <= 3:
        normal = mesh.vertex_normal[mesh.vertex[face, feature - 1]]
    else:
        normal = mesh.edge_normal[face, feature - 4]
    x, y, z = px - qx, py - qy, pz - qz
    distance = math.sqrt(best)
    sign = 1.0 if x * normal[0] + y * normal[1] + z * normal[2] >= 0.0 else -1.0
    if _may_be_folded(mesh, face, feature, normal):
        sign = -1.0 if _inside(mesh, root, px, py, pz) else 1.0
    if distance > ON_SURFACE_M:
        s = sign / distance
        return sign * distance, x * s, y * s, z * s, face, feature, qx, qy, qz
    if feature == 0:
        side = _sharp_side(mesh, face, qx, qy, qz)
        if side < 0:
            return sign * distance, normal[0], normal[1], normal[2], face, feature, qx, qy, qz
        feature = 4 + side
    return sign * distance, 0.0, 0.0, 0.0, face, feature, qx, qy, qz


@inner
def _sharp_side(mesh, face, x, y, z):  # type: ignore[no-untyped-def]
    """Side of a face with a sharp edge that a point of the face is as good as on, or -1.

    There rounding alone decides which of two faces is the closest.
    """
    n = mesh.face_normal[face]
    for side in range(3):
        blunt = mesh.edge_normal[face, side]
        if blunt[0] * n[0] + blunt[1] * n[1] + blunt[2] * n[2] > SHARP_COSINE:
            continue
        start, end = mesh.corners[face, side], mesh.corners[face, (side + 1) % 3]
        ux, uy, uz = end[0] - start[0], end[1] - start[1], end[2] - start[2]
        wx, wy, wz = x - start[0], y - start[1], z - start[2]
        inward = (
            (n[1] * uz - n[2] * uy) * wx + (n[2] * ux - n[0] * uz) * wy + (n[0] * uy - n[1] * ux) * wz
        ) / math.sqrt(ux * ux + uy * uy + uz * uz)
        if inward < ON_SURFACE_M:
            return side
    return -1


@compiled
def signed_distances(mesh, root, points, reach_m):  # type: ignore[no-untyped-def]
    """Signed distance and normal for many points (n, 3), in the mesh's own frame."""
    n = len(points)
    distance = np.empty(n)
    normal = np.empty((n, 3))
    for i in range(n):
        d, x, y, z, _, _, _, _, _ = signed_distance(mesh, root, points[i, 0], points[i, 1], points[i, 2], reach_m)
        distance[i] = d
        normal[i, 0], normal[i, 1], normal[i, 2] = x, y, z
    return distance, normal
