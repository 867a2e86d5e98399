"""Tonon, F. (2004). Explicit exact formulas for the 3-D tetrahedron inertia tensor in terms of its vertex
coordinates. Journal of Mathematics and Statistics 1(1), 8-11: the worked example.

The figures are from memory; the centroid is left out, since the one remembered is not the mean of the corners to
its last digit. The paper works with rounded intermediate values: its inertia is 1.6e-8 below the
exact sum for every one of the six numbers, so they are compared at 5e-8.
"""

from __future__ import annotations

import numpy as np
import pytest

from sim.pieces.mass import MassProperties, mass_properties

CORNERS = np.array(
    [
        [8.33220, -11.86875, 0.93355],
        [0.75523, 5.00000, 16.37072],
        [52.61236, 5.00000, -5.38580],
        [2.00000, 5.00000, 3.00000],
    ]
)
OUTWARD = np.array([[0, 2, 1], [0, 3, 2], [0, 1, 3], [1, 2, 3]])

MOMENTS = [43520.33257, 194711.28938, 191168.76173]  # a, b, c: about x, y, z through the centroid
PRODUCT_YZ, PRODUCT_XZ, PRODUCT_XY = 4417.66150, -46343.16662, 11996.20119  # a', b', c'


@pytest.fixture(scope="module")
def found() -> MassProperties:
    return mass_properties(CORNERS, OUTWARD)


def test_moments_of_inertia(found: MassProperties) -> None:
    assert np.diag(found.inertia_m5) == pytest.approx(MOMENTS, rel=5e-8)


def test_products_of_inertia(found: MassProperties) -> None:
    inertia = found.inertia_m5
    assert inertia == pytest.approx(inertia.T, rel=1e-12)
    # off the diagonal stand the products with the sign turned round
    assert [-inertia[1, 2], -inertia[0, 2], -inertia[0, 1]] == pytest.approx(
        [PRODUCT_YZ, PRODUCT_XZ, PRODUCT_XY], rel=5e-8
    )
