"""Where the stones of a stack are meant to lie: piers, heaps, walls, bridges, cantilevers, leaning stones.

Each kind returns its stones in the order of building, turned, with the place of each centre in plan.
Shift moves them sideways: 0 is a careful builder, about 1 the limit of equal blocks.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from quarry import Quarry, Stone, lying

from sim.pieces.turning import rotation_from_turns

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Laid:
    stone: Stone
    turn: Floats  # (3, 3)
    at_m: Floats  # (2,) of its centre of volume, from the middle of the tank


def extent_m(one: Laid, direction: Floats) -> float:
    """Width of a turned stone along a direction (3,)."""
    return float(np.ptp(one.stone.body.vertices_m @ (one.turn.T @ direction)))


X, Y, Z = np.eye(3)
DEEP_M = 0.26  # a heap's stones keep so near the tank's long axis, or large ones would lie across the panes


def _flat(rng: np.random.Generator, stone: Stone, at_m: Floats, yaw_deg: float = 180.0) -> Laid:
    """Lying on its broad side: the likeliest of its ways, long side along x when it is barely turned."""
    turn = stone.turns[int(np.argmax(stone.shares))]
    return Laid(stone, rotation_from_turns((0.0, 0.0, float(rng.uniform(-yaw_deg, yaw_deg)))) @ turn, at_m)


def _column(
    stones: Quarry, rng: np.random.Generator, count: int, step: float, foot_m: Floats, direction: Floats, *shapes: str
) -> list[Laid]:
    """Stones on each other, broad ones first, each `step` of their mean width farther along a direction."""
    drawn = [_flat(rng, stones.draw(rng, *shapes), foot_m) for _ in range(count)]
    drawn.sort(key=lambda one: -extent_m(one, X) * extent_m(one, Y) * rng.uniform(0.8, 1.25))
    width_m = float(np.mean([extent_m(one, direction) for one in drawn]))
    offsets = step * width_m * np.arange(count) + rng.normal(0.0, 0.02, count) * width_m
    return [Laid(one.stone, one.turn, foot_m + d * direction[:2]) for one, d in zip(drawn, offsets, strict=True)]


def _pier(stones: Quarry, rng: np.random.Generator, shift: float, count: int, scanned: bool) -> list[Laid]:
    """A column that steps sideways: equal blocks bear a step of their width over their number."""
    count = count or int(rng.integers(2, 13))
    heading = rng.uniform(0.0, 2.0 * np.pi)
    direction = np.array([np.cos(heading), np.sin(heading), 0.0])
    shapes = ("scan",) if scanned else ("slab", "block", "slab", "shard")
    return _column(stones, rng, count, shift / max(count, 3), np.zeros(2), direction, *shapes)


def _heap(stones: Quarry, rng: np.random.Generator, shift: float, count: int, scanned: bool) -> list[Laid]:
    """Stones thrown together: a third on the base, each other one beside the middle of one before it."""
    count = count or int(rng.integers(5, 41))
    shapes = ("scan",) if scanned else ("cobble", "block", "slab", "shard")
    laid: list[Laid] = []
    for k in range(count):
        stone = stones.draw(rng, *shapes)
        heading, way = rng.uniform(0.0, 2.0 * np.pi), np.zeros(2)
        if k >= max(count // 3, 2):
            host = laid[int(rng.integers(max(0, k - count // 3 - 2), k))]
            out = np.array([np.cos(heading), np.sin(heading), 0.0])
            way = host.at_m + out[:2] * shift * 0.5 * extent_m(host, out) * rng.uniform(0.3, 0.8)
        elif k > 0:
            way = laid[0].at_m + 0.11 * np.sqrt(k) * np.array([np.cos(2.4 * k), np.sin(2.4 * k)])
            way[1] = np.clip(way[1], -DEEP_M, DEEP_M)
        laid.append(Laid(stone, lying(rng, stone), way))
    return laid


def _wall(stones: Quarry, rng: np.random.Generator, shift: float, count: int, scanned: bool) -> list[Laid]:
    """Courses in running bond that lean out: each course steps by the depth over the number of courses."""
    count = count or int(rng.integers(6, 41))
    courses = int(np.clip(round(np.sqrt(count / 1.6)), 2, 6))
    laid: list[Laid] = []
    for course in range(courses):
        x_m = 0.03 * (course % 2) + 0.012 * course
        row: list[Laid] = []
        for _ in range(max(1, round(count / courses))):
            one = _flat(rng, stones.draw(rng, *(("scan",) if scanned else ("block", "slab"))), np.zeros(2), 6.0)
            width_m = extent_m(one, X)
            lean = shift * 0.065 / courses * course
            row.append(Laid(one.stone, one.turn, np.array([x_m + width_m / 2.0, lean + rng.normal(0.0, 0.002)])))
            x_m += width_m + 0.004
        laid += row
    reach_m = max(one.at_m[0] for one in laid)
    return [Laid(one.stone, one.turn, one.at_m - [reach_m / 2.0, 0.0]) for one in laid if one.at_m[0] < 1.0]


def _bridge(stones: Quarry, rng: np.random.Generator, shift: float, count: int, scanned: bool) -> list[Laid]:
    """Two piers that step towards each other, a lintel across, at times a stone on its middle."""
    height = (count - 1) // 2 if count else int(rng.integers(1, 5))
    lintel = _flat(rng, stones.draw(rng, "lintel"), np.zeros(2), 3.0)
    half_m = extent_m(lintel, X) / 2.0
    shapes = ("scan",) if scanned else ("slab", "block")
    laid: list[Laid] = []
    for side in (-1.0, 1.0):
        pier = _column(stones, rng, height, shift / (height + 1.5), np.zeros(2), -side * X, *shapes)
        # the lintel's end lies on the middle of the top stone when nothing is shifted, on its edge near the limit
        top_m = side * (half_m - 0.02) + side * shift * 0.3 * extent_m(pier[-1], X)
        laid += [Laid(one.stone, one.turn, one.at_m - pier[-1].at_m + [top_m, 0.0]) for one in pier]
    laid.append(lintel)
    if rng.random() < 0.4:
        stone = stones.draw(rng, *(("scan",) if scanned else ("cobble", "block")))
        laid.append(Laid(stone, lying(rng, stone), np.array([rng.uniform(-0.02, 0.02), 0.0])))
    return laid


def _cantilever(stones: Quarry, rng: np.random.Generator, shift: float, count: int, scanned: bool) -> list[Laid]:
    """A long stone over a pier's edge, held down at its inner end, loaded at its outer one."""
    shapes = ("scan",) if scanned else ("block", "slab")
    pier = _column(stones, rng, max(1, count - 3) if count else int(rng.integers(1, 4)), 0.0, np.zeros(2), X, *shapes)
    edge_m = extent_m(pier[-1], X) / 2.0
    beam = _flat(rng, stones.draw(rng, "lintel"), np.zeros(2), 3.0)
    pair = [_flat(rng, stones.draw(rng, *(("scan",) if scanned else ("cobble", "block"))), np.zeros(2)) for _ in "io"]
    inner, outer = sorted(pair, key=lambda one: one.stone.body.volume_m3)
    half_m = extent_m(beam, X) / 2.0
    arms_m = np.array([0.0, -(half_m - 0.03), half_m - 0.03])
    weights = np.array([one.stone.body.volume_m3 for one in (beam, inner, outer)])
    # moments about the edge vanish when the beam's middle lies here, measured outward from the edge
    limit_m = -float(weights @ arms_m) / float(weights.sum())
    middle_m = edge_m + limit_m - (1.0 - shift) * 0.5 * edge_m
    places = [
        Laid(one.stone, one.turn, np.array([middle_m + arm, 0.0]))
        for one, arm in zip((beam, inner, outer), arms_m, strict=True)
    ]
    return [*pier, *places]


def _leaning(stones: Quarry, rng: np.random.Generator, shift: float, count: int, scanned: bool) -> list[Laid]:
    """A post on a bed, and long stones that lean on it from either side, flatter with more shift."""
    shapes = ("scan",) if scanned else ("block", "cobble")
    bed = _flat(rng, stones.draw(rng, "bed"), np.zeros(2), 5.0)
    post = _column(stones, rng, int(rng.integers(1, 4)), 0.0, np.zeros(2), X, *shapes)
    high_m = sum(extent_m(one, Z) for one in post)
    laid = [bed, *post]
    for k in range(max(1, count - len(laid)) if count else int(rng.integers(1, 3))):
        side = (-1.0, 1.0)[k % 2]
        stone = stones.draw(rng, "lintel" if rng.random() < 0.5 else "shard")
        angle = np.radians(np.clip(78.0 - 30.0 * shift + rng.normal(0.0, 2.0), 20.0, 85.0))
        turn = rotation_from_turns((0.0, side * np.degrees(angle), 0.0))
        length_m = float(np.ptp(stone.body.vertices_m[:, 0]))
        reach_m = min(high_m, 0.9 * length_m * np.sin(angle))
        foot_m = extent_m(post[-1], X) / 2.0 + reach_m / np.tan(angle)
        laid.append(Laid(stone, turn, np.array([side * (foot_m - length_m / 2.0 * np.cos(angle)), 0.0])))
    return laid


KINDS: dict[str, Callable[[Quarry, np.random.Generator, float, int, bool], list[Laid]]] = {
    "pier": _pier,
    "heap": _heap,
    "wall": _wall,
    "bridge": _bridge,
    "cantilever": _cantilever,
    "leaning": _leaning,
}
