"""Convex parts: our settings against coacd's own on the same pieces in the same run.

    python tests/benchmarks/bench_convex.py [MESH UNITS]...

Without arguments the pieces are our own generators'.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from typing import Any

import coacd
import numpy as np

from sim.pieces import convex
from sim.pieces.body import Body
from sim.pieces.generate import generate
from sim.pieces.saving import load_body

MM = 1000.0


def timed(work: Callable[[], Any]) -> tuple[float, Any]:
    """Seconds on the wall, and the result."""
    start = time.perf_counter()
    result = work()
    return time.perf_counter() - start, result


def plain_coacd(body: Body) -> tuple[convex.ConvexPart, ...]:
    """coacd as it comes, at 0.05, on the same reduced mesh."""
    vertices_m, faces, _ = convex._reduced(body)
    found = coacd.run_coacd(coacd.Mesh(vertices_m, faces), threshold=0.05, seed=convex.SEED)
    return tuple(convex._hull(np.asarray(points, dtype=np.float64)) for points, _ in found)


def pieces(arguments: list[str]) -> dict[str, Body]:
    """The pieces named on the command line, or generated ones."""
    if arguments:
        return {path: load_body(path, units) for path, units in zip(arguments[::2], arguments[1::2], strict=True)}
    return {shape: generate(shape, 1) for shape in ("slab", "cobble", "shard", "root")}


def main() -> None:
    """Print seconds, parts and surface error of both."""
    coacd.set_log_level("off")
    columns = f"{'s':>7} {'parts':>6} {'95 % mm':>8}"
    print(f"{'':24} {'ours':-^23} {'coacd alone':-^23}\n{'piece':24} {columns} {columns} {'ratio':>6}")
    for name, body in pieces(sys.argv[1:]).items():
        ours_s, ours = timed(lambda body=body: convex._make(body))
        plain_s, plain = timed(lambda body=body: plain_coacd(body))
        error = convex.surface_error(body, plain)
        print(
            f"{name[-24:]:24} {ours_s:7.2f} {len(ours.parts):6d} {ours.surface_error_m.most_m * MM:8.2f} "
            f"{plain_s:7.2f} {len(plain):6d} {error.most_m * MM:8.2f} {plain_s / ours_s:6.1f}"
        )


if __name__ == "__main__":
    main()
