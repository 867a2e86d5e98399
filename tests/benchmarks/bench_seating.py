"""How often a stone that is set down on others comes to rest, how well, and how long it takes.

    python tests/benchmarks/bench_seating.py rest [PLACEMENTS [SCANS [SEED]]]
    python tests/benchmarks/bench_seating.py time [SCANS]

PLACEMENTS (default 200) over real support, on supports of one or two seated stones; SCANS is a folder of
scanned stones (default: only generated ones), SEED another number than 2 for other placements. The kept result
is in seating.md beside this file, the definition of "over real support" in real_support.py.
"""

from __future__ import annotations

import multiprocessing
import os
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import nullcontext
from dataclasses import dataclass
from itertools import islice
from multiprocessing.pool import Pool
from pathlib import Path

import manifold3d
import numpy as np
import trimesh
from numpy.typing import NDArray
from quarry import ROCK, Quarry, Stone, lying, quarry, way_to_lie
from real_support import gap_field, has_real_support, over_a_spot
from stacks import MIDDLE_M, Stack, build, place, stand

from sim import materials
from sim.contact import Assembly, Poses, Rest, Seated, find_contacts, overlaps, set_down
from sim.contact.settling import settle_in_order
from sim.pieces.body import Body
from sim.pieces.turning import rotation_from_turns
from sim.statics import Feasible, assemble_system, critical_tilt, feasible, weights

Floats = NDArray[np.float64]

MU = materials.friction(ROCK, ROCK, wet=False).default
HAND_DEG = 3.0  # tilt about x and about y by which a hand misses the natural way to lie
PER_SUPPORT = 6  # the first anywhere, the others over real support where twenty throws find some
THROWS = 20
FLOOR_M = 0.004  # of the sheet under the stones
WORKERS = 2
UM = 1.0e6


@dataclass(frozen=True, slots=True, eq=False)
class Placement:
    """One stone set down."""

    piece: str
    supported: bool  # over real support
    barely: bool  # as `supported`, with the centre only 5 mm inside, however large the stone
    over_spot: bool  # by the older definition
    slope_deg: float  # of the ground below its centre; nan beside the stones
    spare_deg: float  # tilt of a level floor that would tip it over, in its way to lie, less the hand's miss
    seated: Seated
    seconds: float
    overlap_um: float  # deepest, by the project's own distances; 0: none
    shared_mm3: float  # volume shared with any support, by manifold3d
    lens_um: float  # that volume over half of its surface: how thick it is
    stands: Feasible
    tilt_deg: float


def placements(stones: Quarry, wanted: int, seed: int = 2, workers: int = 1) -> list[Placement]:
    """Set stones down until `wanted` of them were over real support, scene by scene; seeded."""
    global _quarry
    _quarry = stones
    found: list[Placement] = []
    jobs = ((seed, scene) for scene in range(100 * wanted))
    with multiprocessing.get_context("fork").Pool(workers) if workers > 1 else nullcontext() as pool:
        for some in map(_scene, jobs) if pool is None else _ahead(pool, jobs, workers):
            found += some
            if sum(bool(one.supported) for one in found) >= wanted:
                break
    return found


def _ahead(pool: Pool, jobs: Iterator[tuple[int, int]], workers: int) -> Iterator[list[Placement]]:
    """Results in order, with no more jobs under way than keep the workers busy."""
    while batch := list(islice(jobs, 4 * workers)):
        yield from pool.map(_scene, batch, chunksize=1)


_quarry: Quarry | None = None  # workers are forked and see it


def _scene(job: tuple[int, int]) -> list[Placement]:
    """All placements on one draw of supports."""
    assert _quarry is not None
    rng = np.random.default_rng(job)
    below = _supports(_quarry, rng)
    return [] if below is None else [_one(_quarry, rng, *below, throws=THROWS if k else 1) for k in range(PER_SUPPORT)]


def _any(stones: Quarry, rng: np.random.Generator) -> Stone:
    """Scanned and generated stones in equal parts."""
    if stones.stones["scan"] and rng.random() < 0.5:
        return stones.draw(rng, "scan")
    return stones.draw(rng, "slab", "block", "cobble", "shard")


def _supports(stones: Quarry, rng: np.random.Generator) -> tuple[list[Stone], Poses] | None:
    """One or two stones seated on the base, side by side or on each other; None where one finds no rest."""
    chosen = [_any(stones, rng) for _ in range(int(rng.integers(1, 3)))]
    turns = [lying(rng, stone) for stone in chosen]
    away_m = rng.choice([0.015, 0.09]) * np.array([np.cos(rng.uniform(0, 6.28)), np.sin(rng.uniform(0, 6.28))])
    assembly, poses = stand(chosen, turns, [MIDDLE_M, MIDDLE_M + away_m][: len(chosen)])
    place(assembly, poses)
    outcome = settle_in_order(assembly, poses, [str(k) for k in range(len(chosen))])
    return (chosen, outcome.poses) if outcome.all_at_rest else None


def _one(stones: Quarry, rng: np.random.Generator, below: list[Stone], there: Poses, throws: int) -> Placement:
    """Offer one stone over a spot of the supports' bounding box and set it down there."""
    stone = _any(stones, rng)
    tilt = rotation_from_turns((*rng.uniform(-HAND_DEG, HAND_DEG, 2), 0.0))
    lies, tips_deg = way_to_lie(rng, stone)
    spare_deg = tips_deg - float(np.degrees(np.arccos(np.clip(tilt[2, 2], -1.0, 1.0))))
    ground = trimesh.util.concatenate(
        [_shape(s, r, p) for s, r, p in zip(below, there.rotation, there.position_m, strict=True)]
    )
    offered = _shape(stone, tilt @ lies, np.zeros(3))
    for _ in range(throws):
        at_m = rng.uniform(ground.bounds[0, :2], ground.bounds[1, :2])
        field = gap_field(offered, at_m, ground, FLOOR_M)
        supported = has_real_support(field, MU, spare_deg)
        if supported:
            break
    piece = len(below)
    assembly, poses = stand([*below, stone], [*there.rotation, tilt @ lies], [*there.position_m[:, :2], at_m])
    assert float(assembly.friction[piece, 0]) == MU
    poses.position_m[:-1] = there.position_m
    poses.position_m[-1, 2] = ground.bounds[1, 2] + assembly.bodies.radius[-1] + 1e-3
    start = time.process_time()
    seated = set_down(assembly, poses, piece)
    seconds = time.process_time() - start
    poses.rotation[piece], poses.position_m[piece] = seated.rotation, seated.position_m
    deepest, shared, judged = 0.0, (0.0, 0.0), (Feasible.NO, 0.0)
    if seated.rest is Rest.AT_REST:
        deepest = max((o.depth_m for o in overlaps(assembly, poses, 0.0) if piece in (o.a, o.b)), default=0.0)
        shared = shared_volume([*(s.body for s in below), stone.body], poses, piece)
        judged = _judged(assembly, poses)
    return Placement(
        stone.source.split('"')[1].rsplit("/", 1)[-1], supported, has_real_support(field, MU, spare_deg, 0.0),
        *over_a_spot(ground, at_m, MU), spare_deg, seated, seconds, UM * deepest, 1e9 * shared[0], UM * shared[1],
        *judged,
    )  # fmt: skip


def _shape(stone: Stone, rotation: Floats, position_m: Floats) -> trimesh.Trimesh:
    return trimesh.Trimesh(stone.body.vertices_m @ rotation.T + position_m, stone.body.faces, process=False)


def shared_volume(bodies: list[Body], poses: Poses, piece: int) -> tuple[float, float]:
    """Largest volume that a piece shares with another, m3, and that volume over half of its surface, m."""
    solids = [
        manifold3d.Manifold(
            manifold3d.Mesh64(np.ascontiguousarray(body.vertices_m @ r.T + p), body.faces.astype(np.uint64))
        )
        for body, r, p in zip(bodies, poses.rotation, poses.position_m, strict=True)
    ]
    worst = (0.0, 0.0)
    for k, solid in enumerate(solids):
        if k != piece:
            common = solids[piece] ^ solid
            if common.volume() > worst[0]:
                worst = (common.volume(), 2.0 * common.volume() / common.surface_area())
    return worst


def _judged(assembly: Assembly, poses: Poses) -> tuple[Feasible, float]:
    """The last piece on its neighbours held still."""
    fixed = np.arange(len(assembly.mass_kg)) < len(assembly.mass_kg) - 1
    contacts = find_contacts(assembly, poses)
    system = assemble_system(poses.position_m, contacts, fixed)
    loads = weights(assembly.mass_kg)
    status = feasible(system, loads).status
    return status, critical_tilt(system, loads).least_deg if status is Feasible.YES else 0.0


def report(found: list[Placement]) -> None:
    """Print shares, reasons and what the checks say."""
    over = [one for one in found if one.supported]
    spot = [one for one in found if one.over_spot]
    barely = [one for one in found if one.barely]
    others = [one for one in found if not one.supported]
    parts = (
        ("over real support", over),
        ("5 mm inside", barely),
        ("by the older definition", spot),
        ("others", others),
    )
    for label, part in parts:
        counts = Counter(one.seated.rest.name for one in part)
        rests = counts[Rest.AT_REST.name]
        print(f"\n{label}: {len(part)} placements, {rests} at rest ({100.0 * rests / max(len(part), 1):.1f} %)")
        for name, count in counts.most_common():
            print(f"  {name:10} {count}")
    still = [one for one in found if one.seated.rest is Rest.AT_REST]
    falls = [one for one in still if one.stands is not Feasible.YES]
    seconds = np.array([one.seconds for one in found])
    print(f"\nof {len(still)} at rest")
    print(f"  widest load-bearing gap    {UM * max(one.seated.gap_m for one in still):.2f} um")
    print(f"  deepest overlap            {max(one.overlap_um for one in still):.3f} um by signed distances")
    print(f"  shared volume, most        {max(one.shared_mm3 for one in still):.5f} mm3, "
          f"thickness {max(one.lens_um for one in still):.3f} um by manifold3d; "
          f"{sum(one.shared_mm3 > 0 for one in still)} share any")  # fmt: skip
    print(f"  not feasible on 25 um contacts  {len(falls)}: {Counter(one.stands.name for one in falls)}")
    print(f"  critical tilt, median      {np.median([one.tilt_deg for one in still]):.2f} degrees")
    print(f"processor seconds per placement  median {np.median(seconds):.3f}, 95 % {np.percentile(seconds, 95):.3f}")
    for one in over:
        if one.seated.rest is not Rest.AT_REST or one.stands is not Feasible.YES:
            print(
                f"  {one.piece:22} ground {one.slope_deg:4.1f} spare {one.spare_deg:4.1f} {one.seated.rest.name:9} "
                f"steps {one.seated.steps:4d} moved {1e3 * one.seated.moved_m:5.1f} mm {one.stands.name}"
            )


def times(stones: Quarry) -> None:
    """Print how long setting down takes in larger scenes, and compiling: by the clock, and of the processor."""
    print(f"load of the machine before: {os.getloadavg()[0]:.1f}")
    build(stones, "pier", 0, 0.0, count=2)
    for kind, count in (("wall", 30), ("heap", 32)):
        stack = build(stones, kind, 1, 0.2, count=count, seated=False)
        blank = stand([Stone(piece.body, "", (), np.zeros(0), np.zeros(0)) for piece in stack.pieces],
                      list(stack.poses.rotation), list(stack.poses.position_m[:, :2]))[0]  # fmt: skip
        clock, own = time.perf_counter(), time.process_time()
        outcome = settle_in_order(blank, stack.poses, stack.names)
        clock, own = time.perf_counter() - clock, time.process_time() - own
        rests = np.array([one.rest is Rest.AT_REST for one in outcome.pieces])
        print(f"{kind}: {rests.sum()} of {len(rests)} stones at rest, settled in {clock:.1f} s, processor {own:.1f} s")
        taken = [_one_more(stones, stack, outcome.poses, rests, np.random.default_rng([7, k])) for k in range(40)]
        for label, seconds in zip(("clock", "processor"), np.array(taken).T, strict=True):
            print(f"  one more, {label}: median {np.median(seconds):.3f} s, 95 % {np.percentile(seconds, 95):.3f} s")
    print(f"first use, compiled into an empty cache: {_compile_seconds()}")
    print(f"load of the machine after: {os.getloadavg()[0]:.1f}")


def _one_more(
    stones: Quarry, stack: Stack, there: Poses, rests: NDArray[np.bool_], rng: np.random.Generator
) -> tuple[float, float]:
    """Seconds by the clock and of the processor for one stone set down onto a scene, near one of its stones."""
    keep = np.flatnonzero(rests)
    stone = _any(stones, rng)
    spot = there.position_m[rng.choice(keep), :2] + rng.normal(0.0, 0.01, 2)
    bodies = [stack.pieces[k].body for k in keep] + [stone.body]
    made = [Stone(body, "", (), np.zeros(0), np.zeros(0)) for body in bodies]
    turns = [*there.rotation[keep], lying(rng, stone)]
    assembly, poses = stand(made, turns, [*there.position_m[keep, :2], spot])
    poses.position_m[:-1] = there.position_m[keep]
    poses.position_m[-1, 2] = there.position_m[keep, 2].max() + 0.25
    clock, own = time.perf_counter(), time.process_time()
    set_down(assembly, poses, len(keep))
    return time.perf_counter() - clock, time.process_time() - own


def _compile_seconds() -> str:
    """First use less second use of setting down and finding contacts, in a process with an empty cache."""
    with tempfile.TemporaryDirectory() as folder:
        done = subprocess.run(
            [sys.executable, __file__, "compile"], env={**os.environ, "NUMBA_CACHE_DIR": folder},
            check=True, capture_output=True, text=True,
        )  # fmt: skip
    return done.stdout.strip()


def _compile() -> None:
    box = trimesh.creation.box((0.1, 0.1, 0.03))
    from sim.pieces.mass import make_body

    stone = Stone(make_body(np.asarray(box.vertices), np.asarray(box.faces)), "", (), np.zeros(0), np.zeros(0))
    seconds = []
    for _ in range(2):
        assembly, poses = stand([stone] * 2, [np.eye(3)] * 2, [MIDDLE_M] * 2)
        clock, own = time.perf_counter(), time.process_time()
        poses.position_m[:, 2] = [0.03, 0.1]
        outcome = settle_in_order(assembly, poses, ["one", "two"])
        find_contacts(assembly, outcome.poses)
        seconds.append((time.perf_counter() - clock, time.process_time() - own))
    clock, own = np.array(seconds[0]) - seconds[1]
    print(f"{clock:.1f} s, processor {own:.1f} s")


def main() -> None:
    """Run one of the parts."""
    part, *more = sys.argv[1:] or ["rest"]
    if part == "compile":
        return _compile()
    number = int(more.pop(0)) if part == "rest" and more else 200
    stones = quarry(6, Path(more[0]) if more else None)
    if part == "time":
        return times(stones)
    seed = int(more[1]) if len(more) > 1 else 2
    return report(placements(stones, number, seed, WORKERS))


if __name__ == "__main__":
    main()
