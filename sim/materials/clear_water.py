"""What clear water does to colours: how much red, green and blue it takes per metre."""

from __future__ import annotations

from sim.materials.values import MEMORY, exactly

POPE_FRY = "Pope & Fry 1997, Absorption spectrum (380-700 nm) of pure water, Applied Optics 36(33):8710-8723"

RED = exactly(0.2755, "1/m", POPE_FRY + ", 610 nm, rounded", MEMORY)
GREEN = exactly(0.0565, "1/m", POPE_FRY + ", 550 nm", MEMORY)
BLUE = exactly(0.00979, "1/m", POPE_FRY + ", 460 nm", MEMORY)

ABSORPTION_PER_M = (RED.default, GREEN.default, BLUE.default)
