"""Our tilts against a rigid-body engine, on stacks whose shapes both share exactly.

Run, about fifteen seconds a stack; a fourth number is the stride, so that several can share the seeds:

    python tests/benchmarks/bench_truth.py run 0 240 truth.jsonl
    python tests/benchmarks/bench_truth.py table truth.jsonl

Glossary
--------
nominal   critical tilt of the stack as it rests on the true meshes
robust    least tilt over four copies whose stones lie a little off, and the stack as it rests
onset     tilt at which the engine's stack tips or slides: it leaves its own settled pose by the trial's drift
          limit, 3 mm
stirs     tilt at which it leaves that pose by 0.2 mm; lower than the onset where a stone rocks onto its next
          facet and stands again
unsafe    ours is higher than the engine's onset

A tilt is gravity turned by that angle towards an azimuth. Every tilt is tried from the same settled pose,
let in within 0.2 s and held for a second or until nothing moves, and the onset is found by bisection. The
azimuth is that of our nominal least tilt; neighbours are tried at that onset, and searched where they are worse.
"""

from __future__ import annotations

import json
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from shared_stacks import INNER_M, Stack, build, nominal, nominal_deg

from sim.contact import Poses
from sim.statics import robust, shaken, weights
from sim.trial import EngineTrouble, TrialBody, TrialSetup, World, engine, tank_boxes
from sim.trial.clearing import clear
from sim.trial.running import CHUNK_S, DRIFT_LIMIT_M, SETTLE_S, SETTLED_CHUNKS, SETTLED_M
from sim.units import STANDARD_GRAVITY_M_S2

Floats = NDArray[np.float64]

STEP_S = 0.0005
RAMP_S, HOLD_S = 0.2, 1.0
RESOLUTION_DEG = 0.1
STEEPEST_DEG = 60.0
BESIDE_DEG = (-15.0, 15.0, -30.0, 30.0)
CALM_M, CALM_CHUNKS = 2.0e-7, 10  # held so still so often after the ramp, a stack has found its place
STIRS_M = 2.0e-4  # ten times what settles under a tilt that holds
COPIES, SEED = 4, 1
REACHES_M = (1.0e-5, 2.5e-5, 5.0e-5)  # contact tolerances that help to explain a difference
UNSAFE_DEG = 0.5


class Tilting:
    """A stack in an engine, settled there, with gravity that can be turned."""

    def __init__(self, world: World, setup: TrialSetup) -> None:
        self.world, self.setup = world, setup
        self.chunk = round(CHUNK_S / STEP_S)
        low = np.array([np.concatenate([p for p, _ in body.parts]).min(axis=0) for body in setup.bodies])
        high = np.array([np.concatenate([p for p, _ in body.parts]).max(axis=0) for body in setup.bodies])
        pick = np.array(np.meshgrid([0, 1], [0, 1], [0, 1], indexing="ij")).reshape(3, 8).T == 1
        self.corners_m = np.where(pick[None], high[:, None], low[:, None])
        self.given = world.poses()
        self.lean(0.0, 0.0)
        cleared = clear(world, setup)
        if cleared.trouble:
            raise EngineTrouble(cleared.trouble)
        self._settle()
        self.start = world.poses()
        self.settled_m = self._moved(self.start, self.given)
        self.tried: dict[float, dict[float, float]] = {}  # azimuth: tilt: drift, m

    def lean(self, azimuth_deg: float, tilt_deg: float) -> None:
        """Turn gravity: the engine reads each body's own force anew whenever it advances."""
        azimuth, tilt = np.radians(azimuth_deg), np.radians(tilt_deg)
        pull = np.array([np.sin(tilt) * np.cos(azimuth), np.sin(tilt) * np.sin(azimuth), 1.0 - np.cos(tilt)])
        for body in self.setup.bodies:
            body.forces_n[0] = body.mass_kg * STANDARD_GRAVITY_M_S2 * pull

    def drift_m(self, azimuth_deg: float, tilt_deg: float) -> float:
        """How far anything moves under a tilt; ends early where it is over the trial's limit."""
        tried = self.tried.setdefault(azimuth_deg, {})
        if tilt_deg in tried:
            return tried[tilt_deg]
        self.world.place(*self.start)
        drift_m, calm, before = 0.0, 0, self.start
        for k in range(1, round((RAMP_S + HOLD_S) / CHUNK_S) + 1):
            self.lean(azimuth_deg, tilt_deg * min(k * CHUNK_S / RAMP_S, 1.0))
            self.world.advance(self.chunk)
            now = self.world.poses()
            drift_m = max(drift_m, float(self._moved(now, self.start).max()))
            calm = calm + 1 if k * CHUNK_S > RAMP_S and self._moved(now, before).max() < CALM_M else 0
            if drift_m > DRIFT_LIMIT_M or calm >= CALM_CHUNKS:
                break
            before = now
        tried[tilt_deg] = drift_m
        return drift_m

    def onset_deg(self, azimuth_deg: float, guess_deg: float, limit_m: float = DRIFT_LIMIT_M) -> float:
        """Tilt at which something moves farther than the limit, by bisection; 0 where it does so level."""
        guess_deg = float(np.clip(guess_deg, 0.0, STEEPEST_DEG)) if np.isfinite(guess_deg) else 10.0
        step, low, high = 0.4, guess_deg, guess_deg
        while low > 0.0 and self.drift_m(azimuth_deg, low) > limit_m:
            low, high, step = max(0.0, low - step), low, 2.0 * step
        if low == 0.0 and self.drift_m(azimuth_deg, 0.0) > limit_m:
            return 0.0
        while high == low or (high < STEEPEST_DEG and self.drift_m(azimuth_deg, high) <= limit_m):
            low, high, step = high, min(high + step, STEEPEST_DEG), 2.0 * step
            if low == STEEPEST_DEG:
                return STEEPEST_DEG
        while high - low > RESOLUTION_DEG:
            middle = (low + high) / 2.0
            low, high = (low, middle) if self.drift_m(azimuth_deg, middle) > limit_m else (middle, high)
        return (low + high) / 2.0

    def _settle(self) -> None:
        quiet, before = 0, self.world.poses()
        for _ in range(round(SETTLE_S / CHUNK_S)):
            self.world.advance(self.chunk)
            self.world.calm()
            now = self.world.poses()
            quiet = quiet + 1 if self._moved(now, before).max() < SETTLED_M else 0
            if quiet >= SETTLED_CHUNKS:
                return
            before = now

    def _moved(self, now: tuple[Floats, Floats], then: tuple[Floats, Floats]) -> Floats:
        """Movement (n,) of the corner of each box that went farthest."""
        apart = np.einsum("nij,nkj->nki", now[0] - then[0], self.corners_m) + (now[1] - then[1])[:, None]
        return np.asarray(np.linalg.norm(apart, axis=2).max(axis=1))


@contextmanager
def tilting(stack: Stack, name: str = "mujoco") -> Iterator[Tilting]:
    """The stack in an engine, settled level, as it stands by `stack.poses`."""
    assembly = stack.assembly
    bodies = tuple(
        TrialBody(
            f"stone_{k + 1}", stone.parts, float(assembly.mass_kg[k]), assembly.inertia_kg_m2[k],
            stack.poses.rotation[k], stack.poses.position_m[k],
            forces_n=np.zeros((1, 3)), forces_at_m=np.zeros((1, 3)), error_m=0.0,
        )
        for k, stone in enumerate(stack.stones)
    )  # fmt: skip
    setup = TrialSetup(bodies, tank_boxes(INNER_M), assembly.friction)
    with engine(name).open(setup, STEP_S) as world:
        yield Tilting(world, setup)


def _least_onset(tilted: Tilting, azimuth_deg: float, guess_deg: float) -> dict[str, Any]:
    """Onset in one azimuth, and the least one among its neighbours with the azimuth that it belongs to."""
    here_deg = tilted.onset_deg(azimuth_deg, guess_deg)
    least_deg, towards_deg = here_deg, azimuth_deg
    for beside in BESIDE_DEG:
        below_deg = least_deg - RESOLUTION_DEG
        if below_deg > 0.0 and tilted.drift_m(azimuth_deg + beside, below_deg) > DRIFT_LIMIT_M:
            least_deg, towards_deg = tilted.onset_deg(azimuth_deg + beside, below_deg), azimuth_deg + beside
    return {"onset": here_deg, "least_onset": least_deg, "towards": towards_deg % 360.0}


def compare(seed: int) -> dict[str, Any]:
    """One stack: our figures, the engine's onset in a few azimuths, and what may explain a difference."""
    begun = time.perf_counter()
    stack, why = build(seed)
    if stack is None:
        return {"seed": seed, "left_out": why}
    assembly, poses = stack.assembly, stack.poses
    count = len(stack.stones)
    system, found = nominal(stack)
    row: dict[str, Any] = {
        "seed": seed, "kind": stack.kind, "edge": stack.edge, "stones": count,
        "parts": [len(stone.parts) for stone in stack.stones], "mu": float(assembly.friction[0, 1]),
        "verdict": found.verdict.value, "contacts": len(system.contacts.a),
    }  # fmt: skip
    margins = found.margins
    azimuth_deg = margins.critical_azimuth_deg if margins is not None else 0.0
    row |= {"azimuth": azimuth_deg, "nominal": margins.critical_tilt_deg if margins is not None else 0.0}
    row["moving"] = [motion.piece for motion in found.moving]
    row["reaches"] = [nominal_deg(stack, reach_m) for reach_m in REACHES_M]
    loads = weights(assembly.mass_kg)
    copies = shaken(assembly, poses, count=COPIES, seed=SEED, workers=1)
    least = robust(copies, assembly, poses, lambda _: loads, workers=1)
    row |= {"robust": least.least_tilt_deg, "copies": least.tilts_deg.tolist(), "unknown": least.unknown}
    row["ours_s"] = round(time.perf_counter() - begun, 1)
    try:
        with tilting(stack) as engine_stack:
            row["settled_um"] = (1.0e6 * engine_stack.settled_m).round(1).tolist()
            row |= _least_onset(engine_stack, azimuth_deg, float(row["nominal"]))
            row["stirs"] = engine_stack.onset_deg(azimuth_deg, min(row["reaches"][0], row["onset"]), STIRS_M)
            row["at_engine"] = [nominal_deg(replace(stack, poses=Poses(*engine_stack.start)), r) for r in REACHES_M]
    except EngineTrouble as trouble:
        row["trouble"] = str(trouble)
    return row | {"seconds": round(time.perf_counter() - begun, 1)}


def table(rows: list[dict[str, Any]]) -> str:
    """Ours less the engine's onset, degrees, in Markdown; then every unsafe stack."""
    tried = [row for row in rows if "onset" in row]
    left = Counter(row.get("left_out") or f"engine: {row['trouble']}" for row in rows if "onset" not in row)
    lines = [f"{len(rows)} seeds: {len(tried)} stacks compared, " + ", ".join(f"{n} {why}" for why, n in left.items())]
    groups: dict[str, Callable[[dict[str, Any]], bool]] = {
        "all": lambda _: True,
        "hulls": lambda row: row["kind"] == "hull",
        "unions": lambda row: row["kind"] == "union",
        "two stones": lambda row: row["stones"] == 2,
        "three stones": lambda row: row["stones"] == 3,
        "edge rests": lambda row: row["edge"],
        "nominal under 2": lambda row: row["nominal"] < 2.0,
    }
    for against in ("least_onset", "stirs"):
        lines += ["", f"| against {against} | stacks | figure | median | mean | std | worst | over 0 | over 0.5 |"]
        lines.append("|---|---|---|---|---|---|---|---|---|")
        for name, belongs in groups.items():
            chosen = [row for row in tried if belongs(row)]
            for figure in ("nominal", "robust"):
                lines.append(_line(name, figure, [_over(row, figure, against) for row in chosen]))
    lines += ["", "| seed | stones | parts | mu | robust | nominal | at 10, 25, 50 um | onset | stirs | settled, um |"]
    lines.append("|---|---|---|---|---|---|---|---|---|---|")
    unsafe = [row for row in tried if max(_over(row, f, "least_onset") for f in ("nominal", "robust")) > UNSAFE_DEG]
    for row in sorted(unsafe, key=lambda row: -_over(row, "robust", "least_onset")):
        reaches = ", ".join(f"{tilt:.2f}" for tilt in row["reaches"])
        lines.append(
            f"| {row['seed']} | {row['stones']}{' edge' if row['edge'] else ''} | {row['parts']} | {row['mu']} "
            f"| {row['robust']:.2f} | {row['nominal']:.2f} | {reaches} | {row['least_onset']:.2f} "
            f"| {row['stirs']:.2f} | {row['settled_um']} |"
        )
    return "\n".join(lines)


def _over(row: dict[str, Any], figure: str, against: str) -> float:
    return float(row[figure]) - float(row[against])


def _line(name: str, figure: str, over: list[float]) -> str:
    known = np.array([value for value in over if np.isfinite(value)])
    if not len(known):
        return f"| {name} | 0 | {figure} | | | | | | |"
    numbers = " | ".join(f"{v:+.2f}" for v in (np.median(known), known.mean(), known.std(), known.max()))
    shares = f"{int((known > 0.0).sum())} | {int((known > UNSAFE_DEG).sum())}"
    return f"| {name} | {len(known)} | {figure} | {numbers} | {shares} |"


def main() -> None:
    """Run seeds and append rows, or print the table of rows."""
    if sys.argv[1] == "table":
        print(table([json.loads(line) for name in sys.argv[2:] for line in Path(name).read_text().splitlines()]))
        return
    first, last, step = int(sys.argv[2]), int(sys.argv[3]), int(sys.argv[5]) if len(sys.argv) > 5 else 1
    for seed in range(first, last, step):
        line = json.dumps(compare(seed))
        with Path(sys.argv[4]).open("a") as file:
            file.write(line + "\n")
        print(line, flush=True)


if __name__ == "__main__":
    main()
