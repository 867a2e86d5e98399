"""Light at glass and water: what is let through, what is thrown back, and sensors to catch it.

Every index is relative to air; that of water by temperature and salt is `sim.materials.water_index`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sim.errors import MaterialError
from sim.materials.values import MEMORY, PRACTICE, PUBLISHED, Value, exactly
from sim.materials.water import GLASS_INDEX

Floats = NDArray[np.float64]

REFRACTOMETER = "refractometer scale, 589 nm, relative to air"

WATER_20_C = exactly(1.33299, "1", REFRACTOMETER + ", 20 C", PUBLISHED)
FLOAT_GLASS = Value(GLASS_INDEX, 1.50, 1.53, "1", "soda-lime float glass, 589 nm", MEMORY)

# the blur that still looks sharp, on a 36 x 24 mm sensor; smaller sensors are enlarged more
SHARP_CIRCLE_MM = exactly(0.03, "mm", "published tables of depth of field reckon with it", PUBLISHED)
FULL_FRAME_MM = (36.0, 24.0)
FOREGROUND_SHARE = exactly(0.25, "1", "what stands in front of the main structure, of the depth", PRACTICE)


@dataclass(frozen=True, slots=True)
class Sensor:
    """A usual size of sensor; the crop factor follows from the diagonals."""

    name: str
    width_mm: float
    height_mm: float

    @property
    def crop_factor(self) -> float:
        """How many times the diagonal fits that of 36 x 24 mm."""
        return math.hypot(*FULL_FRAME_MM) / math.hypot(self.width_mm, self.height_mm)


SENSORS = (
    Sensor("full frame", 36.0, 24.0),
    Sensor("APS-C", 23.5, 15.6),
    Sensor("APS-C, small", 22.3, 14.9),
    Sensor("four thirds", 17.3, 13.0),
    Sensor("1 inch", 13.2, 8.8),
)


def sharp_circle_m(sensor_mm: tuple[float, float]) -> float:
    """Blur on the sensor that still looks sharp, metres: 0.03 mm at 36 x 24 mm, in proportion to the diagonal."""
    return SHARP_CIRCLE_MM.default / 1000.0 * math.hypot(*sensor_mm) / math.hypot(*FULL_FRAME_MM)


def fresnel(cosine: ArrayLike, index_from: float, index_to: float) -> tuple[Floats, Floats]:
    """Reflectance of a smooth face for light polarised across (s) and along (p) the plane of incidence.

    Parameters
    ----------
    cosine : (...) of the angle of incidence, 0 to 1
    index_from, index_to : float
        Indices before and behind the face, 1 or more.

    Returns
    -------
    s, p : (...) shares of the light, 1 where it is reflected totally

    References
    ----------
    Born & Wolf, Principles of Optics, section 1.5, equations (20)-(21), from memory.
    """
    if not (index_from >= 1.0 and index_to >= 1.0):
        raise MaterialError(f"indices {index_from:g} and {index_to:g}: give 1 or more, relative to air.")
    cos_in = np.clip(np.abs(np.asarray(cosine, dtype=np.float64)), 0.0, 1.0)
    sine2 = (1.0 - cos_in**2) * (index_from / index_to) ** 2
    total = sine2 >= 1.0
    cos_out = np.sqrt(np.where(total, 0.0, 1.0 - sine2))
    with np.errstate(divide="ignore", invalid="ignore"):
        s = ((index_from * cos_in - index_to * cos_out) / (index_from * cos_in + index_to * cos_out)) ** 2
        p = ((index_to * cos_in - index_from * cos_out) / (index_to * cos_in + index_from * cos_out)) ** 2
    return np.where(total, 1.0, s), np.where(total, 1.0, p)


def face_reflectance(cosine: ArrayLike, index_from: float, index_to: float) -> Floats:
    """Share of unpolarised light that a smooth face throws back; see `fresnel`."""
    s, p = fresnel(cosine, index_from, index_to)
    return np.asarray((s + p) / 2.0)


def slab_reflectance(cosine: ArrayLike, before: float, slab: float, behind: float) -> Floats:
    """Share of unpolarised light that a pane throws back, all reflections inside it summed.

    A pane is thousands of wavelengths thick, so intensities add, for each polarisation by itself:
    R = r1 + (1 - r1)^2 r2 / (1 - r1 r2).

    Parameters
    ----------
    cosine : (...) of the angle of incidence before the pane, 0 to 1
    before, slab, behind : float
        Indices on the side of the light, of the pane, and behind it.
    """
    cos_in = np.clip(np.abs(np.asarray(cosine, dtype=np.float64)), 0.0, 1.0)
    inside = np.sqrt(np.maximum(0.0, 1.0 - (1.0 - cos_in**2) * (before / slab) ** 2))
    both = []
    for first, second in zip(fresnel(cos_in, before, slab), fresnel(inside, slab, behind), strict=True):
        passes = np.where(first < 1.0, (1.0 - first) ** 2 * second / np.maximum(1.0 - first * second, 1e-300), 0.0)
        both.append(np.minimum(1.0, first + passes))
    return np.asarray((both[0] + both[1]) / 2.0)


def critical_angle_rad(index: float) -> float:
    """Angle inside a medium beyond which its face to air reflects totally: asin(1 / n)."""
    if not index >= 1.0:
        raise MaterialError(f"index {index:g}: give 1 or more, relative to air.")
    return math.asin(1.0 / index)


def mirror_limit(index: float) -> float:
    """Largest cosine, in air, between a ray and the normal of a side pane that still is reflected totally.

    A ray with the sideways cosine s in air has s / n in the water; at a pane square to the front pane it is
    reflected totally as long as s is below sqrt(n^2 - 1).
    """
    return math.sqrt(index**2 - 1.0)


def mirror_offset_m(cosine: ArrayLike, pane_m: float, index: float, glass_index: float = GLASS_INDEX) -> Floats:
    """How far behind the inner face of a flooded side pane its mirror plane lies, metres.

    The light is reflected at the outer face of the pane: h = g s / sqrt(ng^2 - nw^2 + s^2).

    Parameters
    ----------
    cosine : (...) in air, of the ray to the normal of the side pane (the value s in `mirror_limit`)
    pane_m : float
        Thickness of the side pane.
    """
    s = np.abs(np.asarray(cosine, dtype=np.float64))
    return np.asarray(pane_m * s / np.sqrt(glass_index**2 - index**2 + s**2))


def apparent_depth_m(depth_m: ArrayLike, index: float) -> Floats:
    """How deep something seems straight behind a flat face: h / n."""
    return np.asarray(np.asarray(depth_m, dtype=np.float64) / index)
