"""A shard: slaty rock split along its cleavage and snapped across it."""

from __future__ import annotations

import numpy as np

from sim.pieces.body import Floats
from sim.pieces.generate.noise import noise
from sim.pieces.generate.paint import PALETTES, bands, weather
from sim.pieces.generate.solid import Solid, smooth_max

SMALLEST_MM, LARGEST_MM = np.array([100.0, 55.0, 16.0]), np.array([150.0, 90.0, 28.0])


def shard(rng: np.random.Generator, size_mm: Floats, rock: str = "slate", faces: int = 10000) -> Solid:
    """Make a shard of about `size_mm`: a wedge with stepped cleavage faces and bevelled breaks."""
    half = size_mm / 2.0
    seed = int(rng.integers(2**30))
    breaks, distances = _breaks(rng, half)
    wedge = np.array([rng.uniform(-0.6, 0.6), rng.uniform(-0.4, 0.4)]) * half[2] / half[:2]
    steps = [(rng.normal(size=2), rng.uniform(-0.5, 0.6), rng.uniform(0.10, 0.26) * half[2]) for _ in range(4)]

    def field(points: Floats) -> Floats:
        flat = points * np.array([1.0, 1.0, 0.15])
        ripple = 0.5 * noise(flat / 14.0, seed + 1, 2) + 0.9 * noise(flat / 40.0, seed + 2)
        top, under = np.full(len(points), half[2]), np.full(len(points), half[2])
        for number, (line, at, depth) in enumerate(steps):
            # a cleavage step: the sheet beyond a ragged line has come away
            across = points[:, :2] / half[:2] @ (line / np.linalg.norm(line)) - at
            ragged = across * half[1] + 4.0 * noise(flat / 18.0, seed + 20 + number, 2)
            lost = depth * np.clip(ragged / 1.2 + 0.5, 0.0, 1.0)
            top, under = (top - lost, under) if number % 2 == 0 else (top, under - lost)
        tapered = points[:, :2] @ wedge
        cleaved = np.maximum(points[:, 2] + tapered - top, -points[:, 2] - under) + ripple * 0.7
        hackle = 0.8 * noise(points / np.array([9.0, 9.0, 2.5]), seed + 3, 2) + 2.4 * noise(points / 30.0, seed + 4)
        broken = (points @ breaks.T - distances).max(axis=1) + hackle
        return smooth_max(cleaved, broken, 0.7) + 0.15 * noise(points / 4.0, seed + 5)

    def paint(points: Floats, normals: Floats) -> Floats:
        sheets = points[:, 2] + points[:, :2] @ wedge / 2.0 + 0.3 * noise(points / 10.0, seed + 6)
        return weather(bands(sheets, seed + 7, PALETTES[rock], 1.2, 4.0), points, normals, field, seed, 0.35)

    area = 1.6 * float(size_mm[0] * size_mm[1] + size_mm[1] * size_mm[2] + size_mm[2] * size_mm[0])
    return Solid(field, paint, -1.15 * half - 3.0, 1.15 * half + 3.0, area, faces)


def _breaks(rng: np.random.Generator, half: Floats) -> tuple[Floats, Floats]:
    """Outward directions (m, 3) and distances (m,) of the snapped sides of a long, pointed outline."""
    corners = 5
    angles = np.radians(360.0 / corners * np.arange(corners) + rng.uniform(-22.0, 22.0, corners) + rng.uniform(0, 360))
    flat = np.column_stack([np.cos(angles) / half[0], np.sin(angles) / half[1]])
    tilt = rng.uniform(-0.55, 0.55, corners)
    lengths = np.linalg.norm(flat, axis=1)
    breaks = np.column_stack([flat / lengths[:, None], tilt])
    distances = rng.uniform(0.62, 0.98, corners) / lengths
    norms = np.linalg.norm(breaks, axis=1)
    return breaks / norms[:, None], distances / norms
