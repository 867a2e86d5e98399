"""Seeded gradient noise: the roughness, the staining and the grain of generated pieces."""

from __future__ import annotations

import numpy as np

from sim.compiling import compiled, inner
from sim.pieces.body import Floats


@inner  # type: ignore[untyped-decorator]
def _corner(i: int, j: int, k: int, seed: int, x: float, y: float, z: float) -> float:
    """Dot product of a lattice corner's pseudo-random gradient with the way to it."""
    # 32-bit integer mixing only: the same gradients on every machine
    h = (i * 0x8DA6B343 + j * 0xD8163841 + k * 0xCB1AB31F + seed * 0x165667B1) & 0xFFFFFFFF
    h = ((h ^ (h >> 15)) * 0x2C1B3C6D) & 0xFFFFFFFF
    h = ((h ^ (h >> 12)) * 0x297A2D39) & 0xFFFFFFFF
    h ^= h >> 15
    which = h % 12
    a = 1.0 if h & 0x10000 else -1.0
    b = 1.0 if h & 0x20000 else -1.0
    if which < 4:
        return a * x + b * y
    if which < 8:
        return a * x + b * z
    return a * y + b * z


@compiled  # type: ignore[untyped-decorator]
def _noise(points: Floats, seed: int) -> Floats:
    result = np.empty(len(points))
    for n in range(len(points)):
        floor_x, floor_y, floor_z = np.floor(points[n, 0]), np.floor(points[n, 1]), np.floor(points[n, 2])
        i, j, k = int(floor_x), int(floor_y), int(floor_z)
        x, y, z = points[n, 0] - floor_x, points[n, 1] - floor_y, points[n, 2] - floor_z
        u = x * x * x * (x * (x * 6.0 - 15.0) + 10.0)
        v = y * y * y * (y * (y * 6.0 - 15.0) + 10.0)
        w = z * z * z * (z * (z * 6.0 - 15.0) + 10.0)
        total = 0.0
        for di in range(2):
            for dj in range(2):
                for dk in range(2):
                    weight = (u if di else 1.0 - u) * (v if dj else 1.0 - v) * (w if dk else 1.0 - w)
                    total += weight * _corner(i + di, j + dj, k + dk, seed, x - di, y - dj, z - dk)
        result[n] = total
    return result


def noise(points: Floats, seed: int, octaves: int = 1) -> Floats:
    """Smooth noise about 0, mostly within ±0.7, that turns over about once per unit length.

    Parameters
    ----------
    points : (n, 3) array, already divided by the wanted wavelength
    seed : int, 0 to 2³¹
    octaves : int
        Each further one has half the wavelength and half the height.

    Returns
    -------
    (n,) array

    References
    ----------
    Perlin, K. (2002). Improving Noise. Lattice gradients along cube edges, quintic fade.
    """
    total = np.zeros(len(points))
    for octave in range(octaves):
        # the shift keeps the lattices of two octaves, where noise is always 0, apart
        shifted = np.ascontiguousarray(points * 2.0**octave + 0.37 * octave)
        total += _noise(shifted, seed + octave) / 2.0**octave
    return total
