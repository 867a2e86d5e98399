"""The refracted, flooded picture with its mirrors against the plain pinhole picture in the same renderer.

60 generated stones of some 5,000 triangles, 1920 x 1280. The pinhole picture has the same stones, floor, lamp and
sheet; panes and water have the index of air, so no ray is bent, mirrored or split. Wall time and processor time
(both threads added) are given, the least of some runs each, taken in turns.

Run: python tests/benchmarks/bench_shot.py
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path

import numpy as np

from sim.pieces.placing import place_pieces
from sim.scene import Scene, parse_scene
from sim.shot.lens import lens_of
from sim.shot.shot import Studio, studio_of, take
from sim.shot.stage import set_stage

PIECES, FACES = 60, 5000
SIZE, PREVIEW = (1920, 1280), (640, 427)
REPEATS = 3


def stones() -> Scene:
    """A tank of 150 x 60 x 50 cm full of stones."""
    rng = np.random.default_rng(3)
    text = """format = 1
[tank]
inner_mm = [1500, 600, 500]
base_mm = 12
side_mm = 12
[water]
level_mm = 470
[camera]
position_mm = [750, -1100, 250]
focal_mm = 24
"""
    for k in range(PIECES):
        size = np.round(rng.uniform([60, 60, 40], [180, 140, 160]))
        at = np.round(rng.uniform([100, 80, 0], [1400, 520, 120]))
        shape = ("block", "cobble", "slab")[k % 3]
        text += (
            f'[[piece]]\nid = "s{k}"\ngenerate = {{ shape = "{shape}", seed = {k % 6}, size_mm = {size.tolist()}, '
            f"faces = {FACES} }}\n"
            f'rock = "limestone"\nat_mm = {at.tolist()}\nturn_deg = [0, 0, {int(rng.uniform(0, 360))}]\n'
        )
    return parse_scene(text, Path("bench_shot.toml"))


def pinhole(studio: Studio) -> Studio:
    """The same studio without water and with panes that do nothing to light."""
    basin = studio.room.basin._replace(water_n=1.0, glass_n=1.0, level_m=0.0)
    return replace(studio, room=replace(studio.room, basin=basin))


def seconds(job: Callable[[], object]) -> tuple[float, float]:
    wall, busy = time.perf_counter(), time.process_time()
    job()
    return time.perf_counter() - wall, time.process_time() - busy


def main() -> None:
    """Print the table."""
    scene = stones()
    begun = time.perf_counter()
    pieces = place_pieces(scene)
    print(f"{len(pieces)} pieces, {sum(len(p.body.faces) for p in pieces):,} triangles", end="; ")
    print(f"made or read in {time.perf_counter() - begun:.1f} s")
    begun = time.perf_counter()
    stage = set_stage(scene, pieces)
    print(f"light per vertex (or from the cache): {time.perf_counter() - begun:.1f} s")
    lens, wet = lens_of(scene), studio_of(scene, stage, True)
    plain = pinhole(studio_of(scene, stage, False))
    take(wet, lens, (64, 64))  # compiles
    for name, size, fine in (("preview", PREVIEW, False), ("one sample", SIZE, False), ("fine", SIZE, True)):
        rows = [tuple(seconds(partial(take, one, lens, size, fine)) for one in (wet, plain)) for _ in range(REPEATS)]
        flooded, pin = (np.min([row[k] for row in rows], axis=0) for k in (0, 1))
        print(
            f"{name:<11}{size[0]} x {size[1]}: flooded {flooded[0]:.2f} s (processor {flooded[1]:.2f}), pinhole "
            f"{pin[0]:.2f} s ({pin[1]:.2f}); ratio {flooded[0] / pin[0]:.2f} ({flooded[1] / pin[1]:.2f})"
        )


if __name__ == "__main__":
    main()
