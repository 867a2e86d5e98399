"""`bedjoint piece make`: a stand-in from three caliper sizes and a weight."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import click

STONE_RGB = (158, 150, 138)
WOOD_RGB = (142, 122, 98)


@click.command("make")
@click.option("--size", required=True, help="Three caliper sizes in mm, as 120x80x35: x, y and z of the piece.")
@click.option("--mass-kg", required=True, type=float, help="Weight on the scales, kg.")
@click.option("--rock", help="Kind of rock; the list: bedjoint materials rock.")
@click.option("--wood", help="Kind of wood; the list: bedjoint materials wood.")
@click.option("--density", type=float, help="Density in kg/m3, instead of the table's.")
@click.option("--habit", type=click.Choice(["slab", "block", "cobble", "shard"]), default="block", show_default=True)
@click.option(
    "--seed", type=click.IntRange(0, 2**32 - 1), default=1, show_default=True, help="Another seed, another stone."
)
@click.option("--id", "name", help="Name of the piece. Default: habit and sizes, and the seed unless it is 1.")
@click.option("--json", "as_json", is_flag=True, help="Print the report as JSON.")
@click.option("-o", "--output", "folder", required=True, type=click.Path(path_type=Path), help="Where to save.")
def make(
    size: str,
    mass_kg: float,
    rock: str | None,
    wood: str | None,
    density: float | None,
    habit: str,
    seed: int,
    name: str | None,
    as_json: bool,
    folder: Path,
) -> None:
    """Make a stand-in for a stone that nobody scanned.

    It has exactly the sizes given, and weighs exactly what the scales say.

    \b
    Example:  bedjoint piece make --size 120x80x35 --mass-kg 0.9 --rock slate --habit slab -o stones
    """
    import numpy as np

    from sim import materials
    from sim.pieces.saving import ply_bytes, write_together
    from sim.pieces.stand_in import make_stand_in
    from sim.units import ML_PER_M3, MM_PER_M

    if rock and wood:
        raise click.UsageError("--rock and --wood exclude each other.")
    size_mm = _sizes(size)
    label = _label(name, habit, size_mm, seed)
    material = materials.rock(rock) if rock else materials.wood(wood) if wood else None
    body = make_stand_in(size_mm, mass_kg, material, habit, seed, density)
    path = folder / f"{label}.ply"
    colours = np.tile(np.array(WOOD_RGB if wood else STONE_RGB, np.uint8), (len(body.vertices_m), 1))
    write_together({path: ply_bytes(body.vertices_m, body.faces, colours)})
    density_kg_m3 = mass_kg / body.volume_m3
    warning = materials.density_warning(material, density_kg_m3) if material else None
    report = {
        "id": label,
        "file": str(path),
        "volume_ml": body.volume_m3 * ML_PER_M3,
        "sizes_mm": [float(extent) * MM_PER_M for extent in np.ptp(body.vertices_m, axis=0)],
        "mass_kg": mass_kg,
        "density_kg_m3": density_kg_m3,
        "triangles": len(body.faces),
        "warnings": [warning] if warning else [],
    }
    if as_json:
        click.echo(json.dumps({"pieces": [report]}, indent=2))
        return
    kind = f"{'rock' if rock else 'wood'} = {json.dumps(material.name)}\n" if material else ""
    click.echo(_text(report, kind, path))


def _sizes(text: str) -> list[float]:
    try:
        sizes = [float(part) for part in text.lower().replace("×", "x").split("x")]
    except ValueError:
        sizes = []
    if len(sizes) != 3:
        raise click.BadParameter(f'"{text}" is no size: write three numbers in mm, as 120x80x35.', param_hint="--size")
    return sizes


def _label(name: str | None, habit: str, size_mm: list[float], seed: int) -> str:
    """The name given, if a scene takes it; else one that keeps stones of other sizes or seeds apart."""
    if name is None:
        sizes = "x".join(f"{side:g}" for side in size_mm)
        return re.sub(r"[^A-Za-z0-9_-]", "_", f"{habit}_{sizes}" + ("" if seed == 1 else f"_{seed}"))
    if not re.fullmatch(r"[A-Za-z0-9_-]{1,64}", name):
        raise click.BadParameter(f'"{name}": use letters, digits, _ and - only, at most 64.', param_hint="--id")
    return name


def _text(report: dict[str, Any], kind: str, path: Path) -> str:
    """What was made, and the entry to paste; the mass and the volume give the density there."""
    from sim.units import significant

    x, y, z = (f"{side:g}" for side in report["sizes_mm"])
    lines = [
        f"{report['id']}  ({path})",
        f"  {x} x {y} x {z} mm, {significant(report['volume_ml'], 4)} ml, {report['triangles']:,} triangles",
        f"  {report['mass_kg']:g} kg at {report['density_kg_m3']:.0f} kg/m3",
        *(f"  warning: {warning}" for warning in report["warnings"]),
        "In the scene (the path is found from the scene's own folder):\n",
    ]
    entry = f"[[piece]]\nid = {json.dumps(report['id'])}\nmesh = {json.dumps(path.as_posix(), ensure_ascii=False)}\n"
    return "\n".join(lines) + f"\n{entry}{kind}mass_kg = {report['mass_kg']!r}\nat_mm = [100, 100, 0]"
