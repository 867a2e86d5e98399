"""The double sine series of Navier for a rectangular plate with simply supported edges: an independent check.

    p_mn = 16 p / (pi^2 m n) sin(m pi xi/a) sin(m pi u/2a) sin(n pi eta/b) sin(n pi v/2b)
    W_mn = p_mn / (D ((m pi/a)^2 + (n pi/b)^2)^2 + k)

References
----------
Timoshenko & Woinowsky-Krieger 1959, Theory of Plates and Shells, 2nd ed., sections 28-29 (from memory); with a Winkler
foundation: Ike 2018, Math. Modelling of Eng. Problems 5(2):83-92.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def navier(
    sides_m: tuple[float, float],
    rigidity_nm: float,
    poisson: float,
    patches: list[tuple[tuple[float, float], tuple[float, float], float]],
    points_m: Floats,
    bedding_n_m3: float = 0.0,
    terms: int = 200,
) -> tuple[Floats, Floats]:
    """Deflection (k,) and moments (k, 3) Mx, My, Mxy at points (k, 2).

    `patches`: middle, size and total force of evenly loaded rectangles; one of the plate's own size is an even load.
    """
    a, b = sides_m
    m, n = np.meshgrid(np.arange(1, terms + 1), np.arange(1, terms + 1), indexing="ij")
    alpha, beta = m * np.pi / a, n * np.pi / b
    load = np.zeros(m.shape)
    for (xi, eta), (u, v), force in patches:
        load += (
            16.0 * force / (u * v) / (np.pi**2 * m * n)
            * np.sin(alpha * xi) * np.sin(alpha * u / 2.0) * np.sin(beta * eta) * np.sin(beta * v / 2.0)
        )  # fmt: skip
    w = load / (rigidity_nm * (alpha**2 + beta**2) ** 2 + bedding_n_m3)
    deflection, moments = [], []
    for x, y in points_m:
        sines = np.sin(alpha * x) * np.sin(beta * y)
        deflection.append((w * sines).sum())
        mx = rigidity_nm * (w * (alpha**2 + poisson * beta**2) * sines).sum()
        my = rigidity_nm * (w * (beta**2 + poisson * alpha**2) * sines).sum()
        cosines = np.cos(alpha * x) * np.cos(beta * y)
        moments.append([mx, my, -rigidity_nm * (1.0 - poisson) * (w * alpha * beta * cosines).sum()])
    return np.array(deflection), np.array(moments)


def hydrostatic(
    sides_m: tuple[float, float], rigidity_nm: float, poisson: float, most_pa: float, points_m: Floats, terms: int = 400
) -> Floats:
    """Moments (k, 2) Mx, My at points (k, 2) under ``q = most x / a``.

    ``p_mn = 8 most (-1)^(m + 1) / (pi^2 m n)`` for odd n.
    """
    a, b = sides_m
    m, n = np.meshgrid(np.arange(1, terms + 1), np.arange(1, terms + 1, 2), indexing="ij")
    alpha, beta = m * np.pi / a, n * np.pi / b
    w = 8.0 * most_pa * (-1.0) ** (m + 1) / (np.pi**2 * m * n) / (rigidity_nm * (alpha**2 + beta**2) ** 2)
    found = []
    for x, y in points_m:
        sines = w * np.sin(alpha * x) * np.sin(beta * y)
        found.append([(sines * (alpha**2 + poisson * beta**2)).sum(), (sines * (beta**2 + poisson * alpha**2)).sum()])
    return rigidity_nm * np.array(found)
