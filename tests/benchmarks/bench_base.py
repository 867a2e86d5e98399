"""Time of the base pane's analysis beside scikit-fem's plain assembly and the Navier series, with its error.

Run: PYTHONPATH=tests/support:tests/benchmarks python tests/benchmarks/bench_base.py [FOOTPRINTS]
Pane of 900 x 450 x 10 mm with that many stones (default 40). Ours: footings, mesh, stiffness, the bending of 1 N on
every footing and of the water, and moments of each at a grid and under every stone. scikit-fem: the same mesh and
element, stiffness and the even load assembled as its documentation shows, nothing solved. Series: as many terms as
the smallest footprint needs, at the footprints' middles only. Whole: all of `check`'s answers about the base of a
scene with as many exact boxes, in air, flooded and drained, with the largest tension over all admissible forces.
Processor seconds of one run, so that a busy machine does not count; the second of two, so that nothing compiles.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from boxes import FLOOR_MM, HEAD, box_entry, scene_of
from navier import navier
from numpy.typing import NDArray
from skfem import Basis, BilinearForm, LinearForm
from skfem.element import ElementTriArgyris
from skfem.helpers import dd, ddot, trace

from sim.base import BaseJudge, Pane
from sim.base.answering import base_answer
from sim.base.tension import PressedPane
from sim.pieces.placing import place_pieces
from sim.states import Filling, judge_laid, set_stage, waters_of

PANE = Pane(0.9, 0.45, 0.010, 70e9, 0.23)
LEAST_M, MOST_M = 0.03, 0.09  # sides of footprints
TERMS = 400
WATER_PA = 4405.0


def rectangles(count: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Middles (f, 2) and sizes (f, 2) of footprints on the pane, in rows."""
    rng = np.random.default_rng(4)
    columns = int(np.ceil(np.sqrt(2 * count)))
    rows = -(-count // columns)
    cell = np.array([PANE.length_m / columns, PANE.depth_m / rows])
    place = np.array([[k % columns, k // columns] for k in range(count)])
    size = rng.uniform(LEAST_M, np.minimum(MOST_M, 0.95 * cell), (count, 2))
    return (place + 0.5) * cell + rng.uniform(-0.5, 0.5, (count, 2)) * (cell - size) * 0.9, size


def seconds(job: Callable[[], object]) -> float:
    """Processor seconds of the second of two runs."""
    job()
    start = time.process_time()
    job()
    return time.process_time() - start


def ours(middles: NDArray[np.float64], sizes: NDArray[np.float64]) -> tuple[PressedPane, NDArray[np.float64]]:
    """The pane with these footings, and its moments (f, 3) under every one with 10 N on each and water above."""
    signs = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) / 2.0
    made = PressedPane(PANE, [middle + size * signs for middle, size in zip(middles, sizes, strict=True)], 0.0)
    moments = made.moments_of(made.pressure(WATER_PA)) + made.per_newton @ np.full(len(middles), 10.0)
    return made, moments[-1 - len(middles) : -1]


def plain(made: PressedPane) -> None:
    """Stiffness and even load by scikit-fem alone."""
    nu, rigidity = PANE.poisson, PANE.rigidity_nm

    @BilinearForm
    def bending(u, v, _):  # type: ignore[no-untyped-def]
        return rigidity * ((1.0 - nu) * ddot(dd(u), dd(v)) + nu * trace(dd(u)) * trace(dd(v)))

    @LinearForm
    def even(v, _):  # type: ignore[no-untyped-def]
        return v

    basis = Basis(made.bent.triangles.mesh, ElementTriArgyris(), intorder=6)
    bending.assemble(basis)
    even.assemble(basis)


def series(middles: NDArray[np.float64], sizes: NDArray[np.float64]) -> NDArray[np.float64]:
    """Moments (f, 3) at the same places."""
    loads = [(tuple(middle), tuple(size), 10.0) for middle, size in zip(middles, sizes, strict=True)]
    whole = ((PANE.length_m / 2, PANE.depth_m / 2), (PANE.length_m, PANE.depth_m))
    water = (*whole, WATER_PA * PANE.length_m * PANE.depth_m)
    plate = (PANE.length_m, PANE.depth_m)
    return navier(plate, PANE.rigidity_nm, PANE.poisson, [*loads, water], middles, terms=TERMS)[1]


def whole(count: int) -> float:
    """Seconds for all answers about the base of a scene of boxes."""
    middles, sizes = rectangles(count)
    with tempfile.TemporaryDirectory() as folder:
        head = HEAD.replace("[600, 400, 400]", "[900, 450, 450]").replace("base_mm = 8", "base_mm = 10")
        entries = [
            box_entry(
                Path(folder),
                f"s{k}",
                (round(x * 1e3), round(y * 1e3), 40.0),
                (float(middle[0] * 1e3), float(middle[1] * 1e3), FLOOR_MM),
            )
            for k, (middle, (x, y)) in enumerate(zip(middles, sizes, strict=True))
        ]
        scene = scene_of(Path(folder), *entries, head=head)
        pieces = place_pieces(scene)
    stage = set_stage(scene, pieces)
    waters = [water for water in waters_of(scene, pieces) if water.filling is not Filling.PARTIAL]
    judged = [(water, judge_laid(stage, "dry", water, quick=True)) for water in waters]

    def job() -> None:
        pane = BaseJudge(scene, stage.contacts)
        for water, judgement in judged:
            base_answer(stage, pane, water, judgement)

    return seconds(job)


def main() -> None:
    """Print times, their ratios, and the error."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    middles, sizes = rectangles(count)
    made, found = ours(middles, sizes)
    exact = series(middles, sizes)
    tension, right = PANE.tension_pa(found), PANE.tension_pa(exact)
    own = seconds(lambda: ours(middles, sizes))
    fem = seconds(lambda: plain(made))
    sine = seconds(lambda: series(middles, sizes))
    mesh = f"{len(made.bent.triangles.area_m2)} triangles, {made.bent.triangles.count} freedoms"
    print(f"{count} footprints, {mesh}")
    print(f"ours {own:.2f} s; scikit-fem's assembly of the same mesh {fem:.2f} s; series {sine:.2f} s")
    print(f"error of the tension against the series: {100 * np.abs(tension / right - 1.0).max():.2f} % at most")
    print(f"whole base analysis of a scene with {count} boxes, three states: {whole(count):.2f} s")


if __name__ == "__main__":
    main()
