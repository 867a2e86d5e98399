"""Where pieces come near each other: sample points against surfaces, edges against edges, planes.

Candidate  a sample of piece a that is near piece b (or near a plane), found once and kept
           while the pieces move little.
Touch      a point where two surfaces are nearest: position, normal from b to a, signed gap.
           It is sure when the normal is that of a face or of two edges that cross, and
           doubtful when only an edge or a vertex gives it.
Crossing   two edges that pass each other: a touch that no vertex shows.
Normal cone  the directions between the normals of the faces that meet in an edge or vertex:
           only along these can another surface bear on it.

Compiled code spells vectors out as three numbers: that compiles and runs several times
faster than small arrays.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from sim.compiling import compiled, inner
from sim.contact.assembly import Assembly
from sim.contact.surface import EDGE, FACE, SPACING_M, VERTEX
from sim.contact.tree import box_distance_2, closest, signed_distance

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

EDGE_SLACK_M = SPACING_M * 0.75  # a crossing lies at most so far from the nearest sample of its edge
CONE_SLACK = 0.02  # cosine by which a normal may leave a normal cone
SURE = 1.0
DOUBTFUL = 0.0


@inner
def grown(rows):  # type: ignore[no-untyped-def]
    """The rows with as many empty ones behind them."""
    bigger = np.empty((2 * rows.shape[0], rows.shape[1]))
    for i in range(rows.shape[0]):
        for c in range(rows.shape[1]):
            bigger[i, c] = rows[i, c]
    return bigger


@inner
def turned(matrix, x, y, z):  # type: ignore[no-untyped-def]
    """Matrix times vector."""
    return (
        matrix[0, 0] * x + matrix[0, 1] * y + matrix[0, 2] * z,
        matrix[1, 0] * x + matrix[1, 1] * y + matrix[1, 2] * z,
        matrix[2, 0] * x + matrix[2, 1] * y + matrix[2, 2] * z,
    )


@inner
def turned_back(matrix, x, y, z):  # type: ignore[no-untyped-def]
    """Transposed matrix times vector."""
    return (
        matrix[0, 0] * x + matrix[1, 0] * y + matrix[2, 0] * z,
        matrix[0, 1] * x + matrix[1, 1] * y + matrix[2, 1] * z,
        matrix[0, 2] * x + matrix[1, 2] * y + matrix[2, 2] * z,
    )


@inner
def into_frame(rotation, position, a, b, p):  # type: ignore[no-untyped-def]
    """A point (3,) of piece a, in the frame of piece b."""
    x, y, z = turned(rotation[a], p[0], p[1], p[2])
    x += position[a, 0] - position[b, 0]
    y += position[a, 1] - position[b, 1]
    z += position[a, 2] - position[b, 2]
    return turned_back(rotation[b], x, y, z)


@inner
def plane_height(planes, plane, rotation, position, a, p):  # type: ignore[no-untyped-def]
    """Height of a point (3,) of piece a over a plane."""
    x, y, z = turned(rotation[a], p[0], p[1], p[2])
    n = planes.normal[plane]
    height = n[0] * (x + position[a, 0]) + n[1] * (y + position[a, 1]) + n[2] * (z + position[a, 2])
    return height - planes.offset_m[plane]


@compiled
def find_candidates(mesh, samples, bodies, planes, rotation, position, pair_a, pair_b, band, corners_only):  # type: ignore[no-untyped-def]
    """Samples of a within `band` of b for each ordered pair (b < 0: a plane).

    Only vertices can be first to meet a plane; with `corners_only` the other samples are left out there.

    Returns rows (k, 3): pair, sample and the signed distance found.
    """
    rows = np.empty((256, 3))
    count = 0
    for pair in range(len(pair_a)):
        a, b = pair_a[pair], pair_b[pair]
        for cluster in range(bodies.cluster_start[a], bodies.cluster_end[a]):
            reach = samples.cluster_radius_m[cluster] + band
            if b < 0:
                if plane_height(planes, -1 - b, rotation, position, a, samples.cluster_centre[cluster]) > reach:
                    continue
            else:
                x, y, z = into_frame(rotation, position, a, b, samples.cluster_centre[cluster])
                if box_distance_2(x, y, z, bodies.low[b], bodies.high[b]) > reach * reach:
                    continue
                if closest(mesh, bodies.root[b], x, y, z, reach)[1] < 0:
                    continue
            for s in range(samples.cluster_start[cluster], samples.cluster_end[cluster]):
                if b < 0:
                    if corners_only and samples.kind[s] != VERTEX:
                        continue
                    d = plane_height(planes, -1 - b, rotation, position, a, samples.point[s])
                else:
                    x, y, z = into_frame(rotation, position, a, b, samples.point[s])
                    if box_distance_2(x, y, z, bodies.low[b], bodies.high[b]) > band * band:
                        continue
                    d = signed_distance(mesh, bodies.root[b], x, y, z, band)[0]
                if d >= band:
                    continue
                if count == len(rows):
                    rows = grown(rows)
                rows[count, 0], rows[count, 1], rows[count, 2] = pair, s, d
                count += 1
    return rows[:count]


def candidates(
    assembly: Assembly,
    rotation: Floats,
    position: Floats,
    pair_a: Ints,
    pair_b: Ints,
    band_m: float,
    corners_only: bool,
) -> tuple[Ints, Floats]:
    """What `find_candidates` finds, as index (k, 2) and signed distance (k,), which `touches` takes."""
    rows = find_candidates(
        assembly.mesh, assembly.samples, assembly.bodies, assembly.planes, rotation, position,
        pair_a, pair_b, band_m, corners_only,
    )  # fmt: skip
    return rows[:, :2].astype(np.int64), np.ascontiguousarray(rows[:, 2])


@inner
def crossing(ux, uy, uz, vx, vy, vz, wx, wy, wz):  # type: ignore[no-untyped-def]
    """Nearest points of the segments p + s u and p - w + t v: (both inside, s, t).

    Nearly parallel segments have no crossing.
    """
    uu, uv, vv = ux * ux + uy * uy + uz * uz, ux * vx + uy * vy + uz * vz, vx * vx + vy * vy + vz * vz
    determinant = uu * vv - uv * uv
    if determinant < 1e-6 * uu * vv:
        return False, 0.0, 0.0
    uw, vw = ux * wx + uy * wy + uz * wz, vx * wx + vy * wy + vz * wz
    s = (uv * vw - vv * uw) / determinant
    t = (uu * vw - uv * uw) / determinant
    return 0.0 <= s <= 1.0 and 0.0 <= t <= 1.0, s, t


@inner
def _edge_touch(mesh, samples, rotation, position, a, b, sample, face, x, y, z, reach, row):  # type: ignore[no-untyped-def]
    """Nearest crossing of a sample's edge with the sides of a face of b; fills `row` and says whether."""
    px, py, pz = into_frame(rotation, position, a, b, samples.edge[sample, 0])
    ex, ey, ez = into_frame(rotation, position, a, b, samples.edge[sample, 1])
    ux, uy, uz = ex - px, ey - py, ez - pz
    length = math.sqrt(ux * ux + uy * uy + uz * uz)
    share = math.sqrt((x - px) ** 2 + (y - py) ** 2 + (z - pz) ** 2) / length
    kx, ky, kz = turned(rotation[a], samples.normal[sample, 0], samples.normal[sample, 1], samples.normal[sample, 2])
    kx, ky, kz = turned_back(rotation[b], kx, ky, kz)
    best, found = reach, False
    for side in range(3):
        start, end = mesh.corners[face, side], mesh.corners[face, (side + 1) % 3]
        vx, vy, vz = end[0] - start[0], end[1] - start[1], end[2] - start[2]
        wx, wy, wz = px - start[0], py - start[1], pz - start[2]
        inside, s, t = crossing(ux, uy, uz, vx, vy, vz, wx, wy, wz)
        if not inside or abs(s - share) * length > SPACING_M:
            continue  # beyond the ends, or another sample of this edge is nearer and reports it
        nx, ny, nz = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
        scale = 1.0 / math.sqrt(nx * nx + ny * ny + nz * nz)
        outward = mesh.edge_normal[face, side]
        if nx * outward[0] + ny * outward[1] + nz * outward[2] < 0.0:
            scale = -scale
        nx, ny, nz = nx * scale, ny * scale, nz * scale
        flat = mesh.face_normal[face]
        cone = outward[0] * flat[0] + outward[1] * flat[1] + outward[2] * flat[2]
        if nx * outward[0] + ny * outward[1] + nz * outward[2] < cone - CONE_SLACK:
            continue
        if -(nx * kx + ny * ky + nz * kz) < samples.cone[sample] - CONE_SLACK:
            continue
        dx, dy, dz = wx + s * ux - t * vx, wy + s * uy - t * vy, wz + s * uz - t * vz
        gap = dx * nx + dy * ny + dz * nz
        if abs(gap) < abs(best):
            best, found = gap, True
            hx, hy, hz = px + s * ux - dx / 2.0, py + s * uy - dy / 2.0, pz + s * uz - dz / 2.0
            _write(row, rotation, position, b, hx, hy, hz, nx, ny, nz)
            row[6], row[7] = gap, SURE
    return found


@inner
def _write(row, rotation, position, b, x, y, z, nx, ny, nz):  # type: ignore[no-untyped-def]
    """Put a point and a normal given in b's frame into a row, in the tank's frame."""
    row[0], row[1], row[2] = turned(rotation[b], x, y, z)
    row[0] += position[b, 0]
    row[1] += position[b, 1]
    row[2] += position[b, 2]
    row[3], row[4], row[5] = turned(rotation[b], nx, ny, nz)


@inner
def _along_side(mesh, face, side, x, y, z):  # type: ignore[no-untyped-def]
    """Cosine, without sign, between a direction and a side of a face."""
    start, end = mesh.corners[face, side], mesh.corners[face, (side + 1) % 3]
    ux, uy, uz = end[0] - start[0], end[1] - start[1], end[2] - start[2]
    return abs(x * ux + y * uy + z * uz) / math.sqrt(ux * ux + uy * uy + uz * uz)


@inner
def _point_touch(mesh, samples, rotation, position, a, b, sample, face, feature, gap, x, y, z, nx, ny, nz, row):  # type: ignore[no-untyped-def]
    """Fill `row` with the touch of a sample whose closest point on b is x, y, z; false: this is none.

    The touch lies at that point, which both surfaces share, and not at the sample, which may
    lie beyond b's edge.
    """
    sure = SURE if feature == 0 else DOUBTFUL
    if feature == 0:
        # b's face bears on a only along a direction that a's face, edge or vertex there can meet
        k = samples.normal[sample]
        kx, ky, kz = turned(rotation[a], k[0], k[1], k[2])
        kx, ky, kz = turned_back(rotation[b], kx, ky, kz)
        if -(nx * kx + ny * ky + nz * kz) < samples.cone[sample] - CONE_SLACK:
            sure = DOUBTFUL
    empty = nx == 0.0 and ny == 0.0 and nz == 0.0
    if feature != 0 and (samples.kind[sample] == FACE or empty):
        if feature <= 3:
            blunt = mesh.vertex_normal[mesh.vertex[face, feature - 1]]
        else:
            blunt = mesh.edge_normal[face, feature - 4]
        if samples.kind[sample] == FACE:  # a's face on b's edge or vertex: the face's normal, if b can bear it
            k = samples.normal[sample]
            nx, ny, nz = turned(rotation[a], -k[0], -k[1], -k[2])
            nx, ny, nz = turned_back(rotation[b], nx, ny, nz)
            flat = mesh.face_normal[face]
            cone = blunt[0] * flat[0] + blunt[1] * flat[1] + blunt[2] * flat[2]
            if nx * blunt[0] + ny * blunt[1] + nz * blunt[2] < cone - CONE_SLACK:
                return False
            if feature > 3 and _along_side(mesh, face, feature - 4, nx, ny, nz) > CONE_SLACK:
                return False
            sure = SURE
        else:
            nx, ny, nz = blunt[0], blunt[1], blunt[2]
    _write(row, rotation, position, b, x, y, z, nx, ny, nz)
    row[6], row[7] = gap, sure
    return True


@compiled
def touches(mesh, samples, bodies, planes, rotation, position, pair_a, pair_b, index, near, moved, reach):  # type: ignore[no-untyped-def]
    """Touches nearer than `reach` among candidates.

    Parameters: candidates, `index` (k, 2): pair and sample, and `near` (k,): signed distance (see
    `candidates`); `moved` bounds how far any two points have come together since.

    Returns rows (t, 9): point, normal from b to a, gap, sure or doubtful, candidate.
    """
    rows = np.empty((256, 9))
    count = 0
    for k in range(len(index)):
        pair, s = index[k, 0], index[k, 1]
        a, b = pair_a[pair], pair_b[pair]
        is_edge = samples.kind[s] == EDGE
        slack = EDGE_SLACK_M if is_edge and b >= 0 else 0.0
        if near[k] - moved >= reach + slack:
            continue
        if count + 2 > len(rows):
            rows = grown(rows)
        row = rows[count]
        if b < 0:
            gap = plane_height(planes, -1 - b, rotation, position, a, samples.point[s])
            if gap < reach:
                n = planes.normal[-1 - b]
                p = samples.point[s]
                x, y, z = turned(rotation[a], p[0], p[1], p[2])
                for c in range(3):
                    row[3 + c] = n[c]
                row[0] = x + position[a, 0] - n[0] * gap
                row[1] = y + position[a, 1] - n[1] * gap
                row[2] = z + position[a, 2] - n[2] * gap
                row[6], row[7], row[8] = gap, SURE, k
                count += 1
            continue
        x, y, z = into_frame(rotation, position, a, b, samples.point[s])
        gap, nx, ny, nz, face, feature, qx, qy, qz = signed_distance(mesh, bodies.root[b], x, y, z, reach + slack)
        if face < 0:
            continue
        if gap < reach and _point_touch(
            mesh, samples, rotation, position, a, b, s, face, feature, gap, qx, qy, qz, nx, ny, nz, row
        ):
            row[8] = k
            count += 1
            row = rows[count]
        if not is_edge:
            continue
        if _edge_touch(mesh, samples, rotation, position, a, b, s, face, x, y, z, reach, row) and row[6] > -reach:
            row[8] = k
            count += 1
    return rows[:count]
