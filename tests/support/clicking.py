"""A photo of an empty tank, traced pixel by pixel, and clicks on its corners."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from shots import snell, to_plane

from sim.shot.clicks import CORNERS, EDGES, Clicks, corner_m
from sim.shot.lens import Lens
from sim.shot.projection import project_with
from sim.shot.refraction import Tank

Floats = NDArray[np.float64]

SIZE = (6000, 4000)
OUTSIDE, LEFT, RIGHT, BACK, BASE, TOP = range(6)
# which two faces meet at an edge, as a photo shows them
FACES = {"left": LEFT, "right": RIGHT, "bottom": BASE, "top": TOP, "back": BACK, "front": OUTSIDE}


def clicked(
    lens: Lens,
    tank: Tank,
    names: tuple[str, ...] = CORNERS,
    off_px: float = 0.0,
    seed: int = 0,
    per_edge: int = 0,
    size_px: tuple[int, int] = SIZE,
) -> Clicks:
    """Clicks on corners, and on `per_edge` points of each edge, off by some pixels."""
    rng = np.random.default_rng(seed)
    corners = project_with(lens, tank, np.array([corner_m(name, tank) for name in names]), size_px)
    corners = corners + rng.normal(0.0, off_px, corners.shape)
    edges = [edge for edge in EDGES for _ in range(per_edge)]
    share = np.tile(np.linspace(0.0, 1.0, per_edge + 2)[1:-1], len(EDGES))[:, None]
    edge_px = np.zeros((0, 2))
    if per_edge:
        first, last = (np.array([corner_m(edge[end], tank) for edge in edges]) for end in (0, 1))
        edge_px = project_with(lens, tank, first + share * (last - first), size_px)
        edge_px = edge_px + rng.normal(0.0, off_px, edge_px.shape)
    return Clicks(
        {name: (float(u), float(v)) for name, (u, v) in zip(names, corners, strict=True)}, tuple(edges), edge_px
    )


def empty_tank(
    inner_m: Floats, side_m: float, eye_m: Floats, tangent_per_px: float, size_px: tuple[int, int]
) -> NDArray[np.int8]:
    """Which inner face each pixel of a square-on photo shows (height, width); rays bent by the vector form of Snell."""
    width, height = size_px
    u, v = np.meshgrid(np.arange(width) + 0.5 - width / 2.0, np.arange(height) + 0.5 - height / 2.0)
    rays = np.stack([u.ravel() * tangent_per_px, np.ones(u.size), -v.ravel() * tangent_per_px], axis=1)
    rays /= np.linalg.norm(rays, axis=1, keepdims=True)
    normal = np.array([0.0, 1.0, 0.0])
    outer = to_plane(np.broadcast_to(eye_m, rays.shape), rays, 1, -side_m)
    glass = snell(rays, normal, 1.0, 1.52)
    inner = to_plane(outer, glass, 1, 0.0)
    behind = snell(glass, normal, 1.52, 1.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        runs = np.stack(
            [
                np.where(behind[:, 0] < 0.0, -inner[:, 0] / behind[:, 0], np.inf),
                np.where(behind[:, 0] > 0.0, (inner_m[0] - inner[:, 0]) / behind[:, 0], np.inf),
                inner_m[1] / behind[:, 1],
                np.where(behind[:, 2] < 0.0, -inner[:, 2] / behind[:, 2], np.inf),
                np.where(behind[:, 2] > 0.0, (inner_m[2] - inner[:, 2]) / behind[:, 2], np.inf),
            ],
            axis=1,
        )
    face = np.argmin(runs, axis=1) + 1
    within = ((inner[:, [0, 2]] >= 0.0) & (inner[:, [0, 2]] <= inner_m[[0, 2]])).all(axis=1)
    return np.where(within, face, OUTSIDE).reshape(height, width).astype(np.int8)


def borders(faces: NDArray[np.int8], edge: tuple[str, str]) -> Floats:
    """Points (n, 2), pixels, halfway between neighbours that show the two faces meeting at an edge."""
    shared = [word for word in edge[0].split("_") if word in edge[1].split("_")]
    one, other = (FACES[word] for word in shared)
    found = []
    for axis, step in ((0, (0.5, 1.0)), (1, (1.0, 0.5))):
        near, far = (np.moveaxis(faces, axis, 0)[part] for part in (slice(None, -1), slice(1, None)))
        met = ((near == one) & (far == other)) | ((near == other) & (far == one))
        rows, columns = np.nonzero(np.moveaxis(met, 0, axis))
        found.append(np.stack([columns + step[0], rows + step[1]], axis=1))
    return np.concatenate(found)


def corners_of(faces: NDArray[np.int8]) -> dict[str, tuple[float, float]]:
    """Corners of the tank in a traced photo: where straight lines along the borders of faces meet."""
    lines = {}
    for edge in EDGES:
        points = borders(faces, edge)
        middle = points.mean(axis=0)
        along = np.linalg.svd(points - middle, full_matrices=False)[2][0]
        normal = np.array([-along[1], along[0]])
        lines[edge] = (normal, normal @ middle)
    corners = {}
    for name in CORNERS:
        met = [lines[edge] for edge in EDGES if name in edge]
        point = np.linalg.lstsq(np.array([line[0] for line in met]), np.array([line[1] for line in met]), rcond=None)[0]
        corners[name] = (float(point[0]), float(point[1]))
    return corners
