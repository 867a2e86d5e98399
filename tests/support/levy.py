"""Levy's series for a rectangular plate with two opposite edges held, the third held and the fourth free.

Held at x = 0, x = a and y = 0, free at y = b, under ``q0 + q1 y``: an independent check.

    w = sum Y_m(y) sin(m pi x / a),   D (d2/dy2 - alpha^2)^2 Y_m = q_m(y),   q_m = 4 / (m pi) (q0 + q1 y), m odd

A linear load has ``q_m / (D alpha^4)`` as a particular solution; four hyperbolic terms fit the edges.

References
----------
Timoshenko & Woinowsky-Krieger 1959, Theory of Plates and Shells, 2nd ed., sections 30 and 48 (method from memory).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def levy(
    sides_m: tuple[float, float],
    rigidity_nm: float,
    poisson: float,
    q0_pa: float,
    q1_pa_m: float,
    point_m: tuple[float, float],
    terms: int = 60,
) -> tuple[float, Floats]:
    """Deflection and moments (Mx, My) at a point."""
    (a, b), (x, y) = sides_m, point_m
    w, mx, my = 0.0, 0.0, 0.0
    for m in range(1, 2 * terms, 2):
        alpha = m * np.pi / a
        scale = 4.0 / (m * np.pi) / (rigidity_nm * alpha**4)
        rows, right = [], []
        for place, conditions in ((0.0, "held"), (b, "free")):
            shapes = _shapes(alpha, place, b)
            load = scale * np.array([q0_pa + q1_pa_m * place, q1_pa_m, 0.0, 0.0])
            if conditions == "held":
                pairs = [(shapes[0], load[0]), (shapes[2], load[2])]
            else:
                shear = (2.0 - poisson) * alpha**2
                pairs = [(row[2] - poisson * alpha**2 * row[0], row[3] - shear * row[1]) for row in (shapes, load)]
                pairs = list(zip(*pairs, strict=True))
            for shape, known in pairs:
                size = np.abs(shape).max()
                rows.append(shape / size)
                right.append(-known / size)
        part = np.linalg.solve(np.array(rows), np.array(right))
        shapes = _shapes(alpha, y, b)
        deflection = shapes[0] @ part + scale * (q0_pa + q1_pa_m * y)
        curvature = shapes[2] @ part
        sine = np.sin(alpha * x)
        w += deflection * sine
        mx -= rigidity_nm * (-(alpha**2) * deflection + poisson * curvature) * sine
        my -= rigidity_nm * (curvature - poisson * alpha**2 * deflection) * sine
    return w, np.array([mx, my])


def _shapes(alpha: float, y: float, b: float) -> Floats:
    """Derivatives 0 to 3 (4, 4) of e^(-ay), ay e^(-ay), e^(a(y - b)), ay e^(a(y - b)): bounded."""
    down, up = np.exp(-alpha * y), np.exp(alpha * (y - b))
    rows = []
    for k in range(4):
        minus = (-alpha) ** k
        rows.append([
            minus * down,
            minus * (alpha * y - k) * down,
            alpha**k * up,
            alpha**k * (alpha * y + k) * up,
        ])  # fmt: skip
    return np.array(rows)
