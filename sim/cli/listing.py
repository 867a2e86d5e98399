"""The list of pieces that several commands print."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from sim.pieces.placing import PlacedPiece


def print_pieces(pieces: Sequence[PlacedPiece], as_json: bool) -> None:
    """Print sizes, volumes and masses of placed pieces, and their totals."""
    from sim.units import ML_PER_M3, MM_PER_M, significant

    def sizes_mm(piece: PlacedPiece) -> list[float]:
        extents = piece.body.vertices_m.max(axis=0) - piece.body.vertices_m.min(axis=0)
        return [float(extent) * MM_PER_M for extent in extents]

    rows = [
        {
            "id": piece.id,
            "material": piece.material.name if piece.material is not None else "unknown",
            "sizes_mm": [round(size, 1) for size in sizes_mm(piece)],
            "volume_ml": round(piece.volume_m3 * ML_PER_M3, 2),
            "density_kg_m3": round(piece.density_kg_m3, 1),
            "mass_kg": round(piece.mass_kg, 4),
            "centre_mm": [round(float(value), 2) for value in piece.position_m * MM_PER_M],
        }
        for piece in pieces
    ]
    mass = sum(piece.mass_kg for piece in pieces)
    volume = sum(piece.volume_m3 for piece in pieces) * ML_PER_M3
    if as_json:
        total = {"mass_kg": round(mass, 4), "displaced_ml": round(volume, 2)}
        click.echo(json.dumps({"pieces": rows, "total": total}, indent=2))
        return
    click.echo(f"{'piece':<18}{'material':<16}{'sizes mm':<18}{'ml':>9}{'kg/m3':>8}{'kg':>9}")
    for row, piece in zip(rows, pieces, strict=True):
        sizes = " x ".join(f"{size:.0f}" for size in sizes_mm(piece))
        click.echo(
            f"{row['id']:<18}{row['material']:<16}{sizes:<18}{significant(piece.volume_m3 * ML_PER_M3):>9}"
            f"{piece.density_kg_m3:>8.0f}{piece.mass_kg:>9.3f}"
        )
    click.echo(f"{f'{len(pieces)} pieces':<52}{significant(volume):>9}{'':>8}{mass:>9.3f}")
