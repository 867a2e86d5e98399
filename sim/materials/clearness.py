"""What clear water and ordinary glass do to colours: how much red, green and blue they take per metre."""

from __future__ import annotations

from sim.materials.values import JUDGEMENT, MEMORY, exactly

POPE_FRY = "Pope & Fry 1997, Absorption spectrum (380-700 nm) of pure water, Applied Optics 36(33):8710-8723"

RED = exactly(0.2755, "1/m", POPE_FRY + ", 610 nm, rounded", MEMORY)
GREEN = exactly(0.0565, "1/m", POPE_FRY + ", 550 nm", MEMORY)
BLUE = exactly(0.00979, "1/m", POPE_FRY + ", 460 nm", MEMORY)

FLOAT_GLASS = "our estimate for float glass: its iron turns it green, some 2 to 5 % per 10 mm"

GLASS_RED = exactly(4.5, "1/m", FLOAT_GLASS, JUDGEMENT)
GLASS_GREEN = exactly(2.0, "1/m", FLOAT_GLASS, JUDGEMENT)
GLASS_BLUE = exactly(3.5, "1/m", FLOAT_GLASS, JUDGEMENT)

WATER_PER_M = (RED.default, GREEN.default, BLUE.default)
GLASS_PER_M = (GLASS_RED.default, GLASS_GREEN.default, GLASS_BLUE.default)
