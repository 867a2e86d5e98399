"""A whole scene of real scanned stones: two piers of three, a stone that bridges them, a loose stack beside.

Fifteen different scans at 80 to 230 mm in a tank of 900 x 450 x 450 mm. Poses as found once, rounded to 0.1 mm and
0.1 degrees and lifted by about half a millimetre; settling is left to whoever builds it. Dry-laid everything lies
still, but tips long before the tank is tilted as far as a builder wants. The stones are no part of the repository.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from scan_stacks import PIECE, Scan

HEAD = """\
format = 1
title = "Two piers, a bridge and a loose stack"
[tank]
inner_mm = [900, 450, 450]
base_mm = 10
side_mm = 10
glass = "annealed"
support = "mat"
mat = { material = "EPS22", thickness_mm = 10 }
under_stones = { kind = "sheet", thickness_mm = 4 }
[water]
level_mm = 400
[camera]
position_mm = [450, -1200, 260]
look_at_mm = [450, 225, 160]
focal_mm = 35
sensor_mm = [36, 24]
[check]
trials = 2
"""
STONES = {
    "pier_left_1": Scan("masonry-study/stone_160.obj", 145.0, (33.8, -9.4, 77.7), (186.0, 160.1, 4.5)),
    "pier_left_2": Scan("masonry-study/wall_stone_074.obj", 130.0, (169.7, -84.1, 8.6), (191.9, 157.6, 33.3)),
    "pier_left_3": Scan("masonry-study/wall_stone_044.obj", 115.0, (75.1, -80.2, -31.7), (179.3, 167.7, 75.7)),
    "pier_right_1": Scan("masonry-study/wall_stone_066.obj", 145.0, (66.6, -82.1, 141.7), (357.8, 165.0, 4.5)),
    "pier_right_2": Scan("masonry-study/wall_stone_056.obj", 130.0, (-85.6, -78.9, 130.3), (358.8, 159.1, 49.2)),
    "pier_right_3": Scan("masonry-study/wall_stone_068.obj", 115.0, (-57.5, 67.6, -17.1), (352.7, 165.3, 80.3)),
    "bridge": Scan("masonry-study/wall_stone_112.obj", 230.0, (-82.7, -82.7, 173.2), (269.7, 159.1, 111.0)),
    "loose_1": Scan("masonry-study/wall_stone_076.obj", 140.0, (58.9, -79.8, -149.2), (537.6, 284.6, 4.5)),
    "loose_2": Scan("masonry-study/wall_stone_032.obj", 145.0, (7.3, -89.0, -94.7), (715.7, 300.8, 4.5)),
    "loose_3": Scan("masonry-study/wall_stone_012.obj", 135.0, (-173.6, 83.1, 108.5), (630.6, 171.6, 4.5)),
    "loose_4": Scan("masonry-study/wall_stone_070.obj", 80.0, (-166.2, -76.2, 56.6), (708.2, 273.6, 34.8)),
    "loose_5": Scan("moon-rocks/rock_1.ply", 80.0, (-9.5, -10.0, 92.1), (569.9, 284.8, 46.4)),
    "loose_6": Scan("masonry-study/wall_stone_024.obj", 100.0, (-142.5, 73.0, -9.4), (633.8, 180.9, 51.1)),
    "loose_7": Scan("masonry-study/wall_stone_098.obj", 100.0, (-117.2, 74.3, 130.4), (570.1, 294.8, 69.0)),
    "loose_8": Scan("masonry-study/wall_stone_014.obj", 80.0, (-61.3, -80.6, -150.1), (608.0, 227.6, 76.8)),
}
RESTS_ON = {  # as it is meant
    "pier_left_1": {"base"},
    "pier_left_2": {"pier_left_1"},
    "pier_left_3": {"pier_left_2"},
    "pier_right_1": {"base"},
    "pier_right_2": {"pier_right_1"},
    "pier_right_3": {"pier_right_2"},
    "bridge": {"pier_left_3", "pier_right_3"},
    "loose_1": {"base"},
    "loose_2": {"base"},
    "loose_3": {"base"},
    "loose_4": {"loose_2"},
    "loose_5": {"loose_1"},
    "loose_6": {"loose_3"},
    "loose_7": {"loose_5"},
    "loose_8": {"loose_6", "loose_7"},
}


def scene_text(meshes: Mapping[str, Path]) -> str:
    """The scene file with the mesh of each stone."""
    text = HEAD
    for name, stone in STONES.items():
        mesh = meshes[name].as_posix()
        text += PIECE.format(id=name, mesh=mesh, at=list(stone.at_mm), turn=list(stone.turn_deg))
    return text
