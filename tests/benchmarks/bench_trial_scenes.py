"""The trial on whole scenes of irregular stones, beside the statics judge in the same run.

    python tests/benchmarks/bench_trial_scenes.py [--engines mujoco,bullet] [--repeats 5] [--only NAME] [--bulging]

Generated walls and heaps of 5, 12 and 30 stones, stacks of two to six scanned ones (where the scans are
present, see BEDJOINT_SCANS) and the demo's arch, all set down on the true meshes first; what finds no rest is
left out. Each row: what the statics say, what each engine says, processor seconds per run, drift from the settled pose.
"""

from __future__ import annotations

import argparse
import os
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from sim import materials
from sim.cli.demo import scene_text
from sim.contact import find_contacts
from sim.contact.setting import Rest
from sim.contact.settling import settle_in_order, settle_together, stand_up
from sim.pieces.body import Body
from sim.pieces.friction import friction_matrix
from sim.pieces.generate import generate
from sim.pieces.importing import ImportOptions, import_piece
from sim.pieces.placing import PlacedPiece, place_pieces
from sim.pieces.rest import rest_poses
from sim.scene import Scene, parse_scene
from sim.statics import judge, weights
from sim.trial import Trial, engines_installed, rules_of, spread_of, stage, trial

MM = 1000.0
ROCK = "limestone"
TANK = """format = 1
title = "trial"
[tank]
inner_mm = [900, 450, 450]
base_mm = 10
side_mm = 10
under_stones = { kind = "grid", thickness_mm = 5 }
"""
IN_METRES = ("stone_174", "stone_177")


@dataclass(frozen=True, slots=True, eq=False)
class Case:
    """A scene and its pieces before they are set down."""

    name: str
    scene: Scene
    pieces: list[PlacedPiece]


def piece(name: str, body: Body, rotation: np.ndarray, at_mm: tuple[float, float, float]) -> PlacedPiece:
    """A stone of the common rock, the middle of its box at x, y and its lowest point at z."""
    rock = materials.rock(ROCK)
    density = rock.density_kg_m3.default
    turned = body.vertices_m @ rotation.T
    low, high = turned.min(axis=0), turned.max(axis=0)
    middle = np.array([*(low[:2] + high[:2]) / 2.0, low[2]])
    return PlacedPiece(name, body, rock, density, density * body.volume_m3, rotation, np.array(at_mm) / MM - middle)


def about_z(angle_deg: float) -> np.ndarray:
    """Rotation about the vertical."""
    c, s = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    return np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])


def wall(count: int, seed: int) -> Case:
    """Slabs in running bond, courses growing shorter."""
    rng = np.random.default_rng([seed, count])
    longest = {5: 2, 12: 4}.get(count, 6)
    pieces: list[PlacedPiece] = []
    course = 0
    while len(pieces) < count:
        for k in range(max(longest - course // 2, 1) if course % 2 == 0 else max(longest - 1 - course // 2, 1)):
            if len(pieces) == count:
                break
            size = rng.uniform((105, 90, 32), (125, 120, 42))
            body = generate("slab", int(rng.integers(10_000)), size, faces=4000)
            at = (120 + 130 * k + 65 * (course % 2) + rng.uniform(-4, 4), 225 + rng.uniform(-5, 5), 10 + 48 * course)
            turn = about_z(180.0 * rng.integers(2) + rng.uniform(-8, 8))
            pieces.append(piece(f"slab_{len(pieces)}", body, turn, at))
        course += 1
    return Case(f"wall of {count}, seed {seed}", parse_scene(TANK, Path("wall.toml")), pieces)


def heap(count: int, seed: int) -> Case:
    """Blocks, slabs and shards let down at random over a small plot."""
    rng = np.random.default_rng([seed, count, 7])
    spread = 22.0 * np.sqrt(count)
    pieces = []
    for k in range(count):
        shape = ("block", "slab", "shard", "block")[int(rng.integers(4))]
        size = rng.uniform((70, 60, 28), (120, 100, 55))
        body = generate(shape, int(rng.integers(10_000)), size, faces=4000)
        at = (450 + rng.uniform(-1, 1) * spread * 1.4, 225 + rng.uniform(-1, 1) * spread * 0.8, 10 + 400.0 * (k > 0))
        pieces.append(piece(f"stone_{k}", body, about_z(rng.uniform(0, 360)), (at[0], at[1], at[2])))
    return Case(f"heap of {count}, seed {seed}", parse_scene(TANK, Path("heap.toml")), pieces)


def scan_stacks(count: int, seed: int) -> Iterator[Case]:
    """Scanned stones on each other, the larger ones below, each in a natural rest pose."""
    folder = Path(os.environ.get("BEDJOINT_SCANS", Path(__file__).resolve().parents[3] / "shared" / "scans"))
    files = [*sorted(folder.glob("masonry-study/*.obj")), *sorted(folder.glob("moon-*/*.ply"))]
    if not files:
        return
    rng = np.random.default_rng([seed, 11])
    for number in range(count):
        pieces = []
        for k, size_mm in enumerate(np.sort(rng.uniform(40, 150, 2 + number % 5))[::-1]):
            file = files[int(rng.integers(len(files)))]
            units = "m" if file.stem in IN_METRES or file.suffix == ".ply" else "cm"
            longest = import_piece(file, ImportOptions(units=units)).longest_mm
            body = import_piece(file, ImportOptions(units=units, scale=float(size_mm) / longest)).body
            turn = about_z(rng.uniform(0, 360)) @ rest_poses(body)[0].rotation
            at = (450 + rng.uniform(-6, 6), 225 + rng.uniform(-6, 6), 10 + 300.0 * (k > 0))
            pieces.append(piece(f"{file.stem}_{k}", body, turn, at))
        yield Case(f"scans {number}, {len(pieces)} stones", parse_scene(TANK, Path("scans.toml")), pieces)


def cases() -> Iterator[Case]:
    """Every scene of the table."""
    for count in (5, 12, 30):
        for seed in (1, 2, 3):
            yield wall(count, seed)
            yield heap(count, seed)
    yield from scan_stacks(15, 1)
    demo = parse_scene(scene_text(), Path("demo.toml"))
    yield Case("demo", demo, place_pieces(demo))


def seated(case: Case) -> list[PlacedPiece]:
    """The pieces that find rest, one on the other and then all together."""
    assembly, poses = stand_up(case.scene, case.pieces)
    outcome = settle_in_order(assembly, poses, [one.id for one in case.pieces])
    resting = [settled.rest in (Rest.AT_REST, Rest.AS_IT_IS) for settled in outcome.pieces]
    pieces = [one for one, rests in zip(outcome.moved(case.pieces), resting, strict=True) if rests]
    assembly, poses = stand_up(case.scene, pieces)  # a support may give way under what was set on it
    return settle_together(assembly, poses, [one.id for one in pieces]).moved(pieces)


def by_statics(scene: Scene, pieces: list[PlacedPiece]) -> tuple[str, float]:
    """Verdict and critical tilt in degrees, NaN unless it stands."""
    assembly, poses = stand_up(scene, pieces)
    judged = judge(assembly, poses, find_contacts(assembly, poses), weights(assembly.mass_kg), quick=True)
    return judged.verdict.value, judged.margins.critical_tilt_deg if judged.margins else float("nan")


def row(made: Trial, seconds: float) -> str:
    """What one engine said."""
    settled = max(MM * float(one.settled_m.max(initial=0.0)) for one in made.runs)
    return (
        f"  {made.engine:7} {made.survivals}/{len(made.runs)} {seconds / len(made.runs):6.1f} s/run  settled "
        f"{settled:6.2f}  drift {made.worst_drift_mm:7.3f}  {made.reason}"
    )


def main() -> None:
    """Print two or three lines per scene."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--engines", default=",".join(engines_installed()))
    parser.add_argument("--repeats", type=int, default=5)
    parser.add_argument("--only", default="")
    parser.add_argument("--bulging", action="store_true", help="on convex parts as they are, without pads")
    options = parser.parse_args()
    for case in cases():
        if options.only not in case.name:
            continue
        pieces = seated(case)
        verdict, tilt_deg = by_statics(case.scene, pieces)
        started = time.perf_counter()
        assembly, poses = stand_up(case.scene, pieces)
        contacts = None if options.bulging else find_contacts(assembly, poses)
        staged = stage(case.scene, pieces, friction_matrix(case.scene, pieces, wet=False), contacts=contacts)
        staging = time.perf_counter() - started
        print(
            f"{case.name}: {len(pieces)} of {len(case.pieces)} rest, {staged.parts} parts in {staging:.1f} s, worst "
            f"{staged.worst_error_mm:.2f} mm; statics: {verdict}, tilt {tilt_deg:.1f}"
        )
        for name in options.engines.split(","):
            started = time.process_time()  # all threads: other work on the machine does not count
            (made,) = trial(
                staged.setup,
                options.repeats if name == "mujoco" else 1,
                case.scene.check.seed,
                spread_of(case.scene),
                rules_of(case.scene),
                [name],
            )
            print(row(made, time.process_time() - started), flush=True)


if __name__ == "__main__":
    main()
