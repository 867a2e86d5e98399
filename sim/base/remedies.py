"""What would help a base pane that does not pass, computed: sheet, mat, thicker glass, the worst footprint elsewhere.

Each change is judged with the forces of the state that uses the pane most, over all admissible ones; a footprint that
is moved keeps its force, though the stack above it would stand otherwise then: take that figure as a hint.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.base.judging import BaseJudge, PaneJudgement
from sim.contact import BASE, Contacts
from sim.materials.glasses import NOMINAL_MM, TRIED_MAT, TRIED_MAT_MM, TRIED_SHEET_MM
from sim.scene import Mat, Scene, UnderStones
from sim.statics import Loads, System
from sim.units import MM_PER_M

Floats = NDArray[np.float64]

GOOD = ("within limits", "marginal")
LEAST_SHIFT_M = 1.0e-3
SHIFTS = (0.5, 1.0)  # shares of the way to the middle or to the rim that a footprint is moved


@dataclass(frozen=True, slots=True, eq=False)
class Remedy:
    """One change, and what the pane bears then."""

    what: str
    judgement: PaneJudgement

    @property
    def passes(self) -> bool:
        """Whether the pane passes with it."""
        return self.judgement.verdict in GOOD


@dataclass(frozen=True, slots=True, eq=False)
class PaneState:
    """The state of a stage that uses the base pane most."""

    scene: Scene
    contacts: Contacts
    system: System  # with its joints limited
    loads: Loads
    forces_n: Floats  # (k, 3) of loading alone
    level_m: float
    density_kg_m3: float
    wet: bool

    def judged(self, scene: Scene, contacts: Contacts | None = None) -> PaneJudgement:
        """The pane with another base or other footprints under the same forces."""
        moved = contacts or self.contacts
        judge = BaseJudge(scene, moved)
        return judge.answer(self.system, self.loads, self.forces_n, self.level_m, self.density_kg_m3, self.wet)


def remedies_of(state: PaneState, names: Sequence[str]) -> tuple[Remedy, ...]:
    """Try changes one after the other, until one passes; the last ones build on a sheet where stone is bare.

    Parameters
    ----------
    names : ids of the pieces
    """
    scene, found = state.scene, []
    laid, beside = scene, ""
    if scene.tank.under_stones.kind == "none":
        sheet = UnderStones(kind="sheet", thickness_mm=TRIED_SHEET_MM)
        laid, beside = _with_tank(scene, under_stones=sheet), ", on that sheet"
        found.append(Remedy(f"a sheet of {TRIED_SHEET_MM:g} mm under the stones", state.judged(laid)))
        if found[-1].passes:
            return tuple(found)
    if scene.tank.support != "mat":
        mat = Mat(material=TRIED_MAT, thickness_mm=TRIED_MAT_MM)
        matted = _with_tank(laid, support="mat", mat=mat)
        what = f"a mat of {TRIED_MAT_MM:g} mm {TRIED_MAT} on a full, flat board{beside}"
        found.append(Remedy(what, state.judged(matted)))
    for thickness_mm in NOMINAL_MM:
        if thickness_mm > scene.tank.base_mm:
            found.append(Remedy(f"a base of {thickness_mm:g} mm{beside}", state.judged(_thicker(laid, thickness_mm))))
            if found[-1].passes:
                break
    return (*found, *_moved(state, laid, beside, names))


def _thicker(scene: Scene, thickness_mm: float) -> Scene:
    return _with_tank(scene, base_mm=thickness_mm)


def _with_tank(scene: Scene, **changes: Any) -> Scene:
    return scene.model_copy(update={"tank": scene.tank.model_copy(update=changes)})


def _moved(state: PaneState, laid: Scene, beside: str, names: Sequence[str]) -> list[Remedy]:
    """The footprint that does most where the tension is largest, moved towards the middle and towards the rim."""
    contacts, judge = state.contacts, BaseJudge(laid, state.contacts)
    on_base = contacts.b == BASE
    patches = np.unique(contacts.patch[on_base])
    if not len(patches):
        return []
    before = judge.answer(state.system, state.loads, state.forces_n, state.level_m, state.density_kg_m3, state.wet)
    force = np.array([state.forces_n[on_base & (contacts.patch == patch), 0].sum() for patch in patches])
    place = int(np.linalg.norm(judge.pane.points_m - before.at_m, axis=1).argmin())
    share = np.abs(judge.pane.per_newton[place]).max(axis=0) * force
    worst = patches[int(share.argmax())]
    chosen = on_base & (contacts.patch == worst)
    middle = contacts.point_m[chosen, :2].mean(axis=0)
    sides = np.array(state.scene.tank.inner_mm[:2]) / MM_PER_M
    name = names[int(contacts.a[chosen][0])]
    found = []
    rim = _nearest_rim(middle, contacts.point_m[chosen], sides)
    for where, goal in (("the middle", sides / 2.0), ("the rim", rim)):
        shift_m, best = _best_shift(state, laid, chosen, goal - middle, before)
        if shift_m > 0.0:
            found.append(Remedy(f"{name} {shift_m * MM_PER_M:.0f} mm towards {where}{beside}", best))
    return found


def _best_shift(
    state: PaneState, laid: Scene, chosen: NDArray[np.bool_], way_m: Floats, before: PaneJudgement
) -> tuple[float, PaneJudgement]:
    """How far along a way the footprint does best, and the pane then; 0 and as before where nothing is won."""
    best = (0.0, before)
    for part in SHIFTS:
        shift = way_m * part
        if np.linalg.norm(shift) < LEAST_SHIFT_M:
            continue
        points = state.contacts.point_m.copy()
        points[chosen, :2] += shift
        tried = state.judged(laid, replace(state.contacts, point_m=points))
        if tried.tension_pa < best[1].tension_pa:
            best = (float(np.linalg.norm(shift)), tried)
    return best


def _nearest_rim(middle: Floats, outline: Floats, sides: Floats) -> Floats:
    """Where the footprint's middle lies when it has come to the nearest edge of the pane."""
    half = np.ptp(outline[:, :2], axis=0) / 2.0
    gaps = np.column_stack([middle - half, sides - middle - half])  # axis by side
    edge = int(gaps.argmin())
    goal = middle.copy()
    goal[edge // 2] = half[edge // 2] if edge % 2 == 0 else sides[edge // 2] - half[edge // 2]
    return goal
