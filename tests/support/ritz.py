"""Ritz solution of a rectangular plate clamped all round, by polynomials: an independent check.

    w = sum c_mn f_m(x) f_n(y),  f_m = (1 - s^2)^2 P_m(s),  s from -1 to 1 across the plate
    minimise D/2 integral (laplacian w)^2 - integral q w

With clamped edges the twisting term of the energy integrates to nothing.

References
----------
Ritz, W. (1909). J. reine angew. Math. 135, 1-61; Timoshenko & Woinowsky-Krieger 1959, section 82 (method, from memory).
"""

from __future__ import annotations

import numpy as np
from numpy.polynomial import Polynomial
from numpy.polynomial.legendre import Legendre
from numpy.typing import NDArray

Floats = NDArray[np.float64]


class Clamped:
    """A plate of sides (a, b) and rigidity 1."""

    def __init__(self, sides_m: tuple[float, float], terms: int = 14) -> None:
        self.sides = sides_m
        edge = Polynomial([1.0, 0.0, -1.0]) ** 2
        # symmetric loads in the middle need even terms only
        self.shapes = [edge * Legendre.basis(2 * m).convert(kind=Polynomial) for m in range(terms)]
        node, weight = np.polynomial.legendre.leggauss(2 * terms + 8)
        value = np.array([shape(node) for shape in self.shapes])
        second = np.array([shape.deriv(2)(node) for shape in self.shapes])
        half_a, half_b = sides_m[0] / 2.0, sides_m[1] / 2.0
        b, a, c = (value * weight) @ value.T, (second * weight) @ second.T, (second * weight) @ value.T
        self.stiffness = (
            np.kron(a, b) * half_b / half_a**3
            + np.kron(b, a) * half_a / half_b**3
            + (np.kron(c, c.T) + np.kron(c.T, c)) / (half_a * half_b)
        )
        self.areas = np.kron(value @ weight, value @ weight) * half_a * half_b

    def even(self) -> Floats:
        """Coefficients under an even load of 1."""
        return np.linalg.solve(self.stiffness, self.areas)

    def force_in_the_middle(self) -> Floats:
        """Coefficients under a force of 1 in the middle."""
        middle = np.array([shape(0.0) for shape in self.shapes])
        return np.linalg.solve(self.stiffness, np.kron(middle, middle))

    def at(self, part: Floats, s: float, t: float, poisson: float) -> tuple[float, float, float]:
        """Deflection and moments Mx, My at a place, -1 to 1 across each side."""
        x, y = ([shape.deriv(k)(v) if k else shape(v) for shape in self.shapes] for v, k in ((s, 0), (t, 0)))
        xx, yy = ([shape.deriv(2)(v) for shape in self.shapes] for v in (s, t))
        w_xx = float(part @ np.kron(xx, y)) * (2.0 / self.sides[0]) ** 2
        w_yy = float(part @ np.kron(x, yy)) * (2.0 / self.sides[1]) ** 2
        return float(part @ np.kron(x, y)), -(w_xx + poisson * w_yy), -(w_yy + poisson * w_xx)
