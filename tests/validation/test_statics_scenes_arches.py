"""Semicircular arches of separate voussoirs, from the scene file to the report.

Source: Cocchetti, G. & Rizzi, E. (2020). Frattura ed Integrita Strutturale 51, 356-375, table 3, p. 372; for the
first value also Makris, N. & Alexakis, H. (2013), Arch. Appl. Mech., abstract: 0.1075. Joints lie every 7.5
degrees and where the published hinges and sliding joints are.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from solids import Stack, box, feasible, ring_sector

from sim.states import Report

RADIUS_MM = 500.0  # of the centreline
DEPTH_MM = 30.0
SPRING_MM = 30.0  # height of the springings
MIDDLE_MM = (600.0, 100.0, SPRING_MM)  # of the circle, front face
NO_SLIDING = 100.0
HINGE_DEG, LOW_HINGE_DEG, SLIDING_DEG = 54.4963, 60.5134, 28.6362  # from the crown
CHORD_DEG = 1.9  # a chord for an arc: areas to 2e-4

# published, as shares of the centreline radius; friction as coefficients
LEAST_THICKNESS, TURNING_FRICTION = 0.107426, 0.395832
THICKNESS_OF_LEAST_FRICTION, LEAST_FRICTION = 0.200637, 0.309215


def _arch(folder: Path, thickness: float, mu: float) -> Stack:
    """True ring sectors, each in its own frame and turned into its place, on two fixed springings."""
    inner, outer = RADIUS_MM * (1.0 - thickness / 2.0), RADIUS_MM * (1.0 + thickness / 2.0)
    stack = Stack(folder, inner_mm=(1200.0, 300.0, 700.0))
    for name, left in (("west", MIDDLE_MM[0] - outer - 5.0), ("east", MIDDLE_MM[0] + inner - 5.0)):
        springing = box((left, MIDDLE_MM[1] - 10.0, 0.0), (outer - inner + 10.0, DEPTH_MM + 20.0, SPRING_MM))
        stack.put(name, springing, keys="fixed = true")
    for k, (start, end) in enumerate(zip(_joints_deg()[:-1], _joints_deg()[1:], strict=True)):
        span = end - start
        sector = ring_sector(inner, outer, span, DEPTH_MM, int(np.ceil(span / CHORD_DEG)))
        stack.put(f"v{k:02d}", sector, at_mm=MIDDLE_MM, turn_deg=(start + end) / 2.0)
    stack.rub("granite", "granite", mu)
    return stack


def _joints_deg() -> list[float]:
    published = [sign * angle for angle in (HINGE_DEG, LOW_HINGE_DEG, SLIDING_DEG) for sign in (1, -1)]
    # a joint every 7.5 degrees, but none within 2 degrees of a published one: no slivers
    even = [angle for angle in np.arange(-90.0, 91.0, 7.5) if min(abs(angle - other) for other in published) > 2.0]
    return sorted(float(angle) for angle in [*even, *published])


def _report(folder: Path, thickness: float, mu: float) -> Report:
    report = _arch(folder, thickness, mu).report()
    assert report.misplaced == ()
    return report


# C1, table 3: t/R = 0.1074 (0.107426), the programme alone, no sliding
@pytest.mark.parametrize(("share", "stands"), [(1.01, True), (0.99, False)])
def test_least_thickness_without_sliding(tmp_path: Path, share: float, stands: bool) -> None:
    report = _report(tmp_path, LEAST_THICKNESS * share, NO_SLIDING)
    assert feasible(report) is stands
    if stands:
        return
    assert report.verdict == "falls"
    # table 3: inner hinge 54.4963 degrees from the crown; from there down the arch turns about its outer spring
    joints, outer = _joints_deg(), RADIUS_MM * (1.0 + LEAST_THICKNESS * share / 2.0)
    motions = {motion.piece: motion for motion in report.states[0].motions}
    below = {f"v{k:02d}" for k in range(len(joints) - 1) if joints[k] > HINGE_DEG - 1e-6}
    turning = set()
    for name, motion in motions.items():
        if motion.hinge_mm is not None and abs(motion.hinge_mm[0] - MIDDLE_MM[0] - outer) < 1.0:
            assert motion.hinge_mm[2] == pytest.approx(SPRING_MM, abs=1.0)
            turning.add(name)
    assert turning == below


# C5, table 3: below mu = 0.395832 sliding begins to matter at the same thickness
@pytest.mark.parametrize(
    ("thickness", "mu", "stands"),
    [
        (LEAST_THICKNESS * 1.001, TURNING_FRICTION + 0.002, True),
        (LEAST_THICKNESS * 1.001, TURNING_FRICTION - 0.002, False),
        (LEAST_THICKNESS * 1.01, TURNING_FRICTION * 1.01, True),
        (LEAST_THICKNESS * 1.001, TURNING_FRICTION * 0.99, False),
        (0.12, TURNING_FRICTION - 0.002, True),
    ],
)
def test_friction_at_which_sliding_begins_to_matter(tmp_path: Path, thickness: float, mu: float, stands: bool) -> None:
    assert feasible(_report(tmp_path, thickness, mu)) is stands


# C7, table 3: no arch of any thickness stands below mu = 0.309215; there t/R = 0.200637
@pytest.mark.parametrize("thickness", [0.15, 0.18, THICKNESS_OF_LEAST_FRICTION, 0.22, 0.25, 0.3])
def test_no_arch_stands_below_the_least_friction(tmp_path: Path, thickness: float) -> None:
    report = _report(tmp_path, thickness, LEAST_FRICTION - 0.002)
    assert feasible(report) is False
    assert report.verdict == "falls"


def test_the_arch_of_least_friction_stands(tmp_path: Path) -> None:
    assert feasible(_report(tmp_path, THICKNESS_OF_LEAST_FRICTION, LEAST_FRICTION + 0.002)) is True


# C5 and C7 as the report itself puts them: friction over friction needed
@pytest.mark.parametrize(
    ("thickness", "needed"),
    [(LEAST_THICKNESS * 1.001, TURNING_FRICTION), (THICKNESS_OF_LEAST_FRICTION, LEAST_FRICTION)],
)
def test_friction_reserve(tmp_path: Path, thickness: float, needed: float) -> None:
    report = _report(tmp_path, thickness, 0.7)
    reserve = report.states[0].equilibrium.friction_reserve
    assert reserve is not None
    assert 0.7 / reserve == pytest.approx(needed, abs=0.002)


def test_an_arch_with_natural_friction_stands(tmp_path: Path) -> None:
    report = _report(tmp_path, 0.15, 0.7)
    assert report.states[0].strict.verdict == "stands"
    assert report.verdict == "stands (quick)"
