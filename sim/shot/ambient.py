"""Light that depends on the scene alone, not on the camera: open sky and the lamp's soft shadow, per vertex."""

from __future__ import annotations

import hashlib

import numpy as np
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

from sim.pieces.cache import keep, recall

Floats = NDArray[np.float64]

SKY_REACH_M = 0.25  # what stands farther off takes no sky away
SKY_RAYS = 48
LAMP_ROWS = 6  # rays to the lamp: its square
LIFT_M = 3e-4  # rays leave a surface this far off it, or they hit where they start
KIND = "shot-light-1"


def open_sky(scene: EmbreeScene, vertices: Floats, normals: Floats, rays: int = SKY_RAYS) -> Floats:
    """Cosine-weighted share (n,) of directions in which nothing is near, per vertex (n, 3)."""
    # a spiral over the hemisphere; the same for every vertex, so that neighbours agree
    turn = np.arange(rays) * 2.399963  # golden angle
    radius = np.sqrt((np.arange(rays) + 0.5) / rays)
    local = np.stack([radius * np.cos(turn), radius * np.sin(turn), np.sqrt(1.0 - radius**2)], axis=1)
    tangent = unit(np.cross(normals, np.where(np.abs(normals[:, :1]) < 0.7, [[1.0, 0, 0]], [[0, 1.0, 0]])))
    frames = np.stack([tangent, np.cross(normals, tangent), normals], axis=1)
    origins = vertices + normals * LIFT_M
    open_share = np.zeros(len(vertices))
    for direction in local:
        ways = np.einsum("k,nkj->nj", direction, frames)
        open_share += ~blocked(scene, origins, ways, SKY_REACH_M)
    return open_share / rays


def lamp_share(scene: EmbreeScene, vertices: Floats, normals: Floats, low_m: Floats, high_m: Floats) -> Floats:
    """Share (n,) of a level rectangular lamp, between two corners (3,), that each vertex sees."""
    origins = vertices + normals * LIFT_M
    steps = (np.arange(LAMP_ROWS) + 0.5) / LAMP_ROWS
    seen = np.zeros(len(vertices))
    for k, along in enumerate(steps):
        for across in steps:
            # every other row is shifted, so that the rows of lamps do not draw stripes of shadow
            share = np.array([(along + (k % 2 - 0.5) * 0.5 / LAMP_ROWS), across, 0.0])
            towards = low_m + share * (high_m - low_m) - origins
            reach = np.linalg.norm(towards, axis=1)
            seen += ~blocked(scene, origins, towards / reach[:, None], reach)
    return seen / LAMP_ROWS**2


def baked(scene: EmbreeScene, vertices: Floats, faces: NDArray[np.int32], normals: Floats, lamp_m: Floats) -> Floats:
    """Open sky and lamp (n, 2) per vertex, kept between runs under the hash of the geometry and the lamp (2, 3)."""
    digest = hashlib.sha256(repr((KIND, SKY_REACH_M, SKY_RAYS, LAMP_ROWS, LIFT_M)).encode())
    for array in (vertices, faces, lamp_m):
        digest.update(np.ascontiguousarray(array).tobytes())
    key = digest.hexdigest()
    kept = recall(KIND, key)
    if kept is not None and kept.get("light", np.zeros(0)).shape == (len(vertices), 2):
        return np.asarray(kept["light"], dtype=np.float64)
    light = np.stack(
        [open_sky(scene, vertices, normals), lamp_share(scene, vertices, normals, lamp_m[0], lamp_m[1])], axis=1
    )
    keep(KIND, key, {"light": light.astype(np.float32)})
    return light.astype(np.float32).astype(np.float64)  # the same whether kept or not


def blocked(scene: EmbreeScene, origins: Floats, directions: Floats, reach_m: float | Floats) -> NDArray[np.bool_]:
    """Whether something lies within `reach_m` of each origin (n, 3) in its direction (n, 3)."""
    reach = np.broadcast_to(np.asarray(reach_m, np.float32), len(origins)).copy()
    hit = scene.run(origins.astype(np.float32), directions.astype(np.float32), dists=reach, query="OCCLUDED")
    return np.asarray(hit == 0, dtype=np.bool_)


def unit(vectors: Floats) -> Floats:
    """Vectors (n, 3) at length 1; those of no length stay."""
    return np.asarray(vectors / np.maximum(np.linalg.norm(vectors, axis=1, keepdims=True), 1e-30))
