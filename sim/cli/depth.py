"""`bedjoint depth`: forced perspective, by the depth of the tank."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from sim.shot.perspective import DepthTable

POSITIVE = click.FloatRange(min=0, min_open=True)


@click.command
@click.argument("scene_file", metavar="SCENE", type=click.Path(path_type=Path))
@click.option(
    "--times", "times", type=POSITIVE, multiple=True, help="How many times as far; may be given several times."
)
@click.option("--back", "back_times", type=POSITIVE, help="How many times as far the back is to look. Default: most.")
@click.option(
    "--reference", "reference_mm", type=click.FloatRange(min=0), help="Depth of full size, mm. Default: a quarter."
)
@click.option("--lens", "lens_mm", type=click.FloatRange(min=0, min_open=True, max=2000), help="Another lens, mm.")
@click.option("--flooded/--dry", "flooded", default=True, help="Seen through water (default) or dry.")
@click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")
def command(
    scene_file: Path,
    times: tuple[float, ...],
    back_times: float | None,
    reference_mm: float | None,
    lens_mm: float | None,
    flooded: bool,
    as_json: bool,
) -> None:
    """How large a piece must be at each depth to look k times as far, and how the ground must rise.

    Water flattens the depth: a scene planned dry looks shallower when filled, so this counts with water.

    \b
    Example:  bedjoint depth sea_arch.toml
              bedjoint depth sea_arch.toml --times 2 --times 4 --back 4 --reference 120
    """
    from sim.pieces.placing import place_pieces
    from sim.scene import read_scene
    from sim.shot.lens import lens_of
    from sim.shot.perspective import TIMES, depth_table
    from sim.shot.refraction import tank_of
    from sim.units import MM_PER_M

    scene = read_scene(scene_file)
    tank = tank_of(scene, flooded)
    flooded = tank.level_m > 0.0  # a scene may stay dry
    table = depth_table(
        scene,
        place_pieces(scene),
        lens_of(scene, lens_mm),
        tank,
        times or TIMES,
        back_times,
        None if reference_mm is None else reference_mm / MM_PER_M,
    )
    click.echo(_as_json(table, flooded) if as_json else _as_text(table, scene.tank.inner_mm[1], flooded))


def _as_json(table: DepthTable, flooded: bool) -> str:
    def mm(value: float | None) -> float | None:
        return None if value is None else round(value * 1000.0, 3)

    rows = [
        {
            "depth_mm": mm(row.depth_m),
            "apparent_mm": mm(row.apparent_m),
            "shrinks_to": round(row.shrinks_to, 5),
            "scales": [round(scale, 5) for scale in row.scales],
            "ground_rises_mm": None if row.rises_m is None else [mm(rise) for rise in row.rises_m],
            "receding_scale": round(row.receding_scale, 5),
            "receding_rise_mm": mm(row.receding_rise_m),
        }
        for row in table.rows
    ]
    pieces = [
        {
            "id": piece.id,
            "depth_mm": mm(piece.depth_m),
            "apparent_mm": mm(piece.apparent_m),
            "scale": round(piece.scale, 5),
        }
        for piece in table.pieces
    ]
    answer = {
        "flooded": flooded,
        "times": list(table.times),
        "back_times": table.back_times,
        "reference_mm": mm(table.reference_m),
        "eye_over_ground_mm": mm(table.eye_over_ground_m),
        "seems_deep_mm": mm(table.seems_deep_m),
        "depths": rows,
        "pieces": pieces,
    }
    return json.dumps(answer, indent=2)


def _as_text(table: DepthTable, depth_mm: float, flooded: bool) -> str:
    state = "flooded" if flooded else "dry"
    lines = [
        f"{state}: {depth_mm:g} mm of depth look like {table.seems_deep_m * 1000.0:.0f} mm. "
        f"Full size at {table.reference_m * 1000.0:.0f} mm.",
        "Scale of a piece that is to look k times as far as there, and how much higher the ground must lie (mm):",
        "",
        f"{'depth mm':<10}{'looks':>7}"
        + "".join(f"{f'k = {k:g}':>16}" for k in table.times)
        + f"{f'receding to {table.back_times:g}':>18}",
    ]
    for row in table.rows:
        rises: tuple[float | None, ...] = row.rises_m or (None,) * len(row.scales)
        cells = "".join(f"{_cell(scale, rise):>16}" for scale, rise in zip(row.scales, rises, strict=True))
        last = _cell(row.receding_scale, row.receding_rise_m)
        lines.append(f"{row.depth_m * 1000.0:<10.0f}{row.shrinks_to:>7.3f}{cells}{last:>18}")
    if table.eye_over_ground_m <= 0.0:
        lines.append("The lens is not above the ground: no rise carries the eye.")
    if table.pieces:
        lines += ["", f"{'piece':<24}{'depth mm':>9}{'looks':>8}  of its size at full-size depth"]
        lines += [f"{piece.id:<24}{piece.depth_m * 1000.0:>9.0f}{piece.scale:>8.3f}" for piece in table.pieces]
    return "\n".join(lines)


def _cell(scale: float, rise_m: float | None) -> str:
    return f"{scale:.3f}" if rise_m is None else f"{scale:.3f} {rise_m * 1000.0:+6.0f}"
