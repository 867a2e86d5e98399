"""Lifting by hand: constants and tables of the revised NIOSH lifting equation, and our own household limits."""

from __future__ import annotations

import math
from typing import Literal

from sim.errors import MaterialError
from sim.materials.values import JUDGEMENT, PUBLISHED, exactly

NIOSH = (
    "Waters, Putz-Anderson & Garg 1994, Applications Manual for the Revised NIOSH Lifting Equation, DHHS (NIOSH) "
    "94-110, rev. 9/2021"
)

LOAD_CONSTANT_KG = exactly(23.0, "kg", NIOSH, PUBLISHED)
TWO_PEOPLE_KG = exactly(15.0, "kg", "over a rim: two people, a sling, or built in place; our estimate", JUDGEMENT)
NEVER_ALONE_KG = exactly(25.0, "kg", "our estimate, beside the 25 kg of ISO 11228-1 (from memory)", JUDGEMENT)

Coupling = Literal["good", "fair", "poor"]
Duration = Literal["1 h", "2 h", "8 h"]

# lifts per minute: .2 .5 1 2 ... 15
_RATES = (0.2, 0.5, *range(1, 16))
_UNTIL_75_CM: dict[str, tuple[float, ...]] = {
    "1 h": (1.00, 0.97, 0.94, 0.91, 0.88, 0.84, 0.80, 0.75, 0.70, 0.60, 0.52, 0.45, 0.41, 0.37, 0.0, 0.0, 0.0),
    "2 h": (0.95, 0.92, 0.88, 0.84, 0.79, 0.72, 0.60, 0.50, 0.42, 0.35, 0.30, 0.26, 0.0, 0.0, 0.0, 0.0, 0.0),
    "8 h": (0.85, 0.81, 0.75, 0.65, 0.55, 0.45, 0.35, 0.27, 0.22, 0.18, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0),
}
_FROM_75_CM: dict[str, dict[int, float]] = {
    "1 h": {13: 0.34, 14: 0.31, 15: 0.28},
    "2 h": {11: 0.23, 12: 0.21},
    "8 h": {9: 0.15, 10: 0.13},
}
_COUPLING: dict[str, tuple[float, float]] = {"good": (1.0, 1.0), "fair": (0.95, 1.0), "poor": (0.90, 0.90)}


def recommended_weight_kg(
    reach_cm: float,
    height_cm: float,
    travel_cm: float,
    turn_deg: float = 0.0,
    lifts_per_min: float = 0.2,
    duration: Duration = "1 h",
    coupling: Coupling = "poor",
) -> float:
    """Recommended weight limit at one end of a lift, kg: LC HM VM DM AM FM CM.

    Parameters
    ----------
    reach_cm : float
        H, hands from the middle between the ankles; under 25 counts as 25, over 63 gives 0.
    height_cm : float
        V, hands above the floor, 0 to 175.
    travel_cm : float
        D, vertical way of the hands, 25 to 175; less counts as 25.
    turn_deg : float
        A, away from straight ahead, 0 to 135.
    lifts_per_min : float
        F; under 0.2 counts as 0.2, over 15 gives 0.
    duration, coupling
        How long the work lasts, and how well the load can be gripped.

    References
    ----------
    NIOSH 94-110, equation and tables 5 and 7.
    """
    if min(reach_cm, height_cm, travel_cm, turn_deg, lifts_per_min) < 0.0 or not math.isfinite(reach_cm + height_cm):
        raise MaterialError("lifting: distances, angle and rate cannot be negative.")
    reach = 0.0 if reach_cm > 63.0 else 25.0 / max(reach_cm, 25.0)
    height = 0.0 if height_cm > 175.0 else 1.0 - 0.003 * abs(height_cm - 75.0)
    travel = 0.0 if travel_cm > 175.0 else 0.82 + 4.5 / max(travel_cm, 25.0)
    turn = 0.0 if turn_deg > 135.0 else 1.0 - 0.0032 * turn_deg
    grip = _COUPLING[coupling][0 if height_cm < 75.0 else 1]
    rate = frequency_multiplier(lifts_per_min, duration, height_cm)
    return LOAD_CONSTANT_KG.default * reach * height * min(travel, 1.0) * turn * rate * grip


def frequency_multiplier(lifts_per_min: float, duration: Duration, height_cm: float) -> float:
    """FM, of the next higher rate in the table. NIOSH 94-110, table 5."""
    if lifts_per_min > _RATES[-1]:
        return 0.0
    index = next(k for k, rate in enumerate(_RATES) if lifts_per_min <= rate)
    if height_cm >= 75.0:
        above = _FROM_75_CM[duration].get(int(_RATES[index]))
        if above is not None:
            return above
    return _UNTIL_75_CM[duration][index]
