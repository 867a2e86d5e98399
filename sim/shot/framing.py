"""What a lens takes in: angle of view, frames, sharpness, and where to stand so that a pane fills the frame."""

from __future__ import annotations

import math

from scipy.optimize import brentq

from sim.materials import GLASS_INDEX
from sim.units import MM_PER_M

FRAMES = {"3:2": 3 / 2, "4:3": 4 / 3, "16:9": 16 / 9, "1:1": 1.0}
MOST_STEPS = 60


def frame_m(sensor_mm: tuple[float, float], crop: str) -> tuple[float, float]:
    """Width and height, metres, of the largest frame of a shape ('sensor', '3:2', ...) that fits on a sensor."""
    width, height = sensor_mm[0] / MM_PER_M, sensor_mm[1] / MM_PER_M
    if crop == "sensor":
        return width, height
    shape = FRAMES[crop]
    return (height * shape, height) if width > height * shape else (width, width / shape)


def angle_of_view_rad(side_m: float, image_m: float) -> float:
    """Angle of view over one side (or the diagonal) of the frame: 2 atan(d / 2 f)."""
    return 2.0 * math.atan(side_m / 2.0 / image_m)


def lengthened_m(focal_m: float, focus_m: float) -> float:
    """Image distance f s / (s - f) of a thin lens focused at s; s may be infinite."""
    return focal_m if math.isinf(focus_m) else focal_m * focus_m / (focus_m - focal_m)


def depth_of_field_m(focal_m: float, aperture: float, circle_m: float, focus_m: float) -> tuple[float, float]:
    """Nearest and farthest distance in air that still looks sharp; the farthest may be infinite.

    With the hyperfocal distance H = f^2 / (N c) + f: near = s (H - f) / (H + s - 2 f), far = s (H - f) / (H - s).
    """
    hyperfocal = hyperfocal_m(focal_m, aperture, circle_m)
    near = focus_m * (hyperfocal - focal_m) / (hyperfocal + focus_m - 2.0 * focal_m)
    far = focus_m * (hyperfocal - focal_m) / (hyperfocal - focus_m) if focus_m < hyperfocal else math.inf
    return near, far


def hyperfocal_m(focal_m: float, aperture: float, circle_m: float) -> float:
    """Focus beyond which everything far away looks sharp: f^2 / (N c) + f."""
    return focal_m**2 / (aperture * circle_m) + focal_m


def stand_to_fill(
    pane_m: tuple[float, float],
    glass_m: float,
    focal_m: float,
    frame: tuple[float, float],
    focus_beyond_m: float = 0.0,
    focus_m: float | None = None,
    glass_index: float = GLASS_INDEX,
) -> float | None:
    """Distance from lens to the front pane's outer face at which the pane's inner face fills the frame.

    The camera stands square-on before the middle. 'Fills': its corners touch the frame on two
    opposite sides, and nothing of it is cut off. The corners are seen through the glass.

    Parameters
    ----------
    pane_m : width and height of the inner face
    glass_m : thickness of the front pane
    frame : width and height of the frame, metres
    focus_beyond_m : what is sharp lies that far behind the outer face
    focus_m : focus of the lens, when it is not to follow the camera

    Returns
    -------
    distance_m : float, or None when there is no such place in front of the pane
    """
    ratio = max(pane_m[0] / frame[0], pane_m[1] / frame[1])
    half_diagonal = math.hypot(*pane_m) / 2.0

    def missing(distance: float) -> float:
        image = lengthened_m(focal_m, focus_m if focus_m is not None else distance + focus_beyond_m)
        return distance - ratio * image + _glass_seems_m(half_diagonal / (ratio * image), glass_m, glass_index)

    nearest = 1e-4 if focus_m is not None else max(1e-4, (focal_m - focus_beyond_m) * (1.0 + 1e-6) + 1e-9)
    farthest = 4.0 * (ratio + 2.0) * focal_m + 1.0
    if missing(nearest) > 0.0:
        return None
    if missing(farthest) < 0.0:
        farthest = ratio * lengthened_m(focal_m, focus_m or farthest) * 2.0
    return float(brentq(missing, nearest, farthest, xtol=1e-13, rtol=1e-14))


def lens_to_fill(
    pane_m: tuple[float, float],
    glass_m: float,
    distance_m: float,
    frame: tuple[float, float],
    focus_m: float,
    glass_index: float = GLASS_INDEX,
) -> float:
    """Focal length, metres, with which the front pane fills the frame from a distance; see `stand_to_fill`."""
    ratio = max(pane_m[0] / frame[0], pane_m[1] / frame[1])
    half_diagonal = math.hypot(*pane_m) / 2.0
    reach = distance_m
    for _ in range(MOST_STEPS):
        reach = distance_m + _glass_seems_m(half_diagonal / reach, glass_m, glass_index)
    image = reach / ratio
    return image * focus_m / (image + focus_m)


def _glass_seems_m(tangent: float, glass_m: float, glass_index: float) -> float:
    """How thick the pane seems to a ray with that tangent in air."""
    return glass_m / math.sqrt(glass_index**2 + (glass_index**2 - 1.0) * tangent**2)
