"""Volume, centre and inertia of bodies against closed forms."""

from __future__ import annotations

import functools
from functools import partial

import numpy as np
import trimesh
from numpy.typing import NDArray

from sim.materials.values import COMPUTED, MEMORY
from sim.pieces.mass import MassProperties, mass_properties
from sim.published.laying import Laying, prism
from sim.published.row import FUNCTION, SCENE, Row, Subject, share
from sim.states import Filling, Report

TONON = "Tonon 2004, Inertia tensor of a tetrahedron, J. Math. Stat. 1(1), 8-11"
BEER = "Beer & Johnston, Vector Mechanics for Engineers"

WORKED = share(5e-8, "the paper rounds on its way, 1.6e-8 for each of its six numbers")
EXACT = share(1e-4, "rounding of the printed number")
CORNERS = np.array(
    [[8.33220, -11.86875, 0.93355], [0.75523, 5.0, 16.37072], [52.61236, 5.0, -5.38580], [2.0, 5.0, 3.0]]
)
OUTWARD = np.array([[0, 2, 1], [0, 3, 2], [0, 1, 3], [1, 2, 3]])


@functools.cache
def _tetrahedron() -> MassProperties:
    return mass_properties(CORNERS, OUTWARD)


def tetrahedron(row: int, column: int) -> float:
    """Moment of inertia, or off the diagonal the product, whose sign the tensor turns round."""
    value = float(_tetrahedron().inertia_m5[row, column])
    return value if row == column else -value


def _of(mesh: trimesh.Trimesh, stretch: NDArray[np.float64]) -> MassProperties:
    return mass_properties(np.asarray(mesh.vertices) * stretch, np.asarray(mesh.faces))


def ellipsoid(which: str) -> float:
    """Half-axes 60, 45 and 30 mm: volume in ml, inertia about the first axis over volume in mm2."""
    found = _of(trimesh.creation.icosphere(subdivisions=5), np.array([0.06, 0.045, 0.03]))
    return found.volume_m3 * 1e6 if which == "volume" else float(found.inertia_m5[0, 0]) / found.volume_m3 * 1e6


def torus(which: str) -> float:
    """Radii 50 and 18 mm: volume in ml, inertia about the axis over volume in mm2."""
    found = _of(trimesh.creation.torus(0.05, 0.018, major_sections=192, minor_sections=192), np.ones(3))
    return found.volume_m3 * 1e6 if which == "volume" else float(found.inertia_m5[2, 2]) / found.volume_m3 * 1e6


@functools.cache
def _wedge() -> Report:
    """A right-angled wedge of granite, legs of 90 and 60 mm, 50 mm deep, its right angle at x 400 mm on the base."""
    laying = Laying()
    laying.put("wedge", prism([(400, 0), (490, 0), (400, 60)], 200, 250))
    return laying.report((Filling.AIR,))


def wedge(which: str) -> float:
    """Mass in kg, and the centre's x and z in mm from its right angle."""
    (piece,) = _wedge().pieces
    return {"mass": piece.mass_kg, "x": piece.centre_mm[0] - 400.0, "z": piece.centre_mm[2]}[which]


def _worked(what: str, number: str, row: int, column: int) -> Row:
    return Row(TONON, "worked example", f"{what} of a tetrahedron", "length^5", number, WORKED, MEMORY, FUNCTION,
               partial(tetrahedron, row, column), 2)  # fmt: skip


def _round(what: str, unit: str, number: str, percent: float, compute: partial[float]) -> Row:
    return Row(BEER, "inside cover", what, unit, number, share(percent / 100.0, "facets of the mesh"), MEMORY, FUNCTION,
               compute)  # fmt: skip


BODIES = Subject(
    "Bodies",
    (
        _worked("moment about x", "43520.33257", 0, 0),
        _worked("moment about y", "194711.28938", 1, 1),
        _worked("moment about z", "191168.76173", 2, 2),
        _worked("product yz", "4417.66150", 1, 2),
        _round("volume of an ellipsoid of half-axes 60, 45, 30 mm", "ml", "339.29", 0.1, partial(ellipsoid, "volume")),
        _round("inertia about its longest axis over volume", "mm2", "585.0", 0.2, partial(ellipsoid, "inertia")),
        _round("volume of a torus of radii 50 and 18 mm", "ml", "319.78", 0.1, partial(torus, "volume")),
        _round("inertia about its axis over volume", "mm2", "2743", 0.1, partial(torus, "inertia")),
        Row(BEER, "a b d / 2, times 2700 kg/m3", "mass of a wedge of 90 x 60 x 50 mm", "kg", "0.36450", EXACT, COMPUTED,
            SCENE, partial(wedge, "mass")),
        Row(BEER, "a / 3", "its centre, from the right angle along", "mm", "30.00", EXACT, COMPUTED, SCENE,
            partial(wedge, "x")),
        Row(BEER, "b / 3", "its centre, from the right angle up", "mm", "20.00", EXACT, COMPUTED, SCENE,
            partial(wedge, "z")),
    ),
)  # fmt: skip
