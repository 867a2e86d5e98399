"""Import a scanned stone: read, repair, scale, weigh."""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from sim import materials
from sim.errors import MeshError, UnitsQuestion
from sim.pieces.body import Body, Floats
from sim.pieces.crossings import crossing_pairs
from sim.pieces.mass import make_body
from sim.pieces.reading import RawMesh, read_mesh
from sim.pieces.reducing import MOST_TRIANGLES, Reduced, reduce_body, reduce_for_display
from sim.pieces.repair import Repaired, repair
from sim.pieces.scale import Scale, caliper_length, choose_units, scale_by_length, scale_by_weight
from sim.units import METRES_PER_UNIT, ML_PER_M3, MM2_PER_M2, MM_PER_M

MOST_VOLUME_MOVED_PERCENT = 5.0  # by repair; beyond, a warning
VOLUMES_DIFFER = 0.1  # between the mesh and two weighings; beyond, a warning


@dataclass(frozen=True, slots=True)
class ImportOptions:
    """What the user knows about a scanned piece; None where he does not say."""

    units: str | None = None  # "mm", "cm", "m" or "in"
    scale: float | None = None
    longest_mm: float | None = None  # longest side of its snug box
    rock: str | None = None
    wood: str | None = None
    mass_kg: float | None = None  # in air, dry unless weighed soaked
    mass_in_water_kg: float | None = None  # what the scales show with it hung in water


@dataclass(frozen=True, slots=True, eq=False)
class ImportedPiece:
    """A scanned piece, ready to be saved."""

    id: str
    file: str
    body: Body
    display: Reduced
    sizes_mm: tuple[float, float, float]  # along the axes of the file
    longest_mm: float  # longest side of its snug box
    units: str
    units_because: str
    repaired: tuple[str, ...]
    volume_moved_percent: float
    mass_kg: float | None
    density_kg_m3: float | None
    warnings: tuple[str, ...]

    @property
    def volume_ml(self) -> float:
        """Volume in millilitres."""
        return self.body.volume_m3 * ML_PER_M3

    @property
    def area_cm2(self) -> float:
        """Surface in square centimetres."""
        return self.body.area_m2 * MM2_PER_M2 / 100.0


def import_piece(path: str | os.PathLike[str], options: ImportOptions | None = None) -> ImportedPiece:
    """Make a piece of a scan.

    Parameters
    ----------
    path : path
        An STL, PLY, OBJ, GLB, GLTF or 3MF file.
    options : ImportOptions
        Lengths in mm, masses in kg.

    Raises
    ------
    MeshError
        When the file cannot become one closed piece.
    UnitsQuestion
        When its size does not tell its units.
    MaterialError
        When the rock or wood is unknown, or the weighings contradict each other.
    """
    options = options or ImportOptions()
    _check_options(options)
    # an unknown rock is told before a long import, not after
    default_kg_m3 = _default_density(options)
    raw = read_mesh(path)
    repaired = repair(raw)
    scale = _find_scale(raw, repaired, options, default_kg_m3)
    vertices_m = repaired.vertices * scale.metres
    reduced, notes = _reduced(vertices_m, repaired)
    body = make_body(reduced.vertices_m, reduced.faces, reduced.colours)
    mass_kg, density_kg_m3, warnings = _weigh(body, options, default_kg_m3)
    moved_percent = 100.0 * (body.volume_m3 / (repaired.volume_before * scale.metres**3) - 1.0)
    if abs(moved_percent) > MOST_VOLUME_MOVED_PERCENT:
        warnings = (f"repair moved the volume by {moved_percent:+.1f} %: look at it before you trust it", *warnings)
    crossings = crossing_pairs(body.vertices_m, body.faces)
    if crossings:
        warnings = (
            f"its surface cuts through itself at {crossings:,} pairs of triangles: volume and contacts are doubtful "
            "there. Remesh it in the scanning program",
            *warnings,
        )
    return ImportedPiece(
        id=piece_id(path),
        file=str(path),
        body=body,
        display=reduce_for_display(body.vertices_m, body.faces, body.colours),
        sizes_mm=_sizes_mm(body),
        longest_mm=caliper_length(body.vertices_m, body.faces) * MM_PER_M,
        units=scale.units,
        units_because=scale.because,
        repaired=(*repaired.notes, *notes),
        volume_moved_percent=moved_percent,
        mass_kg=mass_kg,
        density_kg_m3=density_kg_m3,
        warnings=(*repaired.warnings, *scale.warnings, *warnings),
    )


def piece_id(path: str | os.PathLike[str]) -> str:
    """Name of a piece after its file: letters, digits, _ and - only."""
    name = re.sub(r"[^A-Za-z0-9_-]+", "_", Path(path).stem).strip("_-")
    return name or "piece"


def _check_options(options: ImportOptions) -> None:
    """Options that contradict each other, or are no sizes or weights."""
    for name, value in (
        ("--scale", options.scale),
        ("--longest-mm", options.longest_mm),
        ("--mass-kg", options.mass_kg),
    ):
        if value is not None and not (np.isfinite(value) and value > 0.0):
            raise MeshError(f"{name} {value:g}: give a number above 0.")
    if options.units is not None and options.units not in METRES_PER_UNIT:
        raise MeshError(f"--units {options.units}: give mm, cm, m or in.")
    if options.rock is not None and options.wood is not None:
        raise MeshError("--rock and --wood: a piece is one of them. Leave one out.")
    if options.scale is not None and options.longest_mm is not None:
        raise MeshError("--scale and --longest-mm: both set the size. Leave one out.")
    if options.mass_in_water_kg is not None and options.mass_kg is None:
        raise MeshError("--mass-in-water-kg: needs --mass-kg, the weight in air.")


def _default_density(options: ImportOptions) -> float | None:
    """Density by the tables, kg/m3."""
    if options.rock is not None:
        return float(materials.rock(options.rock).density_kg_m3.default)
    if options.wood is not None:
        return float(materials.wood(options.wood).density_kg_m3.default)
    return None


def _measured_density(options: ImportOptions) -> float | None:
    """Density by two weighings, kg/m3."""
    if options.mass_kg is None or options.mass_in_water_kg is None:
        return None
    return float(materials.density_from_weighings(options.mass_kg, options.mass_in_water_kg))


def _find_scale(raw: RawMesh, repaired: Repaired, options: ImportOptions, default_kg_m3: float | None) -> Scale:
    """The user's word first, then calipers, then the weight, then the size."""
    longest = float(np.ptp(repaired.vertices, axis=0).max())
    try:
        if options.longest_mm is not None:
            return scale_by_length(caliper_length(repaired.vertices, repaired.faces), options.longest_mm)
        density_kg_m3 = _measured_density(options) or default_kg_m3
        is_free = options.units is None and options.scale is None
        if is_free and options.mass_kg is not None and density_kg_m3 is not None:
            return scale_by_weight(longest, repaired.volume, options.mass_kg, density_kg_m3, raw.declared_units)
        factor = 1.0 if options.scale is None else options.scale
        units = choose_units(longest, declared=raw.declared_units, given=options.units, scale=factor)
    except UnitsQuestion as question:
        raise UnitsQuestion(f"{raw.file}: {question}", question.candidates) from question
    except MeshError as error:
        raise MeshError(f"{raw.file}: {error}") from error
    return Scale(METRES_PER_UNIT[units.name] * factor, units.name, units.because)


def _reduced(vertices_m: Floats, repaired: Repaired) -> tuple[Reduced, tuple[str, ...]]:
    """The body's own mesh: all triangles of the scan, unless there are very many."""
    whole = Reduced(vertices_m, repaired.faces, repaired.colours, 0.0)
    if len(repaired.faces) <= MOST_TRIANGLES:
        return whole, ()
    reduced = reduce_body(vertices_m, repaired.faces, repaired.colours)
    if reduced is None:
        note = f"kept all {len(repaired.faces):,} triangles: fewer would move its surface by over 0.05 mm"
        return whole, (note,)
    return reduced, (
        f"reduced {len(repaired.faces):,} triangles to {len(reduced.faces):,}; "
        f"its surface moved by at most {reduced.error_m * MM_PER_M:.3f} mm at the vertices",
    )


def _sizes_mm(body: Body) -> tuple[float, float, float]:
    x, y, z = np.ptp(body.vertices_m, axis=0) * MM_PER_M
    return float(x), float(y), float(z)


def _weigh(
    body: Body, options: ImportOptions, default_kg_m3: float | None
) -> tuple[float | None, float | None, tuple[str, ...]]:
    """Mass, density and what is odd about them.

    The mass on the scales is the piece's; two weighings measure its density whatever the mesh says.
    """
    warnings: list[str] = []
    measured_kg_m3 = _measured_density(options)
    if options.mass_kg is None:
        mass_kg = None if default_kg_m3 is None else default_kg_m3 * body.volume_m3
        return mass_kg, default_kg_m3, ()
    density_kg_m3 = options.mass_kg / body.volume_m3
    if measured_kg_m3 is not None:
        weighed_ml = options.mass_kg / measured_kg_m3 * ML_PER_M3
        scanned_ml = body.volume_m3 * ML_PER_M3
        if abs(scanned_ml / weighed_ml - 1.0) > VOLUMES_DIFFER:
            warnings.append(
                f"the mesh holds {scanned_ml:.0f} ml but the weighings say {weighed_ml:.0f} ml: check units and weights"
            )
        density_kg_m3 = measured_kg_m3
    kind = options.rock or options.wood
    warning = None if kind is None else materials.density_warning(kind, density_kg_m3)
    if warning is not None:
        warnings.append(warning)
    return options.mass_kg, density_kg_m3, tuple(warnings)
