"""Water and glass in the picture: a little haze with distance, the water's line on the pane, the tint of the pane."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sim.materials.clearness import GLASS_PER_M
from sim.shot.panes import Basin
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


def through_pane(light: Floats, entry_m: Floats, basin: Basin) -> Floats:
    """Tint light that came in through a pane, not over the rim."""
    with np.errstate(invalid="ignore"):
        glazed = entry_m[:, 2] < basin.height_m
    light[glazed] *= np.exp(-np.array(GLASS_PER_M) * basin.side_m)
    return light
