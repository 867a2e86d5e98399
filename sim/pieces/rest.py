"""Natural rest poses: the ways in which a piece lies on a level floor by itself.

Glossary
--------
facet : a flat side of the convex hull, its coplanar triangles taken as one
roll : a piece set down on a facet that does not carry its centre tips over an edge onto the next one
share of support : the part of all directions, seen from the centre, that ends in a pose when the piece
    is set down gently with that direction downward
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull

from sim.pieces.body import Body, Faces, Floats
from sim.pieces.turning import rotation_from_turns

_FLAT = 1.0e-6  # of the hull's diagonal: what coordinates of single precision lose, 0.1 um on 100 mm


@dataclass(frozen=True, slots=True, eq=False)
class RestPose:
    """One way in which a piece lies still on a level floor."""

    turn_deg: tuple[float, float, float]  # about fixed x, then y; the third is 0 and free for the builder's own turn
    rotation: Floats  # (3, 3), the same turn
    share: float  # of all directions; the shares of a piece's poses add up to 1
    height_m: float  # of the centre of volume above the floor
    least_tilt_deg: float  # tilt of the floor that would tip the piece over its nearest edge
    support_m: Floats  # (k, 3) corners of the support in the body's frame, counter-clockwise seen from outside


@dataclass(frozen=True, slots=True, eq=False)
class _Facet:
    normal: Floats  # (3,) outward
    corners_m: Floats  # (k, 3) counter-clockwise seen from outside
    beyond: NDArray[np.intp]  # (k,) facet across the edge from corner i to corner i + 1
    solid_angle: float
    height_m: float  # of the centre above the facet's plane
    inside_m: Floats  # (k,) signed distance of the centre's foot from each edge, positive inside


def rest_poses(body: Body, least_share: float = 0.0) -> list[RestPose]:
    """List the poses in which a piece rests on a level floor, the likeliest first.

    Parameters
    ----------
    body : Body
        Uniform density: the centre of mass is the origin.
    least_share : float
        Leave out poses with a smaller share of support, 0 to 1.

    Returns
    -------
    list of RestPose
        Sorted by falling share. The share is quasi-static: it knows neither bouncing nor friction, and a
        piece rolls over the edge that its centre overhangs most.

    References
    ----------
    Goldberg, K., Mirtich, B., Zhuang, Y., Craig, J., Carlisle, B. & Canny, J. (1999). Part pose statistics:
    estimators and experiments. IEEE Trans. Robotics and Automation 15(5), 849-857.
    """
    facets = _facets(body.vertices_m)
    shares = _shares_after_rolling(facets)
    poses = [
        _pose(facet, float(share))
        for facet, share in zip(facets, shares, strict=True)
        if share > 0.0 and share >= least_share
    ]
    return sorted(poses, key=lambda pose: (-round(pose.share, 9), pose.height_m, pose.turn_deg))


def rest_turns(body: Body, least_share: float = 0.02) -> list[tuple[float, float, float]]:
    """`turn_deg` of each natural rest pose for a scene file, the likeliest first; add your own turn to the third."""
    return [pose.turn_deg for pose in rest_poses(body, least_share)]


def _pose(facet: _Facet, share: float) -> RestPose:
    turn_deg = _turn_down(facet.normal)
    return RestPose(
        turn_deg=turn_deg,
        rotation=rotation_from_turns(turn_deg),
        share=share,
        height_m=facet.height_m,
        least_tilt_deg=float(np.degrees(np.arctan2(facet.inside_m.min(), facet.height_m))),
        support_m=facet.corners_m,
    )


def _turn_down(normal: Floats) -> tuple[float, float, float]:
    """Turns about fixed x, then y, that bring an outward normal to point straight down."""
    nx, ny, nz = (0.0 if abs(part) < 1.0e-12 else float(part) for part in normal)
    lean = float(np.hypot(ny, nz))
    about_x = float(np.degrees(np.arctan2(0.0 - ny, 0.0 - nz))) if lean > 0.0 else 0.0
    return about_x, float(np.degrees(np.arctan2(nx, lean))), 0.0


def _shares_after_rolling(facets: list[_Facet]) -> Floats:
    """Let every facet that does not carry the centre hand its share to the facet that it tips onto."""
    shares = np.array([facet.solid_angle for facet in facets]) / (4.0 * np.pi)
    # tipping always lowers the centre, so the highest facets pass on first and nothing comes back
    for index in sorted(range(len(facets)), key=lambda i: -facets[i].height_m):
        facet = facets[index]
        edge = int(facet.inside_m.argmin())
        onto = int(facet.beyond[edge])
        if facet.inside_m[edge] <= 0.0 and facets[onto].height_m < facet.height_m:
            shares[onto] += shares[index]
            shares[index] = 0.0
    return shares


def _facets(vertices_m: Floats) -> list[_Facet]:
    """Flat sides of the convex hull with their neighbours."""
    hull = ConvexHull(vertices_m)
    triangles = _outward(hull)
    groups = _coplanar_groups(vertices_m, triangles, hull)
    across = {
        (int(a), int(b)): int(group)
        for triangle, group in zip(triangles, groups, strict=True)
        for a, b in zip(triangle, np.roll(triangle, -1), strict=True)
    }
    order = np.argsort(groups, kind="stable")
    sides = np.split(order, np.flatnonzero(np.diff(groups[order])) + 1)
    return [_facet(vertices_m, triangles, side, across) for side in sides]


def _outward(hull: ConvexHull) -> Faces:
    """Triangles of a hull, counter-clockwise seen from outside."""
    triangles = np.array(hull.simplices, dtype=np.int32)
    corners = hull.points[triangles]
    crosses = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    wrong = np.einsum("ij,ij->i", crosses, hull.equations[:, :3]) < 0.0
    triangles[wrong] = triangles[wrong][:, ::-1]
    return triangles


def _coplanar_groups(vertices_m: Floats, triangles: Faces, hull: ConvexHull) -> NDArray[np.intp]:
    """Number of the flat side to which each hull triangle belongs.

    A side grows from its largest triangle and takes only neighbours in that triangle's own plane:
    comparing neighbour with neighbour would creep around a finely meshed curve.
    """
    flat_m = _FLAT * float(np.linalg.norm(np.ptp(vertices_m, axis=0)))
    corners = vertices_m[triangles]
    areas = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1)
    groups = np.full(len(triangles), -1, dtype=np.intp)
    count = 0
    for seed in np.argsort(-areas, kind="stable"):
        if groups[seed] >= 0:
            continue
        normal, offset = hull.equations[seed, :3], hull.equations[seed, 3]
        groups[seed] = count
        waiting = [int(seed)]
        while waiting:
            for other in hull.neighbors[waiting.pop()]:
                if groups[other] < 0 and np.abs(corners[other] @ normal + offset).max() <= flat_m:
                    groups[other] = count
                    waiting.append(int(other))
        count += 1
    return groups


def _facet(vertices_m: Floats, triangles: Faces, side: NDArray[np.intp], across: dict[tuple[int, int], int]) -> _Facet:
    """Flat side made of the hull triangles `side`; `across` tells the side beyond a directed edge."""
    own = triangles[side]
    corners_m = vertices_m[own]
    crosses = np.cross(corners_m[:, 1] - corners_m[:, 0], corners_m[:, 2] - corners_m[:, 0]).sum(axis=0)
    normal = crosses / np.linalg.norm(crosses)
    directed = [(int(a), int(b)) for triangle in own for a, b in zip(triangle, np.roll(triangle, -1), strict=True)]
    border = sorted(set(directed) - {(b, a) for a, b in directed})
    begins_m, ends_m = (vertices_m[[edge[k] for edge in border]] for k in (0, 1))
    inward = np.cross(normal, ends_m - begins_m)
    inward /= np.linalg.norm(inward, axis=1, keepdims=True)
    # the border of a convex side, in the order of the angle about its middle
    along = begins_m - begins_m.mean(axis=0)
    first = along[0] / np.linalg.norm(along[0])
    order = np.argsort(np.arctan2(along @ np.cross(normal, first), along @ first), kind="stable")
    return _Facet(
        normal=normal,
        corners_m=begins_m[order],
        beyond=np.array([across[b, a] for a, b in border], dtype=np.intp)[order],
        solid_angle=_solid_angle(corners_m),
        height_m=float(begins_m.mean(axis=0) @ normal),
        inside_m=np.einsum("ij,ij->i", inward, -begins_m)[order],
    )


def _solid_angle(corners_m: Floats) -> float:
    """Solid angle of triangles (n, 3, 3) seen from the origin (van Oosterom & Strackee 1983, eq. 8)."""
    a, b, c = corners_m[:, 0], corners_m[:, 1], corners_m[:, 2]
    la, lb, lc = (np.linalg.norm(side, axis=1) for side in (a, b, c))
    triple = np.einsum("ij,ij->i", a, np.cross(b, c))
    ab, bc, ca = (np.einsum("ij,ij->i", p, q) for p, q in ((a, b), (b, c), (c, a)))
    return float(2.0 * np.arctan2(triple, la * lb * lc + ab * lc + bc * la + ca * lb).sum())
