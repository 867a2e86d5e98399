"""Convex parts: our settings against coacd's own on the same pieces in the same run.

    python tests/benchmarks/bench_convex.py [--alone] [MESH UNITS LONGEST_MM]...

Without meshes the pieces are our own generators'. LONGEST_MM is the longest side along the axes of the file; 0 keeps
the size of the scan. `--alone` leaves coacd's own settings out, which take several times as long. Seconds are
wall / processor: on a busy machine only the latter compare. A table of a folder of scans in centimetres, all 150 mm:

    python tests/benchmarks/bench_convex.py --alone $(for f in FOLDER/*.obj; do echo "$f cm 150"; done)
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from statistics import median
from typing import Any

import coacd
import numpy as np

from sim.pieces import convex
from sim.pieces.body import Body
from sim.pieces.generate import generate
from sim.pieces.mass import make_body
from sim.pieces.saving import load_body
from sim.units import MM_PER_M

WIDTH = 32  # of one column


def timed(work: Callable[[], Any]) -> tuple[float, float, Any]:
    """Seconds on the wall, of the processor, and the result."""
    start, used = time.perf_counter(), time.process_time()
    result = work()
    return time.perf_counter() - start, time.process_time() - used, result


def plain_coacd(body: Body) -> tuple[convex.ConvexPart, ...]:
    """coacd as it comes, at 0.05, on the same reduced mesh."""
    vertices_m, faces, _ = convex._reduced(body)
    found = coacd.run_coacd(coacd.Mesh(vertices_m, faces), threshold=0.05, seed=convex.SEED)
    return tuple(convex._hull(np.asarray(points, dtype=np.float64)) for points, _ in found)


def pieces(arguments: list[str]) -> dict[str, Body]:
    """The pieces named on the command line, or generated ones."""
    if not arguments:
        return {shape: generate(shape, 1) for shape in ("slab", "cobble", "shard", "root")}
    found = {}
    for path, units, longest_mm in zip(arguments[::3], arguments[1::3], arguments[2::3], strict=True):
        body = load_body(path, units)
        now_mm = float(np.ptp(body.vertices_m, axis=0).max()) * MM_PER_M
        scale = float(longest_mm) / now_mm if float(longest_mm) > 0.0 else 1.0
        found[path] = make_body(body.vertices_m * scale, body.faces)
    return found


def column(wall_s: float, used_s: float, parts: int, error: convex.SurfaceError) -> str:
    """Seconds, parts and error of one way."""
    median_mm, most_mm = error.median_m * MM_PER_M, error.most_m * MM_PER_M
    return f"{wall_s:6.2f} /{used_s:6.2f} {parts:5d} {median_mm:5.2f} {most_mm:5.2f}"


def main() -> None:
    """Print seconds, parts and surface error of both."""
    coacd.set_log_level("off")
    arguments = sys.argv[1:]
    alone = "--alone" in arguments
    names = f"{'wall / cpu s':>14} {'parts':>5} {'50 %':>5} {'95 %':>5} mm"
    print(f"{'piece':24} {names:{WIDTH}} {'' if alone else 'coacd alone'}")
    rows = []
    for name, body in pieces([a for a in arguments if a != "--alone"]).items():
        wall_s, used_s, ours = timed(lambda body=body: convex._make(body))
        rows.append((wall_s, used_s, len(ours.parts), ours.surface_error_m.most_m * MM_PER_M))
        line = f"{name[-24:]:24} {column(wall_s, used_s, len(ours.parts), ours.surface_error_m):{WIDTH + 3}}"
        if not alone:
            plain_s, plain_used_s, plain = timed(lambda body=body: plain_coacd(body))
            line += column(plain_s, plain_used_s, len(plain), convex.surface_error(body, plain))
            line += f"  ratio {plain_used_s / used_s:.1f}"
        print(line, flush=True)
    for word, choose in (("median", median), ("most", max)):
        wall_s, used_s, parts, most_mm = (choose(values) for values in zip(*rows, strict=True))
        print(f"{word:24} {wall_s:6.2f} /{used_s:6.2f} {parts:5.0f} {'':5} {most_mm:5.2f}")


if __name__ == "__main__":
    main()
