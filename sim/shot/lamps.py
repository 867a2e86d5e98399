"""The light of a shot: a lamp over the tank, a sheet lit from behind, and a dim room in front."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

LAMP_OVER_M = 0.18  # above the rim
LAMP_SHARE = (0.62, 0.30)  # of the tank's length and depth
LAMP_FORWARD = 0.36  # where its middle is, of the depth: a little in front, so that faces are lit
LAMP_RGB = np.array([1.00, 0.97, 0.92]) * 2.6
SKY_RGB = np.array([0.92, 0.97, 1.00]) * 0.52
FRONT_RGB = np.array([1.00, 0.97, 0.94]) * 0.34
BACK_RGB = np.array([0.96, 0.99, 1.00]) * 0.55
ROOM_RGB = np.array([0.055, 0.057, 0.060])  # seen from the tank, in front and beside


def lamp_corners_m(inner_m: Floats) -> Floats:
    """Two corners (2, 3) of the lamp over a tank of inner size (3,)."""
    length, depth, height = inner_m
    middle = np.array([length / 2.0, depth * LAMP_FORWARD, height + LAMP_OVER_M])
    half = np.array([LAMP_SHARE[0] * length / 2.0, LAMP_SHARE[1] * depth / 2.0, 0.0])
    return np.stack([middle - half, middle + half])
