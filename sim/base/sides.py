"""Do the side panes carry what leans on them, and the water? Front, back, left and right, against a pane's limit.

Each is a plate held along its bottom and its two upright edges; its top is free unless braces or a cover's frame hold
it. Water presses from inside, ``rho g (level - z)``, and so does ground, at rest. Glass of the sides is not stated in a
scene: it is judged as annealed glass.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sim import materials
from sim.base.ground import layer_depth_m
from sim.base.plate import Pane
from sim.base.tension import PressedPane, Tension, outlines_on
from sim.contact import PANES, PLANE_NAMES, Contacts
from sim.scene import Scene
from sim.statics import Loads, System, bracket
from sim.units import MM_PER_M, PA_PER_MPA, STANDARD_GRAVITY_M_S2, significant

Floats = NDArray[np.float64]

SideVerdict = Literal["within limits", "marginal", "over the limit", "bare stone on glass", "undetermined"]

LEAST_THRUST_N = 1.0e-3  # less is none: the solver's own noise
GLASS = "annealed"


@dataclass(frozen=True, slots=True, eq=False)
class SideJudgement:
    """What one state does to one side pane."""

    pane: str  # 'left pane', 'right pane', 'front pane' or 'back pane'
    verdict: SideVerdict
    reason: str
    top_held: bool
    thrust_n: float  # normal forces of all that leans on it, of loading alone
    most_thrust_n: float  # over all admissible forces; inf where nothing bounds it
    tension_pa: float  # over all admissible forces; nan where unknown
    nominal_pa: float
    limit_pa: float
    utilisation: float
    deflection_m: float
    at_m: Floats  # (3,) in the tank's frame


def side_pane_of(scene: Scene, plane: int) -> Pane:
    """A side pane: x along its bottom, y upward. `plane`: one of `sim.contact.PANES`."""
    tank, kind = scene.tank, materials.glass(GLASS)
    length_m, depth_m, height_m = (side / MM_PER_M for side in tank.inner_mm)
    width_m = depth_m if _upright(plane) else length_m
    top: Literal["held", "free"] = "held" if top_is_held(scene) else "free"
    return Pane(
        width_m,
        height_m,
        tank.side_mm / MM_PER_M,
        kind.youngs_pa.default,
        kind.poisson.default,
        edges=("held", "held", "held", top),
    )


def top_is_held(scene: Scene) -> bool:
    """Whether braces or a frame run along all four edges of the rim."""
    length_mm, depth_mm, _ = scene.tank.inner_mm
    x_from, y_from, _, _ = scene.tank.opening_box_mm
    return x_from > 0.0 and y_from > 0.0 and min(length_mm, depth_mm) > 0.0


def _upright(plane: int) -> bool:
    """Whether the pane stands along the tank's depth: left and right."""
    return plane in PANES[:2]


class SideJudge:
    """The four side panes of one stage, for as many states as are asked for."""

    def __init__(self, scene: Scene, contacts: Contacts, stones: list[bool]) -> None:
        """Bend them. `stones`: for each piece whether it is one, and hard on glass."""
        self.scene, self.panes = scene, {}
        self.bare: dict[int, bool] = {}
        for plane in PANES:
            on_pane = contacts.b == plane
            axes = [1, 2] if _upright(plane) else [0, 2]
            outlines = outlines_on(contacts, plane, axes)
            self.panes[plane] = PressedPane(side_pane_of(scene, plane), outlines, 0.0, plane)
            self.bare[plane] = any(stones[int(piece)] for piece in contacts.a[on_pane])

    def answers(
        self,
        system: System,
        loads: Loads,
        nominal_n: Floats,
        water_level_m: float,
        water_density_kg_m3: float,
        wet: bool,
    ) -> list[SideJudgement]:
        """Judge one state; arguments as those of `BaseJudge.answer`."""
        found = []
        for plane, pressed in self.panes.items():
            places = pressed.bent.places()
            pressure = water_pressure_pa(places[:, 1], water_level_m, water_density_kg_m3)
            pressure += ground_thrust_pa(self.scene, plane, places, water_level_m, water_density_kg_m3, wet)
            tension = pressed.tension(system, loads, nominal_n, pressed.pressure(pressure))
            thrust = self._thrust(plane, system, loads, nominal_n)
            found.append(self._judged(plane, tension, *thrust))
        return found

    def _thrust(self, plane: int, system: System, loads: Loads, nominal_n: Floats) -> tuple[float, float]:
        """Normal forces on a pane: of loading alone, and the most of all admissible ones."""
        on_pane = system.contacts.b == plane
        if not on_pane.any():
            return 0.0, 0.0
        objective = np.zeros((len(on_pane), 3))
        objective[on_pane, 0] = 1.0
        return float(nominal_n[on_pane, 0].sum()), bracket(system, loads, objective).most

    def _judged(self, plane: int, found: Tension, thrust_n: float, most_n: float) -> SideJudgement:
        pane = self.panes[plane].pane
        leaning = self.bare[plane] and (thrust_n > LEAST_THRUST_N or not most_n <= LEAST_THRUST_N)
        limit = self._limit_pa(pane, found.most_at_m, leaning)
        used = found.most_pa / limit
        verdict: SideVerdict
        if not np.isfinite(found.most_pa):
            words = f"by loading alone it would be {found.nominal_pa.max() / PA_PER_MPA:.2g} MPa"
            verdict, reason = "undetermined", f"it stands between panes and nothing bounds its thrust; {words}"
        elif used > 1.0:
            words = f"tension {significant(found.most_pa / PA_PER_MPA)} MPa, limit {limit / PA_PER_MPA:g}"
            verdict, reason = "over the limit", words
        elif leaning:
            verdict, reason = (
                "bare stone on glass",
                "put soft sheet between stone and pane, or keep it clear of the pane",
            )
        else:
            verdict, reason = "marginal" if used > materials.MARGINAL_UTILISATION else "within limits", ""
        nominal = float(found.nominal_pa.max())
        return SideJudgement(
            pane=PLANE_NAMES[plane],
            verdict=verdict,
            reason=reason,
            top_held=pane.edges[3] == "held",
            thrust_n=thrust_n,
            most_thrust_n=most_n,
            tension_pa=found.most_pa,
            nominal_pa=nominal,
            limit_pa=limit,
            utilisation=used,
            deflection_m=found.deflection_m,
            at_m=self._in_tank(plane, found.most_at_m),
        )

    def _limit_pa(self, pane: Pane, at_m: Floats, leaning: bool) -> float:
        kind = materials.glass(GLASS)
        if leaning:
            return kind.limit_mpa("abraded") * PA_PER_MPA
        edge_m = min(at_m[0], at_m[1], pane.length_m - at_m[0], pane.depth_m - at_m[1])
        near = edge_m < materials.EDGE_ZONE_THICKNESSES * pane.thickness_m
        return kind.limit_mpa("edge" if near else "surface") * PA_PER_MPA

    def _in_tank(self, plane: int, at_m: Floats) -> Floats:
        length_m, depth_m, _ = (side / MM_PER_M for side in self.scene.tank.inner_mm)
        across = {PANES[0]: 0.0, PANES[1]: length_m, PANES[2]: 0.0, PANES[3]: depth_m}[plane]
        return np.array([across, *at_m] if _upright(plane) else [at_m[0], across, at_m[1]])


def water_pressure_pa(heights_m: Floats, level_m: float, density_kg_m3: float) -> Floats:
    """Pressure (k,) of water standing at a level, at heights (k,) above the base: never negative."""
    return np.maximum(level_m - heights_m, 0.0) * density_kg_m3 * STANDARD_GRAVITY_M_S2


def ground_thrust_pa(
    scene: Scene, plane: int, places_m: Floats, water_level_m: float, water_density_kg_m3: float, wet: bool
) -> Floats:
    """Pressure (k,) of the ground at rest on a side pane, beside that of the water, at places (k, 2) along and up.

    ``K0`` of the effective vertical stress, ``K0 = 1 - sin(angle of repose)``.

    References
    ----------
    Jaky, J. (1944). The coefficient of earth pressure at rest (from memory).
    """
    length_m, depth_m, _ = (side / MM_PER_M for side in scene.tank.inner_mm)
    along, z = places_m.T
    fixed = {PANES[0]: 0.0, PANES[1]: length_m, PANES[2]: 0.0, PANES[3]: depth_m}[plane]
    level = np.full_like(along, fixed)
    plan = np.column_stack([level, along] if _upright(plane) else [along, level])
    depths = [layer_depth_m(layer, scene, plan) for layer in scene.ground.layers]
    pressure, stress, top = np.zeros(len(z)), np.zeros(len(z)), np.sum(depths, axis=0) if depths else np.zeros(len(z))
    for layer, depth in reversed(list(zip(scene.ground.layers, depths, strict=True))):
        kind, bottom = materials.ground(layer.material), top - depth
        above_kg_m3 = kind.flooded_kg_m3.default if wet else kind.dry_kg_m3.default
        share = np.clip(z, bottom, top)  # what of the layer lies over this height
        drowned = np.clip(np.minimum(top, water_level_m) - share, 0.0, None)
        own = drowned * (kind.flooded_kg_m3.default - water_density_kg_m3) + (top - share - drowned) * above_kg_m3
        stress = stress + own * STANDARD_GRAVITY_M_S2
        at_rest = 1.0 - np.sin(np.radians(kind.repose_deg.default))
        pressure = np.where((z >= bottom) & (z < top), at_rest * stress, pressure)
        top = bottom
    return pressure
