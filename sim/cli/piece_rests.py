"""`bedjoint piece rests`: how a piece lies on a level floor by itself."""

from __future__ import annotations

import json

import click


@click.command("rests")
@click.argument("file", metavar="FILE", type=click.Path())
@click.option("--units", type=click.Choice(["mm", "cm", "m", "in"]), default="mm", show_default=True)
@click.option("--scale", type=float, default=1.0, show_default=True, help="Factor on all sizes.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def rests(file: str, units: str, scale: float, as_json: bool) -> None:
    """List the natural rest poses of a piece, the likeliest first.

    Copy turn_deg into the scene; its third number is free for your own turn about the vertical.

    \b
    Example:  bedjoint piece rests stones/scan_07.ply
    """
    from sim.pieces.rest import rest_poses
    from sim.pieces.saving import load_body
    from sim.units import MM_PER_M

    poses = rest_poses(load_body(file, units, scale), least_share=0.01)
    rows = [
        {
            "share": pose.share,
            "turn_deg": [round(turn, 3) for turn in pose.turn_deg],
            "height_mm": pose.height_m * MM_PER_M,
            "least_tilt_deg": pose.least_tilt_deg,
        }
        for pose in poses
    ]
    if as_json:
        click.echo(json.dumps({"poses": rows}, indent=2))
        return
    click.echo(f"{'share':>6}  {'centre above floor':>18}  {'tips at':>8}  turn_deg")
    for row, pose in zip(rows, poses, strict=True):
        height, tilt = pose.height_m * MM_PER_M, pose.least_tilt_deg
        click.echo(f"{pose.share:>6.0%}  {height:>15.1f} mm  {tilt:>6.1f} °  {row['turn_deg']}")
