"""Fine patterns worked out per pixel: the grain of stone and wood, and the grains of the ground."""

from __future__ import annotations

import math

from sim.compiling import inner


@inner  # type: ignore[untyped-decorator]
def scattered(i: int, j: int, k: int, seed: int) -> float:
    """A number from 0 to 1 for a cell, the same on every machine."""
    h = (i * 0x8DA6B343 + j * 0xD8163841 + k * 0xCB1AB31F + seed * 0x165667B1) & 0xFFFFFFFF
    h = ((h ^ (h >> 15)) * 0x2C1B3C6D) & 0xFFFFFFFF
    h = ((h ^ (h >> 12)) * 0x297A2D39) & 0xFFFFFFFF
    h ^= h >> 15
    return (h & 0xFFFF) / 65535.0


@inner  # type: ignore[untyped-decorator]
def rough(x: float, y: float, z: float, seed: int) -> tuple[float, float, float, float]:
    """Smooth noise from 0 to 1 that turns over about once per unit, and its slopes along x, y and z."""
    fx, fy, fz = math.floor(x), math.floor(y), math.floor(z)
    i, j, k = int(fx), int(fy), int(fz)
    u, v, w = x - fx, y - fy, z - fz
    su, sv, sw = u * u * (3 - 2 * u), v * v * (3 - 2 * v), w * w * (3 - 2 * w)
    du, dv, dw = 6 * u * (1 - u), 6 * v * (1 - v), 6 * w * (1 - w)
    a, b = scattered(i, j, k, seed), scattered(i + 1, j, k, seed)
    c, d = scattered(i, j + 1, k, seed), scattered(i + 1, j + 1, k, seed)
    e, f = scattered(i, j, k + 1, seed), scattered(i + 1, j, k + 1, seed)
    g, h = scattered(i, j + 1, k + 1, seed), scattered(i + 1, j + 1, k + 1, seed)
    low0, low1 = a + (b - a) * su, c + (d - c) * su
    high0, high1 = e + (f - e) * su, g + (h - g) * su
    low, high = low0 + (low1 - low0) * sv, high0 + (high1 - high0) * sv
    slope_x = (((b - a) * (1 - sv) + (d - c) * sv) * (1 - sw) + ((f - e) * (1 - sv) + (h - g) * sv) * sw) * du
    slope_y = ((low1 - low0) * (1 - sw) + (high1 - high0) * sw) * dv
    return low + (high - low) * sw, slope_x, slope_y, (high - low) * dw


@inner  # type: ignore[untyped-decorator]
def pebbled(x: float, y: float, seed: int) -> tuple[float, float, float, float]:
    """Grains lying side by side, one per unit: their own tone 0 to 1, distance from the middle, and way from it."""
    i0, j0 = math.floor(x), math.floor(y)
    nearest, tone, way_x, way_y = 9.0, 0.5, 0.0, 0.0
    for di in range(-1, 2):
        for dj in range(-1, 2):
            i, j = i0 + di, j0 + dj
            dx = x - (i + 0.15 + 0.7 * scattered(i, j, 1, seed))
            dy = y - (j + 0.15 + 0.7 * scattered(i, j, 2, seed))
            away = dx * dx + dy * dy
            if away < nearest:
                nearest, tone, way_x, way_y = away, scattered(i, j, 3, seed), dx, dy
    return tone, math.sqrt(nearest), way_x, way_y
