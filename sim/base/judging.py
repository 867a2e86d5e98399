"""Does the base pane carry it? One stage's footprints in several states, against the limit of its glass."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sim import materials
from sim.base.ground import ground_pressure_pa
from sim.base.plate import Pane
from sim.base.tension import PressedPane, Tension, outlines_on
from sim.contact import BASE, Contacts
from sim.scene import Scene
from sim.statics import Loads, System
from sim.units import MM_PER_M, PA_PER_MPA, STANDARD_GRAVITY_M_S2, significant

Floats = NDArray[np.float64]

BaseVerdict = Literal["within limits", "marginal", "over the limit", "bare stone on glass", "undetermined"]


@dataclass(frozen=True, slots=True, eq=False)
class PaneJudgement:
    """What one state does to the base pane."""

    verdict: BaseVerdict
    reason: str
    support: Literal["rim", "mat"]
    tension_pa: float  # the most of all admissible forces; nan where unknown
    nominal_pa: float
    limit_pa: float  # nan where the glass gets none
    utilisation: float
    deflection_m: float
    at_m: Floats  # (2,)


def pane_of(scene: Scene) -> Pane:
    """The base pane of a scene: rim-carried unless it rests on a mat.

    Its span is the inner plan of the tank. Unknown support counts as rim only.
    """
    tank = scene.tank
    glass = materials.glass(tank.glass)
    bedding = 0.0
    if tank.support == "mat" and tank.mat is not None:
        bedding = materials.mat(tank.mat.material).bedding_n_m3(tank.mat.thickness_mm / MM_PER_M)
    length_m, depth_m = (side / MM_PER_M for side in tank.inner_mm[:2])
    return Pane(length_m, depth_m, tank.base_mm / MM_PER_M, glass.youngs_pa.default, glass.poisson.default, bedding)


class BaseJudge:
    """The base pane of one stage, for as many states as are asked for."""

    def __init__(self, scene: Scene, contacts: Contacts) -> None:
        self.scene = scene
        outlines = outlines_on(contacts, BASE, [0, 1])
        cover = scene.tank.under_stones
        cover_m = (cover.thickness_mm or 0.0) / MM_PER_M if cover.kind != "none" else 0.0
        self.pane = PressedPane(pane_of(scene), outlines, cover_m)
        self.bare = cover.kind == "none" and (len(outlines) > 0 or bool(scene.ground.layers))

    def answer(
        self,
        system: System,
        loads: Loads,
        nominal_n: Floats,
        water_level_m: float,
        water_density_kg_m3: float,
        wet: bool,
    ) -> PaneJudgement:
        """Judge one state.

        Parameters
        ----------
        nominal_n : (k, 3) contact forces of equal compliance
        water_level_m : 0 without water
        wet : the ground has been flooded: what is above the water still has its pores full
        """
        pressed = self.pressed_by(water_level_m, water_density_kg_m3, wet)
        return self._judged(self.pane.tension(system, loads, nominal_n, pressed))

    def pressed_by(self, water_level_m: float, water_density_kg_m3: float, wet: bool) -> Floats:
        """Deflection vector of water and ground."""
        pressed = self.pane.pressure(water_level_m * water_density_kg_m3 * STANDARD_GRAVITY_M_S2)
        if not self.scene.ground.layers:
            return pressed
        places = self.pane.bent.places()
        ground = ground_pressure_pa(self.scene, places, water_level_m, water_density_kg_m3, wet)
        return pressed + self.pane.pressure(ground)

    def _judged(self, found: Tension) -> PaneJudgement:
        tank = self.scene.tank
        glass = materials.glass(tank.glass)
        support: Literal["rim", "mat"] = "mat" if self.pane.pane.bedding_n_m3 > 0.0 else "rim"
        nominal = float(found.nominal_pa.max())
        limit = np.nan if glass.judged_as is None else self._limit_pa(found.most_at_m)
        used = found.most_pa / limit
        verdict: BaseVerdict
        if glass.judged_as is None:
            verdict, reason = "undetermined", f"{glass.name} glass: {glass.note}"
        elif not np.isfinite(found.most_pa):
            verdict, reason = "undetermined", "nothing bounds the forces on the pane"
        elif used > 1.0:
            verdict, reason = (
                "over the limit",
                f"tension {significant(found.most_pa / PA_PER_MPA)} MPa, limit {limit / PA_PER_MPA:g}",
            )
        elif self.bare:
            verdict, reason = "bare stone on glass", "lay a grid, a sheet or a mat under the stones first"
        else:
            verdict = "marginal" if used > materials.MARGINAL_UTILISATION else "within limits"
            reason = ""
        return PaneJudgement(
            verdict, reason, support, found.most_pa, nominal, limit, used, found.deflection_m, found.most_at_m
        )

    def _limit_pa(self, at_m: Floats) -> float:
        pane, glass = self.pane.pane, materials.glass(self.scene.tank.glass)
        if self.bare:
            return glass.limit_mpa("abraded") * PA_PER_MPA
        edge_m = min(at_m[0], at_m[1], pane.length_m - at_m[0], pane.depth_m - at_m[1])
        near = edge_m < materials.EDGE_ZONE_THICKNESSES * pane.thickness_m
        return glass.limit_mpa("edge" if near else "surface") * PA_PER_MPA
