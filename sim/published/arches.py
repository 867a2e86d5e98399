"""Semicircular arches of separate voussoirs on fixed springings, from the scene file to the report.

Voussoirs are true ring sectors, with joints every 15 degrees and where the published hinges and sliding joints are.
"""

from __future__ import annotations

import functools
from functools import partial
from itertools import pairwise

import numpy as np

from sim.materials.values import MEMORY, PUBLISHED
from sim.published.laying import Laying, box, edge, ring_sector
from sim.published.row import SCENE, Row, Subject, share

COCCHETTI = "Cocchetti & Rizzi 2020, Frattura ed Integrita Strutturale 51, 356-375"
MAKRIS = "Makris & Alexakis 2013, The effect of stereotomy on semicircular masonry arches, Arch. Appl. Mech. 83"
HEYMAN = "Heyman 1966, The stone skeleton, Int. J. Solids Struct. 2, 249-279"

RADIUS_MM, DEPTH_MM, SPRING_MM = 500.0, 30.0, 30.0
MIDDLE_MM = (600.0, 100.0, SPRING_MM)  # of the circle, front face
NO_SLIDING, NATURAL = 100.0, 0.7
HINGES_DEG = (54.4963, 60.5134, 28.6362)  # from the crown: table 3
SLIVER_DEG = 2.0
THICKNESS_OF_ROTATION, THICKNESS_OF_SLIDING = 0.107426, 0.200637


def _joints_deg() -> list[float]:
    published = [sign * angle for angle in HINGES_DEG for sign in (1.0, -1.0)]
    even = [a for a in np.arange(-90.0, 91.0, 15.0) if min(abs(a - other) for other in published) > SLIVER_DEG]
    return sorted(float(angle) for angle in [*even, *published])


def _arch(thickness: float, mu: float) -> Laying:
    inner, outer = RADIUS_MM * (1.0 - thickness / 2.0), RADIUS_MM * (1.0 + thickness / 2.0)
    laying = Laying(inner_mm=(1200, 300, 700))
    for name, left in (("west", MIDDLE_MM[0] - outer - 5.0), ("east", MIDDLE_MM[0] + inner - 5.0)):
        springing = box((left, MIDDLE_MM[1] - 10.0, 0.0), (outer - inner + 10.0, DEPTH_MM + 20.0, SPRING_MM))
        laying.put(name, springing, "density_kg_m3 = 2700\nfixed = true")
    joints = _joints_deg()
    for k, (start, end) in enumerate(pairwise(joints)):
        sector = ring_sector(inner, outer, end - start, DEPTH_MM)
        laying.put(f"v{k:02d}", sector, at_mm=MIDDLE_MM, turn_deg=(start + end) / 2.0)
    laying.rub("granite", "granite", mu)
    return laying


@functools.cache
def least_thickness() -> float:
    """Least thickness over radius of the centreline, where nothing slides."""
    return edge(lambda thickness: _arch(thickness, NO_SLIDING).stands(), 0.1093, 0.1058, 5)


def friction_needed(thickness: float) -> float:
    """Least friction with which an arch stands, by the reserve that its report states."""
    reserve = _arch(thickness, NATURAL).report().states[0].equilibrium.friction_reserve
    return float("nan") if reserve is None else NATURAL / reserve


_THIN = share(2e-3, "halved to 0.05 %, arcs by chords, contacts found to 0.02 mm")
_RUB = share(6e-3, "arcs by chords, contacts found to 0.02 mm; 0.002 in friction")

ARCHES = Subject(
    "Arches",
    (
        Row(COCCHETTI, "table 3, p. 372", "least thickness of a semicircle over its radius, no sliding", "1",
            "0.1074", _THIN, PUBLISHED, SCENE, least_thickness, 4),
        Row(MAKRIS, "abstract", "least thickness of a semicircle over its radius, radial joints", "1", "0.1075",
            _THIN, PUBLISHED, SCENE, least_thickness, 4),
        Row(HEYMAN, "approximate formula", "least thickness of a semicircle over its radius", "1", "0.106",
            share(0.02, "his formula puts the weight on the centreline, 1.4 % from the exact answer"), MEMORY, SCENE,
            least_thickness, 4),
        Row(COCCHETTI, "table 3, p. 372", "friction from which sliding does not matter", "1", "0.395832", _RUB,
            PUBLISHED, SCENE, partial(friction_needed, THICKNESS_OF_ROTATION * 1.001), 4),
        Row(COCCHETTI, "table 3, p. 372", "friction below which no semicircle stands", "1", "0.309215", _RUB,
            PUBLISHED, SCENE, partial(friction_needed, THICKNESS_OF_SLIDING), 4),
    ),
)  # fmt: skip
