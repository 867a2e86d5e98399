"""Scenes to photograph, and light traced by the book: one face after the other, by the vector form of Snell's law."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from sim.scene import Scene, parse_scene

Floats = NDArray[np.float64]
Triple = tuple[float, float, float]

INNER_MM = (1500.0, 600.0, 500.0)


def scene_with(
    camera: str = "", level_mm: float = 500.0, inner_mm: tuple[float, float, float] = INNER_MM, rest: str = ""
) -> Scene:
    """A tank of 12 mm glass, filled, and a camera of a few lines of TOML."""
    return parse_scene(
        f"format = 1\n[tank]\ninner_mm = {list(inner_mm)}\nbase_mm = 12\nside_mm = 12\n"
        f"[water]\nlevel_mm = {level_mm}\n[camera]\n{camera}\n{rest}\n",
        "shot.toml",
    )


def stones_text(stones: Sequence[tuple[str, int, Triple, Triple, float]]) -> str:
    """Entries s0, s1, ... of generated stones: shape, seed, size and place in mm, turn about z in degrees."""
    return "".join(
        f"""
[[piece]]
id = "s{k}"
generate = {{ shape = "{shape}", seed = {seed}, size_mm = {list(size)}, faces = 2000 }}
rock = "limestone"
at_mm = {list(at)}
turn_deg = [0, 0, {turn}]
"""
        for k, (shape, seed, size, at, turn) in enumerate(stones)
    )


def snell(directions: Floats, normal: Floats, index_from: float, index_to: float) -> Floats:
    """Refracted unit directions (n, 3), vector form; the normal points along the light."""
    cosine = directions @ normal
    ratio = index_from / index_to
    beyond = np.sqrt(1.0 - ratio**2 * (1.0 - cosine**2))
    return ratio * directions + (beyond - ratio * cosine)[:, None] * normal


def to_plane(origins: Floats, directions: Floats, axis: int, at_m: float) -> Floats:
    """Where rays meet the plane axis = at_m."""
    return origins + directions * ((at_m - origins[:, axis]) / directions[:, axis])[:, None]


def distance_to_rays(points: Floats, origins: Floats, directions: Floats) -> Floats:
    """Distance (n,) of each point from its ray."""
    return np.linalg.norm(np.cross(points - origins, directions), axis=1)
