"""Floors: what they carry by standard, and our own bands for a tank on them."""

from __future__ import annotations

from sim.materials.values import JUDGEMENT, MEMORY, PUBLISHED, Value, exactly

EN_1991 = "EN 1991-1-1:2002, table 6.2, category A floors; recommended values, from memory"

FLOOR_LOAD_KPA = Value(2.0, 1.5, 2.0, "kPa", EN_1991, MEMORY)  # q_k
FLOOR_POINT_KN = Value(2.0, 2.0, 3.0, "kN", EN_1991, MEMORY)  # Q_k
US_LIVING_KPA = exactly(1.92, "kPa", "ASCE 7 / IRC R301.5, 40 psf, secondary copy", PUBLISHED)

BANDS = "our bands: up to 1 kN fine on most floors, beyond 2 kN a structural engineer"
SMALL_TANK_KN = exactly(1.0, "kN", BANDS, JUDGEMENT)
LARGE_TANK_KN = exactly(2.0, "kN", BANDS, JUDGEMENT)
STRIP_M = exactly(0.5, "m", "free strip around a tank over which its load is spread: our estimate", JUDGEMENT)
LEGS_CARRYING = exactly(3.0, "1", "one leg of four may be short: every leg for a third of the total; ours", JUDGEMENT)
PERMANENT_FACTOR = exactly(1.35, "1", "EN 1990, 6.10, permanent loads; from memory", MEMORY)
TALL_STAND = exactly(2.0, "1", "height over depth of a stand from which it is fixed to the wall: ours", JUDGEMENT)
