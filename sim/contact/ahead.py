"""Compiles this room's functions before their first use, half of them in a second process.

Compiling takes numba about half a minute of one core, once per installation: what it makes is kept in its cache. It
holds a lock while it compiles, so threads would not shorten that, and a second process does. A function compiled here
for other types than it gets at work would be compiled twice; a test sees to that.
"""

from __future__ import annotations

import subprocess
import sys
import threading
from pathlib import Path
from typing import Any

import numba as nb
import numpy as np

from sim.contact.assembly import assemble, tank_planes
from sim.contact.distance import least_distance, share_space
from sim.contact.impulses import solve_impulses, thinned
from sim.contact.nearness import find_candidates, touches
from sim.contact.patches import patches_of_pairs
from sim.contact.tree import build_boxes

# about as long to compile as each other; what looks for near points compiles that search once
HERE = (least_distance, share_space, find_candidates, touches, thinned, build_boxes)
BESIDE = (patches_of_pairs, solve_impulses)

_one_at_a_time = threading.Lock()
_tried = False
_other: subprocess.Popen[bytes] | None = None


def begin_compiling() -> None:
    """Start the second process already, before work that leaves it a core."""
    global _other
    with _one_at_a_time:
        if _tried or _other is not None or not sys.executable or not any(map(_missing, HERE + BESIDE)):
            return
        program = "from sim.contact.ahead import BESIDE, compile_all; compile_all(BESIDE)"
        quiet = subprocess.DEVNULL
        _other = subprocess.Popen([sys.executable, "-P", "-c", program], stdin=quiet, stdout=quiet, stderr=quiet)


def compile_ahead() -> None:
    """Fill numba's cache where it lacks any of the functions; returns at once where it does not."""
    global _tried
    begin_compiling()
    with _one_at_a_time:
        if _tried:
            return
        _tried = True
        if _other is not None:
            with _other:
                compile_all(HERE)  # what the other process fails to compile, its first use does


def compile_all(functions: tuple[Any, ...]) -> None:
    """Compile functions for the types that they get at work, and put them into numba's cache."""
    arguments = arguments_of()
    for function in functions:
        function.compile(tuple(nb.typeof(value) for value in arguments[function]))


def arguments_of() -> dict[Any, tuple[Any, ...]]:
    """Arguments of each function, of the types that they have at work and without content."""
    nothing = assemble([], np.zeros(0), np.zeros((0, 1)), tank_planes(None))
    points, numbers, places = np.zeros((0, 3)), np.zeros(0), np.zeros(0, np.int64)
    turns, rows, pairs = np.zeros((0, 3, 3)), np.zeros((0, 9)), np.zeros((0, 2), np.int64)
    shapes = (nothing.mesh, nothing.samples, nothing.bodies)
    placed = (*shapes, nothing.planes, turns, points)
    touch = (points, points, numbers, numbers, points)  # point, normal, gap, friction, warm
    return {
        build_boxes: (points, points, points, 1),
        least_distance: (*placed, 0, places, 1.0),
        share_space: (*shapes, turns, points, 0, 0, 1.0),
        thinned: (rows, places, numbers, 1.0, 1),
        find_candidates: (*placed, places, places, 1.0, True),
        touches: (*placed, places, places, pairs, numbers, 0.0, 1.0),
        solve_impulses: (numbers, turns, points, points, points, places, places, *touch, 1.0, 1, 1.0),
        patches_of_pairs: (rows, places),
    }


def _missing(function: Any) -> bool:
    """Whether numba's cache has no file of a function; false where it cannot keep any."""
    folder = function.stats.cache_path
    if folder is None:
        return False
    stem = Path(function.py_func.__code__.co_filename).stem
    return next(Path(folder).glob(f"{stem}.{function.py_func.__qualname__}-*.nbi"), None) is None
