"""How the critical tilt depends on the contact tolerance and on the resolution of the meshes.

Run, about ten minutes on one core:

    python tests/benchmarks/bench_sensitivity.py run 0 60 sensitivity.jsonl
    python tests/benchmarks/bench_sensitivity.py table sensitivity.jsonl

The stacks are built as those of the truth set (shared_stacks.py), of generated stones of 4,000 faces as they are.
For the tolerance the poses stay as they are and only `reach_m` of `find_contacts` changes. For the resolution the
same stones are made again with fewer or more faces, set down anew one after the other from where the first ones lie,
and let go.
"""

from __future__ import annotations

import json
import sys
import time
from functools import cache
from pathlib import Path

import numpy as np
from quarry import LARGEST_MM, SMALLEST_MM
from shared_stacks import SHAPES, STONE_FRICTIONS, Shared, Stack, lay, let_go, nominal, set_on, stand

from sim.contact import Poses
from sim.pieces.generate import generate

REACHES_M = (1.0e-5, 2.5e-5, 5.0e-5, 1.0e-4, 3.0e-4)
FACES = (1500, 4000, 14_000, 40_000)
USUAL_M, USUAL_FACES = 2.5e-5, 4000
STONES = 2  # of each shape to draw from: one of 40,000 faces takes half a minute


@cache
def stone(shape: str, seed: int, faces: int) -> Shared:
    """A generated stone; its convex parts are not asked for."""
    low, high = np.array(SMALLEST_MM[shape]), np.array(LARGEST_MM[shape])
    size_mm = [int(v) for v in np.random.default_rng([seed, 78]).integers(low, high + 1)]
    return Shared(generate(shape, seed, size_mm, faces=faces), ())


def answer(stack: Stack, reach_m: float = USUAL_M) -> dict[str, object]:
    """Verdict of the quick judges, critical tilt (0 where it does not stand), contact points and bearing area."""
    system, found = nominal(stack, reach_m)
    tilt_deg = found.margins.critical_tilt_deg if found.margins is not None else 0.0
    area_mm2 = 1.0e6 * float(system.contacts.patches.area_m2.sum())
    return {"verdict": found.verdict.value, "tilt": tilt_deg, "points": len(system.contacts.a), "area_mm2": area_mm2}


def again(named: list[tuple[str, int]], first: Stack, faces: int) -> dict[str, object]:
    """The same stones with so many faces, set down anew."""
    stones = tuple(stone(shape, seed, faces) for shape, seed in named)
    assembly = stand(stones, float(first.assembly.friction[0, 1]))
    poses: Poses | None = Poses(first.poses.rotation.copy(), first.poses.position_m.copy())
    for k in range(len(stones)):
        poses = set_on(assembly, poses, k, first.poses.position_m[k])
        if poses is None:
            return {"verdict": "finds no rest", "tilt": 0.0}
    _, poses, why = let_go(assembly, poses)
    if poses is None:
        return {"verdict": why, "tilt": 0.0}
    moved_mm = 1.0e3 * float(np.linalg.norm(poses.position_m - first.poses.position_m, axis=1).max())
    made = [len(one.body.faces) for one in stones]
    return answer(Stack(stones, assembly, poses, "generated", False)) | {"faces": made, "moved_mm": moved_mm}


def measure(seed: int) -> dict[str, object]:
    """One stack by every tolerance and every resolution."""
    begun = time.perf_counter()
    rng = np.random.default_rng([seed, 4])
    edge, count, mu = seed % 3 == 0, int(rng.integers(2, 4)), float(rng.choice(STONE_FRICTIONS))
    named = [(str(rng.choice(SHAPES)), int(rng.integers(STONES))) for _ in range(count)]
    stones = tuple(stone(shape, number, USUAL_FACES) for shape, number in named)
    assembly, poses, why = lay(stones, mu, rng, edge)
    if poses is None:
        return {"seed": seed, "left_out": why}
    stack = Stack(stones, assembly, poses, "generated", edge)
    reaches = {f"{1.0e6 * reach_m:.0f}": answer(stack, reach_m) for reach_m in REACHES_M}
    faces = {str(number): again(named, stack, number) for number in FACES}
    seconds = round(time.perf_counter() - begun, 1)
    return {"seed": seed, "edge": edge, "stones": count, "reach": reaches, "faces": faces, "seconds": seconds}


def table(rows: list[dict]) -> str:  # type: ignore[type-arg]
    """Change of verdict and of margin against 25 um and against 4,000 faces re-seated, in Markdown."""
    kept = [row for row in rows if "left_out" not in row]
    lines = [f"{len(rows)} seeds, {len(kept)} stacks at rest, {sum(row['edge'] for row in kept)} of them edge rests."]
    for key, usual, words in (("reach", "25", "tolerance, um"), ("faces", str(USUAL_FACES), "faces per stone")):
        lines += ["", f"| {words} | stand | verdict changed | tilt, median | change: median | 10 % | 90 % | worst |"]
        lines.append("|---|---|---|---|---|---|---|---|")
        for name in kept[0][key]:
            one, other = [row[key][name] for row in kept], [row[key][usual] for row in kept]
            both = [(a["tilt"], b["tilt"]) for a, b in zip(one, other, strict=True) if _stand(a, b)]
            change = np.array([a - b for a, b in both])
            middle = float(np.median([a for a, _ in both]))
            differs = sum(
                (a["verdict"] == "stands") != (b["verdict"] == "stands") for a, b in zip(one, other, strict=True)
            )
            low, median, high = np.percentile(change, [10, 50, 90])
            worst = change[np.abs(change).argmax()]
            stand_now = sum(a["verdict"] == "stands" for a in one)
            changes = " | ".join(f"{value:+.2f}" for value in (median, low, high, worst))
            lines.append(f"| {name} | {stand_now} | {differs} | {middle:.2f} | {changes} |")
    return "\n".join(lines)


def _stand(one: dict, other: dict) -> bool:  # type: ignore[type-arg]
    return bool(one["verdict"] == other["verdict"] == "stands")


def main() -> None:
    """Run seeds and append rows, or print the table of rows."""
    if sys.argv[1] == "table":
        print(table([json.loads(line) for name in sys.argv[2:] for line in Path(name).read_text().splitlines()]))
        return
    first, last, step = int(sys.argv[2]), int(sys.argv[3]), int(sys.argv[5]) if len(sys.argv) > 5 else 1
    for seed in range(first, last, step):
        line = json.dumps(measure(seed))
        with Path(sys.argv[4]).open("a") as file:
            file.write(line + "\n")
        print(line, flush=True)


if __name__ == "__main__":
    main()
