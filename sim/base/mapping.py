"""The base pane in the state that uses it most, as arrays to draw: footings with their forces, and the tension."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.base.judging import BaseJudge
from sim.contact import BASE
from sim.states import Stage, Water
from sim.statics import Judgement

Floats = NDArray[np.float64]

LEAST_AREA_M2 = 1.0e-6
FINENESS = (121, 61)  # places along length and depth


@dataclass(frozen=True, slots=True, eq=False)
class Footing:
    """Where a piece presses on the glass, spread by what lies between."""

    piece: str
    outline_m: Floats  # (k, 2)
    area_m2: float
    force_n: float  # of loading alone

    @property
    def pressure_pa(self) -> float | None:
        """Force over the spread area; None of a point or a line on bare glass."""
        return self.force_n / self.area_m2 if self.area_m2 >= LEAST_AREA_M2 else None


@dataclass(frozen=True, slots=True, eq=False)
class LoadMap:
    """One state of the base pane."""

    water: Water
    footings: tuple[Footing, ...]
    x_m: Floats  # (nx,)
    y_m: Floats  # (ny,)
    tension_pa: Floats  # (ny, nx) largest principal tension on either face, of loading alone
    deflection_m: Floats  # (ny, nx) downward


def footings_of(stage: Stage, judge: BaseJudge, judgement: Judgement) -> tuple[Footing, ...]:
    """All footings of one state that stands, with the forces of equal compliance."""
    contacts, forces = judgement.system.contacts, judgement.strict.forces_n
    on_base = contacts.b == BASE
    found = []
    for patch, outline in zip(np.unique(contacts.patch[on_base]), judge.pane.outlines, strict=True):
        chosen = on_base & (contacts.patch == patch)
        name = stage.pieces[int(contacts.a[chosen][0])].id
        found.append(Footing(name, outline.corners_m, outline.area_m2, float(forces[chosen, 0].sum())))
    return tuple(found)


def load_map(stage: Stage, judge: BaseJudge, water: Water, judgement: Judgement) -> LoadMap:
    """Draw up one state that stands, with the forces of equal compliance."""
    footings, pane = footings_of(stage, judge, judgement), judge.pane
    x_m = np.linspace(0.0, pane.pane.length_m, FINENESS[0])
    y_m = np.linspace(0.0, pane.pane.depth_m, FINENESS[1])
    x, y = np.meshgrid(x_m, y_m)
    points = np.column_stack([x.ravel(), y.ravel()])
    force = np.array([one.force_n for one in footings])
    whole = judge.pressed_by(water.level_m or 0.0, water.density_kg_m3, water.wet) + pane.unit @ force
    moments = np.asarray(pane.bent.moments_at(points) @ whole).reshape(-1, 3) + pane.corrections(points) @ force
    tension = pane.pane.tension_pa(moments)
    deflection = np.asarray(pane.bent.deflection_at(points) @ whole)
    return LoadMap(water, footings, x_m, y_m, tension.reshape(x.shape), deflection.reshape(x.shape))
