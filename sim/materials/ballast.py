"""Ballast for wood that floats: how far the stone's weight in water must exceed the wood's lift."""

from __future__ import annotations

from sim.materials.values import JUDGEMENT, Value, exactly
from sim.units import STANDARD_GRAVITY_M_S2

BALLAST_FACTOR = Value(
    1.5, 1.5, 2.0, "1", "stone's weight in water over the lift of dry wood, soaking left out; our estimate", JUDGEMENT
)
BALLAST_STONE_KG_M3 = exactly(2600.0, "kg/m3", "stone to buy where the scene has none; our estimate", JUDGEMENT)


def stone_to_hold_kg(
    lift_n: float, stone_kg_m3: float, water_kg_m3: float, factor: float = BALLAST_FACTOR.default
) -> float:
    """Dry mass of stone, covered by water, that holds wood down, kg.

    ``m = SF lift / g / (1 - rho_w / rho_stone)``; for covered wood ``lift = V (rho_w - rho_wood) g``.

    Parameters
    ----------
    lift_n : net, buoyancy less the wood's own weight, N; 0 or more
    stone_kg_m3 : density of the stone, above that of the water; of porous stone that of the soaked lump
    water_kg_m3 : density of the water
    factor : weight of the stone in water over the lift

    Returns
    -------
    float
        inf for stone that is no heavier than water.
    """
    if stone_kg_m3 <= water_kg_m3:
        return float("inf") if lift_n > 0.0 else 0.0
    return factor * lift_n / STANDARD_GRAVITY_M_S2 / (1.0 - water_kg_m3 / stone_kg_m3)
