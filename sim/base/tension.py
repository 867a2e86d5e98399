"""The tension in a pane: water, ground and stones together, and the most that any admissible forces can do.

The forces of rigid stones on their footprints are not determined. The nominal tension takes those of equal
compliance; the largest is sought over all forces that balance, for the pane's own tension and not force by force.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.base.footing import footing, spread
from sim.base.plate import BentPane, Pane, disc_difference
from sim.contact import BASE, Contacts
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


def outlines_on(contacts: Contacts, plane: int, axes: Sequence[int]) -> list[Floats]:
    """Corners (k, 2) of every patch that bears on a plane, along two axes of the tank."""
    on_plane = contacts.b == plane
    patches = np.unique(contacts.patch[on_plane])
    return [contacts.point_m[on_plane & (contacts.patch == patch)][:, list(axes)] for patch in patches]


class PressedPane:
    """One pane with the footings of one stage; states differ in forces and pressures alone."""

    def __init__(self, pane: Pane, outlines_m: Sequence[Floats], cover_m: float, plane: int = BASE) -> None:
        """Bend it. `outlines_m`: of the patches (k, 2) on this plane of the tank, in the order of their numbers."""
        self.pane, self.plane = pane, plane
        self.outlines = [spread(outline, cover_m) for outline in outlines_m]  # as they are, before the mesh
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
        self.per_newton += self.corrections(self.points_m)

    def corrections(self, points_m: Floats) -> Floats:
        """What footings that stand for smaller discs lack: moments (k, 3, f) at points (k, 2), per newton on each."""
        found = np.zeros((len(points_m), 3, len(self.footings)))
        for k, one in enumerate(self.footings):
            if one.stands_for_m is not None:
                found[:, :, k] = disc_difference(
                    points_m, one.centre_m, one.stands_for_m, one.radius_m, self.pane.poisson
                )
        return found

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
        system : equilibrium of the stack, whose patches on the plane are the footings in the order of their numbers
        nominal_n : (k, 3) contact forces of equal compliance; under the base those on side panes are held at these
        pressed : deflection vector (N,) of water and ground
        """
        contacts = system.contacts
        on_plane = np.flatnonzero(contacts.b == self.plane)
        patches = np.unique(contacts.patch[on_plane])
        footing_of = np.zeros(len(contacts.a), np.int64)
        footing_of[on_plane] = np.searchsorted(patches, contacts.patch[on_plane])
        force = np.zeros(len(self.footings))
        np.add.at(force, footing_of[on_plane], nominal_n[on_plane, 0])
        whole = pressed + self.unit @ force
        under_pressure = self.moments_of(pressed)
        moments = under_pressure + self.per_newton @ force
        nominal = self.pane.tension_pa(moments)
        deflection = float(np.asarray(self.bent.deflection_at(self.points_m) @ whole).max())
        most, at = float(nominal.max()), self.points_m[int(nominal.argmax())]
        pinned = nominal_n if self.plane == BASE else None
        if len(on_plane):
            for place in np.argsort(-nominal)[:CANDIDATES]:
                along = _along(moments[place])
                objective = np.zeros((len(contacts.a), 3))
                objective[on_plane, 0] = (along @ self.per_newton[place])[footing_of[on_plane]]
                span = bracket(system, loads, objective, pinned)
                rest = float(along @ under_pressure[place])
                value = 6.0 / self.pane.thickness_m**2 * max(abs(rest + span.least), abs(rest + span.most))
                if not np.isfinite(value):
                    most, at = np.nan, self.points_m[int(place)]
                    break
                if value > most:
                    most, at = value, self.points_m[int(place)]
        return Tension(self.points_m, nominal, most, at, deflection)


def _along(moment: Floats) -> Floats:
    """Weights (3,) of Mx, My, Mxy in the moment along the principal direction of the larger one, whichever sign."""
    mx, my, mxy = moment
    angle = 0.5 * np.arctan2(2.0 * mxy, mx - my) + (0.0 if mx + my >= 0.0 else np.pi / 2.0)
    return np.array([np.cos(angle) ** 2, np.sin(angle) ** 2, 2.0 * np.sin(angle) * np.cos(angle)])
