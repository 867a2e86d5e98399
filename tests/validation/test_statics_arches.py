"""Semicircular arches on fixed springings.

Source: Cocchetti, G. & Rizzi, E. (2020). Frattura ed Integrita Strutturale 51, 356-375, table 3,
p. 372; for the first value also Makris, N. & Alexakis, H. (2013), abstract: 0.1075.
Joints are placed at the published hinges and sliding joints, and at 3 degrees besides.
"""

from __future__ import annotations

import numpy as np
import pytest
from handmade import Bearing, contacts_of

from sim.statics import Feasible, Loads, Strict, System, assemble_system, feasible, strict_check, weights

NO_SLIDING = 50.0
DEPTH_M = 0.3
HINGE_DEG, LOW_HINGE_DEG, SLIDING_DEG = 54.4963, 60.5134, 28.6362  # from the crown


def _arch(thickness: float, mu: float) -> tuple[System, Loads]:
    """Centreline radius 1, radial joints, true ring-sector voussoirs."""
    published = [sign * angle for angle in (HINGE_DEG, LOW_HINGE_DEG, SLIDING_DEG) for sign in (1, -1)]
    angle = np.radians(np.unique(np.concatenate([np.linspace(-90.0, 90.0, 61), published])))
    inner, outer = 1.0 - thickness / 2.0, 1.0 + thickness / 2.0
    half, middle = np.diff(angle) / 2.0, (angle[1:] + angle[:-1]) / 2.0
    radius = 2.0 / 3.0 * (outer**3 - inner**3) / (outer**2 - inner**2) * np.sin(half) / half
    centre = np.stack([radius * np.sin(middle), np.full_like(middle, DEPTH_M / 2), radius * np.cos(middle)], axis=1)
    last = len(angle) - 1
    bearings = []
    for k, t in enumerate(angle):
        ray, along = np.array([np.sin(t), 0.0, np.cos(t)]), np.array([np.cos(t), 0.0, -np.sin(t)])
        corners = np.array([r * ray + [0.0, y, 0.0] for r in (inner, outer) for y in (0.0, DEPTH_M)])
        if k == last:
            bearings.append(Bearing(k - 1, -1, corners, -along, mu, thickness * DEPTH_M))
        else:
            bearings.append(Bearing(k, k - 1, corners, along, mu, thickness * DEPTH_M))
    return assemble_system(centre, contacts_of(bearings)), weights(half * (outer**2 - inner**2))


def _stands(thickness: float, mu: float) -> Feasible:
    return feasible(*_arch(thickness, mu)).status


# C1: t/R = 0.1074 (0.107426; Milankovitch 0.1075)
def test_least_thickness_without_sliding() -> None:
    assert _stands(0.107426 * 1.01, NO_SLIDING) is Feasible.YES
    assert _stands(0.107426 * 0.99, NO_SLIDING) is Feasible.NO


# C5: below mu = 0.395832 the least thickness grows, above it does not
def test_friction_at_which_sliding_begins_to_matter() -> None:
    assert _stands(0.107426 * 1.001, 0.395832 + 0.002) is Feasible.YES
    assert _stands(0.107426 * 1.001, 0.395832 - 0.002) is Feasible.NO
    assert _stands(0.12, 0.395832 - 0.002) is Feasible.YES


# C7: below mu = 0.309215 no arch stands, at it t/R = 0.200637
@pytest.mark.parametrize("thickness", [0.15, 0.18, 0.2006, 0.22, 0.25, 0.3])
def test_no_arch_stands_below_the_least_friction(thickness: float) -> None:
    assert _stands(thickness, 0.309215 - 0.002) is Feasible.NO


def test_the_arch_of_least_friction_stands() -> None:
    assert _stands(0.200637, 0.309215 + 0.002) is Feasible.YES


def test_an_arch_with_natural_friction_stands_strictly() -> None:
    assert strict_check(*_arch(0.15, 0.7)).verdict is Strict.STANDS
