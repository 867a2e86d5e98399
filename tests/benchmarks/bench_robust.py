"""How copies of irregular stacks end, and what the robust margin costs.

Run: python tests/benchmarks/bench_robust.py
Generated stones are set down at random places one after the other, then let go all together; what
lies still then is shaken. Times are wall-clock and, since the machine may be busy, processor time.
"""

from __future__ import annotations

import time
from collections import Counter

import numpy as np
from scipy.spatial.transform import Rotation

from sim.contact import Assembly, Poses, Rest, assemble, relax, tank_planes
from sim.contact.settling import settle_in_order
from sim.pieces.generate import generate
from sim.statics import robust, shaken, weights

KINDS = ("block", "slab", "cobble", "shard")
# stones wanted, side of the square that they are thrown on in metres, seed
STACKS = ((2, 0.06, 0), (5, 0.1, 0), (5, 0.1, 1), (10, 0.2, 0), (10, 0.2, 1), (20, 0.3, 0), (30, 0.4, 0))
THROWN = 2.2  # stones thrown per stone wanted: many find no rest where they are put
FRICTION = 0.6
DENSITY_KG_M3 = 2600.0
TANK_M = np.array([0.9, 0.45, 0.45])
TOGETHER_STEPS = 1500


def stones(bodies: list, planes_from: np.ndarray) -> Assembly:  # type: ignore[type-arg]
    """An assembly of stones of one density and friction."""
    mass = np.array([DENSITY_KG_M3 * body.volume_m3 for body in bodies])
    return assemble(bodies, mass, np.full((len(bodies), len(bodies) + 5), FRICTION), tank_planes(planes_from))


def seated(wanted: int, side_m: float, seed: int) -> tuple[Assembly, Poses, bool]:
    """A heap of about so many stones that came to rest; false where it did not within the steps."""
    rng = np.random.default_rng([wanted, seed])
    count = int(np.ceil(wanted * THROWN)) if wanted > 2 else wanted
    bodies = [generate(KINDS[int(rng.integers(4))], int(rng.integers(10**6)), faces=4000) for _ in range(count)]
    spread = np.array([side_m, min(side_m, 0.3)]) / 2.0
    place = np.column_stack([TANK_M[:2] / 2.0 + rng.uniform(-spread, spread, (count, 2)), np.full(count, 0.05)])
    turn = np.column_stack([rng.uniform(0.0, 360.0, count), rng.uniform(-10.0, 10.0, count)])
    start = Poses(Rotation.from_euler("zx", turn, degrees=True).as_matrix(), place)
    settled = settle_in_order(stones(bodies, TANK_M), start, [str(k) for k in range(count)])
    found = [k for k, piece in enumerate(settled.pieces) if piece.rest is Rest.AT_REST][:wanted]
    assembly = stones([bodies[k] for k in found], TANK_M)
    poses = Poses(settled.poses.rotation[found], settled.poses.position_m[found])
    relaxed = relax(assembly, poses, np.ones(len(found), np.bool_), most_steps=TOGETHER_STEPS, farthest_m=0.5)
    return assembly, relaxed.poses, relaxed.at_rest


def main() -> None:
    """Print one row per stack."""
    shaken(*seated(2, 0.06, 0)[:2], count=1)  # compiles once
    print("stones  copies                              steps             shaken s (cpu)  judged s (cpu)  tilts deg")
    for wanted, side_m, seed in STACKS:
        assembly, poses, rests = seated(wanted, side_m, seed)
        count = len(assembly.mass_kg)
        if not rests:
            print(f"{count:6d}  does not come to rest as thrown")
            continue
        wall, cpu = time.perf_counter(), time.process_time()
        copies = shaken(assembly, poses)
        between, cpu_between = time.perf_counter(), time.process_time()
        loads = weights(assembly.mass_kg)
        found = robust(copies, assembly, poses, lambda _, loads=loads: loads)
        end, cpu_end = time.perf_counter(), time.process_time()
        fates = ", ".join(f"{number} {fate}" for fate, number in Counter(copy.fate.value for copy in copies).items())
        print(
            f"{count:6d}  {fates:34s}  {[copy.steps for copy in copies]!s:20s} "
            f"{between - wall:6.1f} ({cpu_between - cpu:5.1f})  {end - between:6.2f} ({cpu_end - cpu_between:5.2f})  "
            f"{np.round(found.tilts_deg, 2)} {found.unknown}",
            flush=True,
        )


if __name__ == "__main__":
    main()
