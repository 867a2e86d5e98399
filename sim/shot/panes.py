"""What a flat pane or the water's surface does to a ray: Snell's directions and Fresnel's shares.

Glossary
--------
slab : a glass pane between two media, both its faces counted, without interference
total : reflection of all light, where Snell's law has no direction for the ray beyond
"""

from __future__ import annotations

import math
from typing import NamedTuple

from sim.compiling import inner


class Basin(NamedTuple):
    """The tank as a ray meets it; lengths in metres, indices relative to air."""

    length_m: float  # inner, x
    depth_m: float  # inner, y
    height_m: float  # inner, z
    side_m: float  # thickness of front, back and side panes
    base_m: float
    level_m: float  # surface of the water above the base; 0: dry
    water_n: float
    glass_n: float
    film_left: bool
    film_right: bool
    film_back: bool
    seam_m: float  # width of the silicone along an inner edge, measured on each pane


@inner  # type: ignore[untyped-decorator]
def interface_shares(n_from: float, n_to: float, cosine: float) -> tuple[float, float]:
    """Share reflected at one face, for light polarised across and along the plane of incidence."""
    sine_beyond = n_from / n_to * math.sqrt(max(0.0, 1.0 - cosine * cosine))
    if sine_beyond >= 1.0:
        return 1.0, 1.0
    beyond = math.sqrt(1.0 - sine_beyond * sine_beyond)
    across = (n_from * cosine - n_to * beyond) / (n_from * cosine + n_to * beyond)
    along = (n_to * cosine - n_from * beyond) / (n_to * cosine + n_from * beyond)
    return across * across, along * along


@inner  # type: ignore[untyped-decorator]
def surface_share(n_from: float, n_to: float, cosine: float) -> float:
    """Share of unpolarised light reflected at one face; 1 where it is total.

    Parameters
    ----------
    n_from, n_to : float
        Indices on the side of the ray and beyond.
    cosine : float
        Of the angle between ray and normal, 0 to 1.
    """
    across, along = interface_shares(n_from, n_to, cosine)
    share: float = 0.5 * (across + along)
    return share


@inner  # type: ignore[untyped-decorator]
def slab_share(n_inside: float, glass_n: float, cosine: float) -> float:
    """Share of unpolarised light that a pane with air behind it reflects; 1 where it is total.

    Both faces and all returns between them, summed as intensities:
    R = r1 + (1 - r1)^2 r2 / (1 - r1 r2), for each polarisation.

    Parameters
    ----------
    n_inside : float
        Index on the side of the ray: water or air.
    cosine : float
        Of the angle between ray and normal on that side, 0 to 1.
    """
    sine = n_inside * math.sqrt(max(0.0, 1.0 - cosine * cosine))
    if sine >= 1.0:
        return 1.0
    in_glass = math.sqrt(1.0 - (sine / glass_n) ** 2)
    near = interface_shares(n_inside, glass_n, cosine)
    far = interface_shares(glass_n, 1.0, in_glass)
    total = 0.0
    for one, two in ((near[0], far[0]), (near[1], far[1])):
        total += one + (1.0 - one) ** 2 * two / max(1.0 - one * two, 1e-12)
    return 0.5 * total


@inner  # type: ignore[untyped-decorator]
def glass_reach(n_inside: float, glass_n: float, cosine: float) -> float:
    """Length that a ray runs sideways in glass, per thickness and per sideways part of its direction before.

    For a unit direction with sideways part q and that cosine: n q / sqrt(ng^2 - n^2 (1 - cosine^2)) per thickness;
    this is the factor of q.
    """
    sine2 = n_inside * n_inside * (1.0 - cosine * cosine)
    return n_inside / math.sqrt(max(glass_n * glass_n - sine2, 1e-12))
