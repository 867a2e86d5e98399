"""Import of scans: time against a plain load of the same file, and the memory of a very large one.

Run: python tests/benchmarks/bench_import.py
"""

from __future__ import annotations

import resource
import struct
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import trimesh

from sim.pieces.importing import ImportOptions, import_piece

REPEATS = 3
VERY_LARGE = 5_000_000
BYTES_PER_GB = 1e9


def rough_ball(triangles: int) -> tuple[np.ndarray, np.ndarray]:
    """A closed pebble of 120 mm with waves on it, as vertices in mm and about so many faces."""
    rings = int(np.sqrt(triangles / 4.0))
    meridians = 2 * rings
    height = np.linspace(-np.pi / 2.0, np.pi / 2.0, rings + 2)[1:-1]
    turn = np.linspace(0.0, 2.0 * np.pi, meridians, endpoint=False)
    h, t = (grid.reshape(-1) for grid in np.meshgrid(height, turn, indexing="ij"))
    ball = np.column_stack([np.cos(h) * np.cos(t), np.cos(h) * np.sin(t), np.sin(h)])
    ball = np.vstack([ball, [[0.0, 0.0, -1.0], [0.0, 0.0, 1.0]]])
    waves = 1.0 + 0.03 * np.sin(9.0 * ball[:, 0] + 2.0) * np.cos(7.0 * ball[:, 1]) * np.sin(8.0 * ball[:, 2] + 1.0)
    here = np.arange(meridians)
    onward = np.roll(here, -1)
    band = np.vstack(
        [
            np.column_stack([here, onward, onward + meridians]),
            np.column_stack([here, onward + meridians, here + meridians]),
        ]
    )
    faces = (band[None] + (np.arange(rings - 1) * meridians)[:, None, None]).reshape(-1, 3)
    south, north, last = len(ball) - 2, len(ball) - 1, (rings - 1) * meridians
    poles = [
        np.column_stack([onward, here, np.full(meridians, south)]),
        np.column_stack([here + last, onward + last, np.full(meridians, north)]),
    ]
    return ball * waves[:, None] * 60.0, np.vstack([faces, *poles])


def write_stl(file: Path, triangles: int) -> int:
    """Write a binary STL, three vertices of its own for every facet."""
    vertices, faces = rough_ball(triangles)
    with file.open("wb") as stream:
        stream.write(b"\0" * 80 + struct.pack("<I", len(faces)))
        for start in range(0, len(faces), 500_000):
            part = faces[start : start + 500_000]
            rows = np.zeros(len(part), dtype=[("n", "<f4", 3), ("v", "<f4", (3, 3)), ("a", "<u2")])
            rows["v"] = vertices[part]
            stream.write(rows.tobytes())
    return len(faces)


def peer(file: Path) -> float:
    """What a plain load does: read, weld, ask whether it is closed, integrate."""
    mesh = trimesh.load(file)
    assert mesh.is_watertight
    return float(mesh.mass_properties.volume)


def best_of(job: Callable[[], object]) -> float:
    times_s = []
    for _ in range(REPEATS):
        begun_s = time.perf_counter()
        job()
        times_s.append(time.perf_counter() - begun_s)
    return min(times_s)


def peak_of_import(file: Path) -> None:
    """In a process of its own: print the triangles kept, the seconds and the peak memory."""
    before_s = time.perf_counter()
    piece = import_piece(file, ImportOptions(units="mm"))
    peak_bytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    print(f"{len(piece.body.faces)} {time.perf_counter() - before_s:.1f} {peak_bytes}")
    print(piece.repaired[-1])


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        print(f"{'file':>22}  {'import s':>9} {'plain load s':>13} {'ratio':>6}")
        for kind in ("stl", "ply", "obj"):
            file = Path(folder) / f"scan.{kind}"
            count = write_stl(Path(folder) / "scan.stl", 80_000)
            if kind != "stl":
                vertices, faces = rough_ball(80_000)
                trimesh.Trimesh(vertices, faces, process=False).export(file)
            ours_s, theirs_s = best_of(lambda file=file: import_piece(file)), best_of(lambda file=file: peer(file))
            print(f"{kind + f', {count:,} faces':>22}  {ours_s:9.2f} {theirs_s:13.2f} {ours_s / theirs_s:6.2f}")
        large = Path(folder) / "large.stl"
        count = write_stl(large, VERY_LARGE)
        command = [sys.executable, __file__, str(large)]
        shown = subprocess.run(command, capture_output=True, text=True, check=True).stdout.splitlines()
        kept, seconds, peak = shown[0].split()
        print(f"{count:,} faces: kept {int(kept):,}, {seconds} s, peak {int(peak) / BYTES_PER_GB:.2f} GB")
        print(shown[1])


if __name__ == "__main__":
    if len(sys.argv) > 1:
        peak_of_import(Path(sys.argv[1]))
    else:
        main()
