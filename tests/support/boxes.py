"""Scenes of exact boxes, for tests that need known sizes: each box is a mesh file of its own."""

from __future__ import annotations

from pathlib import Path

import trimesh

from sim.scene import Scene, parse_scene

HEAD = """format = 1
title = "Boxes"
[tank]
inner_mm = [600, 400, 400]
base_mm = 8
side_mm = 8
under_stones = { kind = "sheet", thickness_mm = 5 }
[water]
level_mm = 300
"""
FLOOR_MM = 5.0


def box_entry(folder: Path, name: str, size_mm: tuple[float, float, float], at_mm: tuple[float, float, float],
              more: str = 'rock = "granite"') -> str:  # fmt: skip
    """A `[[piece]]` of an exact box; writes its mesh beside the scene."""
    mesh = f"box_{'x'.join(f'{size:g}' for size in size_mm)}.ply"
    if not (folder / mesh).exists():
        trimesh.creation.box(size_mm).export(folder / mesh)
    return f'[[piece]]\nid = "{name}"\nmesh = "{mesh}"\nat_mm = {list(at_mm)}\n{more}\n'


def scene_of(folder: Path, *entries: str, head: str = HEAD) -> Scene:
    """The scene of these entries, in a folder."""
    return parse_scene(head + "".join(entries), folder / "scene.toml")
