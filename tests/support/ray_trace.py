"""A plain ray trace of a tank, one face of glass after the other; shares nothing with the drawing code.

Every ray is followed by Snell's law in vector form: through the front pane's two faces, off the outer face
of a wet side pane and back through its inner face, off the water's surface. Where a face lets light pass,
the ray passes; it is thrown back only where Snell's law has no direction beyond.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import trimesh

GLASS = 1.52


@dataclass
class Box:
    inner: tuple[float, float, float]
    glass: float
    level: float
    n: float
    seam: float = 0.003
    film: tuple[str, ...] = ()
    ground: tuple[float, float] = (0.0, 0.0)  # height at the front and at the back pane

    def under_ground(self, points: np.ndarray) -> np.ndarray:
        y = np.clip(points[:, 1], 0.0, self.inner[1])
        return points[:, 2] < self.ground[0] + (self.ground[1] - self.ground[0]) * y / self.inner[1]


def bend(way: np.ndarray, normal: np.ndarray, n_from: float, n_to: float) -> tuple[np.ndarray, np.ndarray]:
    """Directions beyond a face, and where there are none; `normal` points against the rays."""
    ratio = n_from / n_to
    cosine = -(way @ normal)
    square = 1.0 - ratio**2 * (1.0 - cosine**2)
    beyond = ratio * way + (ratio * cosine - np.sqrt(np.maximum(square, 0.0)))[:, None] * normal
    return beyond, square <= 0.0


def camera_ways(position, look_at, focal, focus, sensor, size) -> np.ndarray:
    """Directions through the pixels' middles, row by row."""
    forward = np.subtract(look_at, position)
    forward = forward / np.linalg.norm(forward)
    right = np.array([forward[1], -forward[0], 0.0])
    right /= np.linalg.norm(right)
    up = np.cross(right, forward)
    image = 1.0 / (1.0 / focal - 1.0 / focus)
    pitch = sensor[0] / size[0]
    ways = [
        image * forward + (i + 0.5 - size[0] / 2) * pitch * right - (j + 0.5 - size[1] / 2) * pitch * up
        for j in range(size[1])
        for i in range(size[0])
    ]
    return np.array(ways) / np.linalg.norm(ways, axis=1)[:, None]


def trace_ids(mesh: trimesh.Trimesh, owner: np.ndarray, box: Box, eye: np.ndarray, ways: np.ndarray) -> np.ndarray:
    """Owner of the triangle that each ray ends on, -1 where there is none."""
    return trace(mesh, owner, box, eye, ways)[0]


def trace(mesh, owner, box: Box, eye: np.ndarray, ways: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Owner that each ray ends on, and what it met before any mirror: an owner, or 100 + number of the wall.

    Walls: 100 left, 101 right, 102 front, 103 back, 104 surface, 105 top; -1: the ray never came in.
    """
    length, _, height = box.inner
    ids, first = np.full(len(ways), -1), np.full(len(ways), -1)
    towards = np.array([0.0, -1.0, 0.0])
    outer = eye + ways * ((-box.glass - eye[1]) / ways[:, 1])[:, None]
    in_glass, _ = bend(ways, towards, 1.0, GLASS)
    points = outer + in_glass * (box.glass / in_glass[:, 1])[:, None]
    opening = (points[:, 0] > 0) & (points[:, 0] < length) & (points[:, 2] > 0) & (points[:, 2] < height)
    wet = points[:, 2] < box.level
    inside = np.where(wet[:, None], bend(in_glass, towards, GLASS, box.n)[0], bend(in_glass, towards, GLASS, 1.0)[0])
    ray = np.flatnonzero(opening & ~box.under_ground(points))
    points, inside, wet = points[ray], inside[ray], wet[ray]
    plain = np.ones(len(ray), bool)
    for _ in range(12):
        if not len(ray):
            break
        hit, run = nearest(mesh, points, inside)
        walls = wall_runs(box, points, inside, wet)
        wall, to_wall = walls.argmin(axis=1), walls.min(axis=1)
        solid = (hit >= 0) & (run < to_wall)
        ids[ray[solid]] = owner[hit[solid]]
        first[ray[plain]] = np.where(solid, owner[hit], 100 + wall)[plain]
        before = wet.copy()
        points = points + inside * to_wall[:, None]
        on = np.zeros(len(ray), bool)
        for k, normal in enumerate(np.array([[1, 0, 0], [-1, 0, 0], [0, 1, 0], [0, -1, 0]], float)):
            here = ~solid & (wall == k)
            on[here] = off_pane(box, points, inside, wet, here, normal, k)
        here = ~solid & (wall == 4)
        on[here] = at_surface(box, inside, wet, here)
        plain &= wet != before
        ray, points, inside, wet, plain = ray[on], points[on], inside[on], wet[on], plain[on]
    return ids, first


def enter(box: Box, eye: np.ndarray, ways: np.ndarray, wet: bool) -> tuple[np.ndarray, np.ndarray]:
    """Points on the front pane's inner face and directions behind it."""
    towards = np.array([0.0, -1.0, 0.0])
    outer = eye + ways * ((-box.glass - eye[1]) / ways[:, 1])[:, None]
    in_glass, _ = bend(ways, towards, 1.0, GLASS)
    points = outer + in_glass * (box.glass / in_glass[:, 1])[:, None]
    return points, bend(in_glass, towards, GLASS, box.n if wet else 1.0)[0]


def aim(box: Box, eye: np.ndarray, targets: np.ndarray, wet: bool) -> np.ndarray:
    """Directions (n, 3) in air whose rays reach points behind the pane: Newton's method on the trace itself."""
    slopes = (targets - eye)[:, [0, 2]] / (targets - eye)[:, 1:2]

    def reached(slopes: np.ndarray) -> np.ndarray:
        ways = np.column_stack([slopes[:, 0], np.ones(len(slopes)), slopes[:, 1]])
        points, inside = enter(box, eye, ways / np.linalg.norm(ways, axis=1)[:, None], wet)
        return (points + inside * ((targets[:, 1] - points[:, 1]) / inside[:, 1])[:, None])[:, [0, 2]]

    for _ in range(12):
        miss = reached(slopes) - targets[:, [0, 2]]
        step = 1e-6
        across = (reached(np.add(slopes, [step, 0.0])) - reached(slopes)) / step
        upward = (reached(np.add(slopes, [0.0, step])) - reached(slopes)) / step
        slopes = slopes - np.linalg.solve(np.stack([across, upward], axis=2), miss[:, :, None])[:, :, 0]
    return np.column_stack([slopes[:, 0], np.ones(len(slopes)), slopes[:, 1]])


def nearest(mesh: trimesh.Trimesh, points: np.ndarray, ways: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Triangle and distance along each ray; -1 where there is none."""
    hit, run = np.full(len(points), -1), np.full(len(points), np.inf)
    face, ray, spot = mesh.ray.intersects_id(points, ways, multiple_hits=False, return_locations=True)
    hit[ray] = face
    run[ray] = ((spot - points[ray]) * ways[ray]).sum(axis=1)
    return hit, run


def wall_runs(box: Box, points: np.ndarray, ways: np.ndarray, wet: np.ndarray) -> np.ndarray:
    """Distance to left, right, front, back, surface and top (n, 6); infinite for what lies behind."""
    length, depth, height = box.inner
    walls = [(0, 0.0, -1), (0, length, 1), (1, 0.0, -1), (1, depth, 1)]
    columns = []
    for axis, place, sign in walls:
        ahead = ways[:, axis] * sign > 0
        columns.append(np.where(ahead, (place - points[:, axis]) / np.where(ahead, ways[:, axis], 1.0), np.inf))
    rising = ways[:, 2] > 0
    to_level = np.where(
        wet == rising, (box.level - points[:, 2]) / np.where(ways[:, 2] == 0, 1e-30, ways[:, 2]), np.inf
    )
    columns.append(to_level if box.level > 0 else np.full(len(points), np.inf))
    columns.append(np.where(rising & ~wet, (height - points[:, 2]) / np.where(rising, ways[:, 2], 1.0), np.inf))
    return np.maximum(np.array(columns).T, 0.0)


def off_pane(box, points, ways, wet, here, normal, k) -> np.ndarray:
    """Throw rays back from a pane's outer face where that is total, in place; say which go on."""
    n = np.where(wet[here], box.n, 1.0)
    at, way = points[here], ways[here]
    goes_on = np.zeros(len(at), bool)
    name = ("left", "right", "front", "back")[k]
    length, depth, _ = box.inner
    along, side = (at[:, 1], depth) if k < 2 else (at[:, 0], length)
    silicone = (along < box.seam) | (along > side - box.seam) | (at[:, 2] < box.seam)
    for index in np.unique(n):
        these = np.flatnonzero(n == index)
        in_glass, none = bend(way[these], normal, index, GLASS)
        _, total = bend(in_glass, normal, GLASS, 1.0)
        axis = 0 if k < 2 else 1
        outer = at[these] + in_glass * (box.glass / np.abs(in_glass[:, axis]))[:, None]
        back = in_glass - 2.0 * (in_glass @ normal)[:, None] * normal
        inner = outer + back * (box.glass / np.abs(back[:, axis]))[:, None]
        out, _ = bend(back, -normal, GLASS, index)
        keep = total & ~none & ~silicone[these] & (name not in box.film) & ~box.under_ground(inner)
        rows = np.flatnonzero(here)[these[keep]]
        points[rows], ways[rows] = inner[keep], out[keep]
        goes_on[these[keep]] = True
    return goes_on


def at_surface(box, ways, wet, here) -> np.ndarray:
    """Through the water's surface, or off it from below where that is total; in place. All go on."""
    rows = np.flatnonzero(here)
    for under in (True, False):
        these = rows[wet[rows] == under]
        normal = np.array([0.0, 0.0, -1.0 if under else 1.0])
        beyond, total = bend(ways[these], normal, box.n if under else 1.0, 1.0 if under else box.n)
        back = ways[these] - 2.0 * (ways[these] @ normal)[:, None] * normal
        ways[these] = np.where(total[:, None], back, beyond)
        wet[these] = np.where(total, under, not under)
    return np.ones(len(rows), bool)
