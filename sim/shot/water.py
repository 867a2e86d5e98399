"""The water in the picture: a little haze with distance, and its line on the front pane."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sim.shot.trace import Ends

Floats = NDArray[np.float64]

HAZE_PER_M = 0.16  # light scattered into the view per metre, by eye: filtered, not distilled, water
HAZE_RGB = np.array([0.50, 0.62, 0.66])
LINE_M = 0.0016  # height of the rim of water drawn up the glass: some 2 mm at clean glass
LINE_LIGHT = 0.45


def through_water(colours: Floats, ends: Ends) -> Floats:
    """Colours (m, 3) as they come out of the tank: weakened by the way, with haze before them."""
    clear = np.exp(-HAZE_PER_M * ends.water_m)[:, None]
    return np.asarray(ends.light * (colours * clear + HAZE_RGB * (1.0 - clear)))


def water_line(light: Floats, entry_m: Floats, level_m: float) -> Floats:
    """Draw the line where the surface meets the front pane: dark, because it bends light away."""
    if level_m <= 0.0:
        return light
    above = entry_m[:, 2] - level_m
    with np.errstate(invalid="ignore"):
        on_line = (above > -0.3 * LINE_M) & (above < LINE_M)
    light[on_line] *= LINE_LIGHT
    return light
