"""`bedjoint piece import`: scans become closed pieces of known size and weight."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import click

from sim.cli.progress import steps

if TYPE_CHECKING:
    from sim.pieces.importing import ImportedPiece, ImportOptions


@click.command("import")
@click.argument("files", nargs=-1, required=True, metavar="FILE...", type=click.Path())
@click.option("--units", type=click.Choice(["mm", "cm", "m", "in"]), help="What the numbers in the files measure.")
@click.option("--scale", type=float, help="Factor on all sizes, on top of the units.")
@click.option(
    "--longest-mm", type=float, help="Longest side by calipers, mm: for scans without a scale, instead of --units."
)
@click.option("--rock", help="Kind of rock; the list: bedjoint materials rock.")
@click.option("--wood", help="Kind of wood; the list: bedjoint materials wood.")
@click.option("--mass-kg", type=float, help="Weight on the scales, kg. With --rock it can also give the scale.")
@click.option("--mass-in-water-kg", type=float, help="What the scales show with it hung in water, kg.")
@click.option("--json", "as_json", is_flag=True, help="Print the report as JSON.")
@click.option("-o", "--output", "folder", required=True, type=click.Path(), metavar="FOLDER", help="Where to save.")
def import_scans(files: tuple[str, ...], folder: str, as_json: bool, **known: Any) -> None:
    """Turn scans (STL, PLY, OBJ, GLB, GLTF, 3MF) into closed pieces.

    Saves <name>.ply in mm, and <name>.display.ply, a light mesh for drawing. If one FILE cannot
    be used, nothing is saved.

    \b
    Example:  bedjoint piece import scan_07.obj --units cm --rock limestone -o stones
    """
    from sim.pieces.importing import ImportOptions
    from sim.pieces.saving import save_pieces

    options = ImportOptions(**known)
    _refuse_one_size_for_many(files, options)
    pieces = _import_all(files, options)
    saved = save_pieces(pieces, folder)
    if as_json:
        click.echo(json.dumps({"pieces": [_report(piece) for piece in pieces]}, indent=2))
        return
    for piece in pieces:
        click.echo(_text(piece))
    click.echo(f"Saved {len(saved)} files in {folder}.")


def _refuse_one_size_for_many(files: tuple[str, ...], options: ImportOptions) -> None:
    single = {
        "--longest-mm": options.longest_mm,
        "--mass-kg": options.mass_kg,
        "--mass-in-water-kg": options.mass_in_water_kg,
    }
    named = [name for name, value in single.items() if value is not None]
    if len(files) > 1 and named:
        raise click.UsageError(f"{' and '.join(named)} belong to one piece: import {len(files)} files one by one.")


def _import_all(files: tuple[str, ...], options: ImportOptions) -> list[ImportedPiece]:
    """Import every file; what is wrong is told of all of them at once."""
    from sim.errors import BedjointError, MeshError
    from sim.pieces.importing import import_piece

    pieces: list[ImportedPiece] = []
    faults: list[BedjointError] = []
    with steps("importing", len(files)) as advance:
        for file in files:
            try:
                pieces.append(import_piece(file, options))
            except BedjointError as error:
                faults.append(error)
            advance()
    if len(faults) == 1:
        raise faults[0]
    if faults:
        distinct = list(dict.fromkeys(str(fault) for fault in faults))
        listed = "\n".join(f"  {fault}" for fault in distinct)
        raise MeshError(f"{len(faults)} of {len(files)} files cannot be imported, so nothing is saved:\n{listed}")
    return pieces


def _report(piece: ImportedPiece) -> dict[str, Any]:
    return {
        "id": piece.id,
        "file": piece.file,
        "volume_ml": piece.volume_ml,
        "area_cm2": piece.area_cm2,
        "sizes_mm": list(piece.sizes_mm),
        "longest_mm": piece.longest_mm,
        "mass_kg": piece.mass_kg,
        "density_kg_m3": piece.density_kg_m3,
        "triangles": len(piece.body.faces),
        "repaired": list(piece.repaired),
        "volume_moved_percent": piece.volume_moved_percent,
        "units": piece.units,
        "units_because": piece.units_because,
        "warnings": list(piece.warnings),
    }


def _text(piece: ImportedPiece) -> str:
    from sim.units import significant

    x, y, z = (significant(size) for size in piece.sizes_mm)
    units = "no units" if piece.units == "none" else piece.units
    lines = [
        f"{piece.id}  ({piece.file}; {units}, {piece.units_because})",
        f"  {x} x {y} x {z} mm, {significant(piece.volume_ml, 4)} ml, {significant(piece.area_cm2)} cm2, "
        f"{len(piece.body.faces):,} triangles",
    ]
    if piece.mass_kg is not None and piece.density_kg_m3 is not None:
        lines.append(f"  {significant(piece.mass_kg)} kg at {piece.density_kg_m3:.0f} kg/m3")
    else:
        lines.append("  weight unknown: give --rock, --wood or --mass-kg here, or rock or wood in the scene")
    lines += [f"  {note}" for note in piece.repaired]
    if piece.repaired:
        moved = f"{piece.volume_moved_percent:+.2f} %" if abs(piece.volume_moved_percent) >= 0.005 else "under 0.01 %"
        lines.append(f"  all this moved the volume by {moved}")
    lines += [f"  warning: {warning}" for warning in piece.warnings]
    return "\n".join(lines)
