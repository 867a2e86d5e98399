"""Cone programmes in the form the statics needs, and what their solver's answers are worth.

    minimise 1/2 x'Px + q'x   subject to  h - Gx in K        (x: velocities)
    maximise  -h'z - 1/2 x'Px subject to  Px + G'z + q = 0,  z in K*   (z: forces)

Velocities are the few free variables and forces the multipliers, which halves the linear
system against writing it the other way round. No status of the solver is believed here:
callers check the numbers that come with it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum

import clarabel
import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

Floats = NDArray[np.float64]


class Claim(Enum):
    """What the solver claims."""

    OPTIMAL = "optimal"
    NO_FORCES = "no forces balance"  # z impossible; x is the proof, a collapse mechanism
    NO_MOTION = "no motion yields"  # x impossible; z is the proof, a set of forces without bound
    NOTHING = "no answer"


@dataclass(frozen=True, slots=True, eq=False)
class Answer:
    """A claim with its numbers."""

    claim: Claim
    x: Floats
    z: Floats
    status: str


@dataclass(frozen=True, slots=True)
class Cones:
    """Cone of each block of rows, in this order."""

    rough: int  # second-order cones of three
    smooth: int  # rows not negative
    welded: int  # rows without a multiplier's sign
    corners: tuple[int, ...] = ()  # per joint of limited strength, its slacks: see `system`
    balanced: int = 0  # equations ahead of everything

    def listed(self, more: int = 0) -> list[object]:
        """Cones as the solver takes them, with `more` rows not negative at the end."""
        cones: list[object] = [clarabel.ZeroConeT(self.balanced)] if self.balanced else []
        cones += [clarabel.SecondOrderConeT(3)] * self.rough
        if self.smooth:
            cones.append(clarabel.NonnegativeConeT(self.smooth))
        if self.welded:
            cones.append(clarabel.ZeroConeT(self.welded))
        for slacks in self.corners:
            cones += [
                clarabel.SecondOrderConeT(3),
                clarabel.SecondOrderConeT(2),
                clarabel.ZeroConeT(3),
                clarabel.NonnegativeConeT(slacks),
            ]
        if more:
            cones.append(clarabel.NonnegativeConeT(more))
        return cones


_CLAIMS = {
    "Solved": Claim.OPTIMAL,
    "AlmostSolved": Claim.OPTIMAL,
    "InsufficientProgress": Claim.OPTIMAL,  # often good enough: the caller's check decides
    "MaxIterations": Claim.OPTIMAL,
    "DualInfeasible": Claim.NO_FORCES,
    "AlmostDualInfeasible": Claim.NO_FORCES,
    "PrimalInfeasible": Claim.NO_MOTION,
    "AlmostPrimalInfeasible": Claim.NO_MOTION,
}


def _settings(**changes: object) -> object:
    settings = clarabel.DefaultSettings()
    settings.verbose = False
    settings.max_threads = 1
    settings.direct_solve_method = "qdldl"
    settings.presolve_enable = False
    settings.chordal_decomposition_enable = False
    settings.max_iter = 100
    for name, value in changes.items():
        setattr(settings, name, value)
    return settings


# the quickest first; each next one is tried only when the caller's check refuses the answer
ATTEMPTS = (
    _settings(iterative_refinement_enable=False),
    _settings(),
    _settings(static_regularization_constant=1e-10, tol_gap_abs=1e-10, tol_gap_rel=1e-10, tol_feas=1e-10),
    _settings(static_regularization_constant=1e-7, equilibrate_enable=False, max_step_fraction=0.95, max_iter=300),
)


def solve(
    p: sp.csc_matrix | None,
    q: Floats,
    g: sp.csc_matrix,
    h: Floats,
    cones: list[object],
    accept: Callable[[Answer], bool],
) -> Answer:
    """Solve with one setting after another until an answer passes the caller's check.

    Returns
    -------
    Answer
        `Claim.NOTHING`, with the last status, when none passes.
    """
    return Repeated(p, q, g, h, cones).solve(accept)


class Repeated:
    """One programme for one linear term, or one set of entries of G, after another: pattern and scaling are kept."""

    def __init__(self, p: sp.csc_matrix | None, q: Floats, g: sp.csc_matrix, h: Floats, cones: list[object]) -> None:
        quadratic = sp.csc_matrix((len(q), len(q))) if p is None else sp.triu(p, format="csc")
        self.data = (quadratic, q, g, h, cones)
        self.changes: dict[str, object] = {}
        self.solvers: dict[int, clarabel.DefaultSolver] = {}

    def solve(
        self,
        accept: Callable[[Answer], bool],
        q: Floats | None = None,
        entries: tuple[NDArray[np.uint64], Floats] | None = None,
    ) -> Answer:
        """Solve, as `solve` does, with another q or with other values for some of the entries of G, by their place."""
        self.changes |= {name: value for name, value in (("q", q), ("A", entries)) if value is not None}
        status = "not tried"
        for k, settings in enumerate(ATTEMPTS):
            if k not in self.solvers:
                self.solvers[k] = clarabel.DefaultSolver(*self.data, settings)
            if self.changes:
                self.solvers[k].update(**self.changes)
            solution = self.solvers[k].solve()
            status = str(solution.status)
            answer = Answer(_CLAIMS.get(status, Claim.NOTHING), np.array(solution.x), np.array(solution.z), status)
            finite = np.isfinite(answer.x).all() and np.isfinite(answer.z).all()
            if answer.claim is not Claim.NOTHING and finite and accept(answer):
                return answer
        return Answer(Claim.NOTHING, np.zeros(len(self.data[1])), np.zeros(len(self.data[3])), status)
