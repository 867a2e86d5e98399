"""Lifting a piece or a glued module over the rim into its place, by the revised NIOSH equation.

The load is taken up beside the tank and set down under control at arm's length behind the front pane, so both ends
count and the lower limit holds.
"""

from __future__ import annotations

from dataclasses import dataclass

from sim import materials
from sim.scene import Scene

TABLE_CM = 75.0  # where a stone waits: a table beside the tank
BODY_CM = 20.0  # from the ankles to the front pane when standing against it
STAND_CM = 75.0  # height of the tank's underside where the scene gives none


@dataclass(frozen=True, slots=True)
class Lift:
    """One lift."""

    limit_kg: float  # recommended weight limit, the lower of both ends; 0: beyond the method
    index: float  # load over limit; inf where the limit is 0
    advice: str  # empty where one person may do it


def lift_over_rim(scene: Scene, mass_kg: float, y_mm: float, z_mm: float) -> Lift:
    """Judge one lift to a place in the tank.

    Parameters
    ----------
    mass_kg : of the dry piece or module
    y_mm, z_mm : its middle behind the front pane and above the base glass

    References
    ----------
    NIOSH 94-110, see `sim.materials.recommended_weight_kg`. It covers no wet or sharp loads and no reach over a rim:
    take the index as a lower bound.
    """
    tank = scene.tank
    underside_cm = STAND_CM if tank.stand.height_mm is None else tank.stand.height_mm / 10.0
    rim_cm = underside_cm + (tank.base_mm + tank.inner_mm[2]) / 10.0
    goal_cm = underside_cm + (tank.base_mm + z_mm) / 10.0
    reach_cm = BODY_CM + y_mm / 10.0
    travel_cm = max(rim_cm - TABLE_CM, rim_cm - goal_cm, 0.0)
    origin = materials.recommended_weight_kg(BODY_CM + 5.0, TABLE_CM, travel_cm)
    over = materials.recommended_weight_kg(reach_cm, max(goal_cm, 0.0), travel_cm)
    limit = min(origin, over)
    index = mass_kg / limit if limit > 0.0 else float("inf")
    return Lift(limit, index, _advice(mass_kg, index))


def _advice(mass_kg: float, index: float) -> str:
    if mass_kg > materials.NEVER_ALONE_KG.default:
        return "never alone: two people and a sling, or build it in place"
    if mass_kg > materials.TWO_PEOPLE_KG.default or 1.0 < index < float("inf"):
        return "two people, a sling, or in parts"
    return "" if index < float("inf") else "farther than the method reaches: come nearer, or set it down with tongs"
