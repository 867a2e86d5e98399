"""The tension in the base pane: water, ground and stones together, and the most that any admissible forces can do.

The forces of rigid stones on their footprints are not determined. The nominal tension takes those of equal
compliance; the largest is sought over all forces that balance, for the pane's own tension and not force by force.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.base.footing import footing
from sim.base.plate import BentPane, Pane, disc_difference
from sim.contact import BASE
from sim.statics import Loads, System, bracket

Floats = NDArray[np.float64]

GRID = (41, 21)  # places along length and depth where the tension is looked at, beside every footprint
CANDIDATES = 3  # places whose largest tension is sought over all admissible forces


@dataclass(frozen=True, slots=True, eq=False)
class Tension:
    """Tension of one state."""

    points_m: Floats  # (p, 2) grid, then footprints' middles, then the pane's middle
    nominal_pa: Floats  # (p,) largest principal tension on either face
    most_pa: float  # over all admissible forces, at the worst place; nan where unbounded or unknown
    most_at_m: Floats  # (2,)
    deflection_m: float  # largest, nominal, downward


class BasePane:
    """One pane with the footings of one stage; states differ in forces and pressures alone."""

    def __init__(self, pane: Pane, outlines_m: Sequence[Floats], cover_m: float) -> None:
        self.pane = pane
        self.footings = [footing(outline, cover_m, pane) for outline in outlines_m]
        self.bent = BentPane(pane, self.footings)
        centres = np.array([one.centre_m for one in self.footings]).reshape(-1, 2)
        centres = np.clip(centres, 0.0, [pane.length_m, pane.depth_m])
        x, y = np.meshgrid(np.linspace(0.0, pane.length_m, GRID[0]), np.linspace(0.0, pane.depth_m, GRID[1]))
        middle = [[pane.length_m / 2.0, pane.depth_m / 2.0]]
        self.points_m = np.vstack([np.column_stack([x.ravel(), y.ravel()]), centres, middle])
        self.moments = self.bent.moments_at(self.points_m)
        self.unit = self.bent.bent(self.bent.pressed(*self.footings))
        # (p, 3, f): moments of 1 N on each footing
        self.per_newton = np.asarray(self.moments @ self.unit).reshape(len(self.points_m), 3, -1)
        for k, one in enumerate(self.footings):
            if one.stands_for_m is not None:
                self.per_newton[:, :, k] += disc_difference(
                    self.points_m, one.centre_m, one.stands_for_m, one.radius_m, pane.poisson
                )

    def pressure(self, pressure_pa: Floats | float) -> Floats:
        """Deflection vector (N,) of a pressure, even or at `self.bent.places()`."""
        return np.asarray(self.bent.bent(self.bent.under_pressure(pressure_pa))[:, 0])

    def moments_of(self, deflection: Floats) -> Floats:
        """Mx, My, Mxy (p, 3) at the points."""
        return np.asarray(self.moments @ deflection).reshape(-1, 3)

    def tension(self, system: System, loads: Loads, nominal_n: Floats, pressed: Floats) -> Tension:
        """Tension under the forces of one state.

        Parameters
        ----------
        system : equilibrium of the stack, whose base patches are the footings in the order of their numbers
        nominal_n : (k, 3) contact forces of equal compliance
        pressed : deflection vector (N,) of water and ground
        """
        contacts = system.contacts
        on_base = np.flatnonzero(contacts.b == BASE)
        patches = np.unique(contacts.patch[on_base])
        footing_of = {int(patch): k for k, patch in enumerate(patches)}
        force = np.zeros(len(self.footings))
        for k in on_base:
            force[footing_of[int(contacts.patch[k])]] += nominal_n[k, 0]
        whole = pressed + self.unit @ force
        under_pressure = self.moments_of(pressed)
        moments = under_pressure + self.per_newton @ force
        nominal = self.pane.tension_pa(moments)
        deflection = float(np.asarray(self.bent.deflection_at(self.points_m) @ whole).max())
        most, at = float(nominal.max()), self.points_m[int(nominal.argmax())]
        if len(on_base):
            for place in np.argsort(-nominal)[:CANDIDATES]:
                value = self._most_at(int(place), system, loads, nominal_n, moments, under_pressure, footing_of)
                if not np.isfinite(value):
                    most, at = np.nan, self.points_m[int(place)]
                    break
                if value > most:
                    most, at = value, self.points_m[int(place)]
        return Tension(self.points_m, nominal, most, at, deflection)

    def _most_at(
        self,
        place: int,
        system: System,
        loads: Loads,
        nominal_n: Floats,
        moments: Floats,
        under_pressure: Floats,
        footing_of: dict[int, int],
    ) -> float:
        """Largest tension at a place along its nominal principal direction, over all admissible forces."""
        mx, my, mxy = moments[place]
        # the principal direction of the larger moment, of whichever sign
        angle = 0.5 * np.arctan2(2.0 * mxy, mx - my) + (0.0 if mx + my >= 0.0 else np.pi / 2.0)
        along = np.array([np.cos(angle) ** 2, np.sin(angle) ** 2, 2.0 * np.sin(angle) * np.cos(angle)])
        per_newton = along @ self.per_newton[place]
        objective = np.zeros((len(system.contacts.a), 3))
        for k in np.flatnonzero(system.contacts.b == BASE):
            objective[k, 0] = per_newton[footing_of[int(system.contacts.patch[k])]]
        span = bracket(system, loads, objective, nominal_n)
        rest = float(along @ under_pressure[place])
        return 6.0 / self.pane.thickness_m**2 * max(abs(rest + span.least), abs(rest + span.most))
