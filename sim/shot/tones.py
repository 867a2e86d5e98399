"""From linear light to what a picture can show."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sim.compiling import compiled

Floats = NDArray[np.float64]

SHOULDER = 0.62  # light up to here is shown as it is; above it is compressed and never clips
EXPOSURE = 1.0


@compiled  # type: ignore[untyped-decorator]
def _developed(light: Floats) -> None:
    room = 1.0 - SHOULDER
    for i in range(light.size):
        value = max(light[i], 0.0) * EXPOSURE
        if value > SHOULDER:
            value = SHOULDER + room * (value - SHOULDER) / (value - SHOULDER + room)
        # IEC 61966-2-1
        light[i] = value * 12.92 if value <= 0.0031308 else 1.055 * value ** (1 / 2.4) - 0.055


def developed(light: Floats) -> Floats:
    """Linear light (...) of any strength as sRGB values from 0 to 1; the highlights roll off and never clip."""
    shown = light.copy()
    _developed(shown.reshape(-1))
    return shown
