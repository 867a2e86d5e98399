"""Find the size of a scan: its units, one caliper length, or its weight.

A mesh file is a list of bare numbers. What they measure is told by the user, declared by the
file, or recognised because only one unit makes a stone of it; otherwise it is asked.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sim.errors import MeshError, UnitsQuestion
from sim.pieces.body import Faces, Floats
from sim.pieces.mass import mass_properties
from sim.units import METRES_PER_UNIT, MM_PER_M, significant

SHORTEST_PIECE_MM, LONGEST_PIECE_MM = 10.0, 1000.0  # longest side of what a builder lifts into a tank
UNIT_NAMES = {"mm": "millimetres", "cm": "centimetres", "m": "metres", "in": "inches"}
LIKELY_DENSITY_FACTOR = 1.5  # units lie a factor of 16 and more apart in volume, rocks of a kind well within this


@dataclass(frozen=True, slots=True)
class Units:
    """The units of a mesh file, and how they are known."""

    name: str  # "mm", "cm", "m" or "in"
    because: str


@dataclass(frozen=True, slots=True)
class Scale:
    """Metres per number in the file."""

    metres: float
    units: str  # "mm", "cm", "m", "in", or "none" where a length or the weight gave the scale
    because: str
    warnings: tuple[str, ...] = ()


def choose_units(longest: float, *, declared: str | None = None, given: str | None = None, scale: float = 1.0) -> Units:
    """Tell the units of a mesh from its size, unless the user or the file names them.

    Parameters
    ----------
    longest : float
        Longest side of the mesh, in the numbers of its file.
    declared : str or None
        Units that the file declares.
    given : str or None
        Units that the user names; these win.
    scale : float
        Factor by which the user scales the piece on top.

    Raises
    ------
    UnitsQuestion
        When more than one unit, or none, makes a piece of 10 mm to 1 m of it.
    MeshError
        When the units that the user names make no piece of it.
    """
    sizes_mm = {unit: longest * scale * metres * MM_PER_M for unit, metres in METRES_PER_UNIT.items()}
    possible = {unit: size_mm for unit, size_mm in sizes_mm.items() if is_plausible(size_mm)}
    if given is not None:
        if given not in possible:
            raise MeshError(
                f"inconsistent units: as {UNIT_NAMES[given]} its longest side is {_length(sizes_mm[given])}, "
                f"and a piece has {_length(SHORTEST_PIECE_MM)} to {_length(LONGEST_PIECE_MM)}. "
                f"{_advice(possible)} or scale it with --scale or --longest-mm."
            )
        return Units(given, "given")
    if declared in possible:
        return Units(str(declared), "declared by the file")
    if declared is None and len(possible) == 1:
        (name,) = possible
        return Units(name, "the only units that make a piece of 10 mm to 1 m of it")
    raise _question(longest, declared, possible, sizes_mm)


def is_plausible(size_mm: float) -> bool:
    """Whether a piece may be this long; a whisker of rounding is allowed at both ends."""
    return SHORTEST_PIECE_MM * (1.0 - 1e-9) <= size_mm <= LONGEST_PIECE_MM * (1.0 + 1e-9)


def _question(
    longest: float, declared: str | None, possible: dict[str, float], sizes_mm: dict[str, float]
) -> UnitsQuestion:
    told = f"its longest side is {significant(longest)} in the file"
    if declared is not None:
        told += f", which declares {UNIT_NAMES[declared]}: {_length(sizes_mm[declared])} is no piece for a tank"
    if not possible:
        return UnitsQuestion(
            f"units unknown: {told}, and no units make a piece of 10 mm to 1 m of it. "
            "Give --longest-mm with its length by calipers, or --units and --scale.",
            {},
        )
    listed = ", ".join(f"--units {unit} ({_length(size_mm)})" for unit, size_mm in possible.items())
    which = "which of these is it" if len(possible) > 1 else "is it this"
    return UnitsQuestion(f"units unknown: {told}; {which}? {listed}. Or give --longest-mm.", possible)


def _advice(possible: dict[str, float]) -> str:
    if not possible:
        return "Check --units,"
    return f"Give {' or '.join(f'--units {unit} ({_length(size)})' for unit, size in possible.items())},"


def _length(size_mm: float) -> str:
    return f"{significant(size_mm / MM_PER_M)} m" if size_mm >= MM_PER_M else f"{significant(size_mm)} mm"


def scale_by_length(longest_by_calipers: float, longest_mm: float) -> Scale:
    """Scale a mesh to one caliper length.

    Parameters
    ----------
    longest_by_calipers : float
        As `caliper_length` gives it, in the numbers of the file.
    longest_mm : float
        The same length on the real piece.
    """
    warnings: tuple[str, ...] = ()
    if not is_plausible(longest_mm):
        warnings = (f"--longest-mm makes it {_length(longest_mm)} long, which is unusual for a tank",)
    return Scale(longest_mm / MM_PER_M / longest_by_calipers, "none", "from its length by calipers", warnings)


def scale_by_weight(longest: float, volume: float, mass_kg: float, density_kg_m3: float, declared: str | None) -> Scale:
    """Find the units that fit a weight, or else the scale that does.

    Parameters
    ----------
    longest, volume : float
        Of the mesh, in the numbers of its file.
    mass_kg, density_kg_m3 : float
        Of the real piece; the density is measured, or that of its rock or wood.
    declared : str or None
        Units that the file declares.

    Raises
    ------
    MeshError
        When the weight makes a piece beyond 10 mm to 1 m.
    """
    true_volume_m3 = mass_kg / density_kg_m3
    fitting = [
        unit
        for unit, metres in METRES_PER_UNIT.items()
        if is_plausible(longest * metres * MM_PER_M)
        and 1.0 / LIKELY_DENSITY_FACTOR <= volume * metres**3 / true_volume_m3 <= LIKELY_DENSITY_FACTOR
    ]
    if fitting:
        because = (
            "declared by the file, and fit the weight" if fitting[0] == declared else "the units that fit the weight"
        )
        return Scale(METRES_PER_UNIT[fitting[0]], fitting[0], because)
    metres = float(np.cbrt(true_volume_m3 / volume))
    size_mm = longest * metres * MM_PER_M
    if not is_plausible(size_mm):
        raise MeshError(
            f"inconsistent weight: {significant(mass_kg)} kg at {density_kg_m3:.0f} kg/m3 make it {_length(size_mm)} "
            "long, and a piece has 10 mm to 1 m. Check --mass-kg."
        )
    note = f"no units fit its weight, so the weight sets its size: {_length(size_mm)} long. Check that with calipers"
    return Scale(metres, "none", "from its weight and density", (note,))


def caliper_length(vertices: Floats, faces: Faces) -> float:
    """Longest side of the box in which the piece lies snugly, whichever way the scan is turned.

    Of the box along the axes of the file and that along the principal axes of inertia the smaller
    counts: exact for bricks and ellipsoids, close to what calipers read along any stone.
    """
    middle = (vertices.min(axis=0) + vertices.max(axis=0)) / 2.0
    points = vertices - middle
    size = float(np.abs(points).max())
    _, axes = np.linalg.eigh(mass_properties(points / size, faces).inertia_m5)
    boxes = [np.ptp(points, axis=0), np.ptp(points @ axes, axis=0)]
    return float(min(boxes, key=lambda sides: float(np.prod(sides))).max())
