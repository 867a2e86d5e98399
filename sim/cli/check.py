"""`bedjoint check`: does it stand, in every state, and by how much?"""

from __future__ import annotations

from pathlib import Path

import click

FILLINGS = ("air", "partial", "flooded", "drained")


def _schema(context: click.Context, _: click.Parameter, wanted: bool) -> None:
    if not wanted or context.resilient_parsing:
        return
    import json

    from sim.report import report_schema

    click.echo(json.dumps(report_schema(), indent=2))
    context.exit(0)


def _beside(picture: Path) -> Path:
    """Where the sheet of loads goes: margins.png, margins_loads.png."""
    return picture.with_name(f"{picture.stem}_loads{picture.suffix}")


@click.command
@click.argument("scene_file", metavar="SCENE", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print the report as JSON.")
@click.option(
    "--schema",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_schema,
    help="Print the JSON Schema of the report and leave.",
)
@click.option(
    "--state",
    "states",
    type=click.Choice(FILLINGS),
    multiple=True,
    help="Judge only this state; may be given several times. Default: all.",
)
@click.option("--dry-laid", is_flag=True, help="Judge the stack as if it had no joints.")
@click.option("--quick", is_flag=True, help="Leave the slightly shifted copies and the dynamic trial out.")
@click.option(
    "--picture",
    type=click.Path(path_type=Path),
    help="PNG to draw, pieces coloured by margin; beside it NAME_loads.png of what glass and joints carry.",
)
@click.pass_context
def command(
    context: click.Context,
    scene_file: Path,
    as_json: bool,
    states: tuple[str, ...],
    dry_laid: bool,
    quick: bool,
    picture: Path | None,
) -> None:
    """Judge whether the stack stands: in air, while it fills, flooded and drained, with its glue and without.

    Three judges must agree: forces that hold it, forces that arise by loading alone, and a dynamic trial;
    and it must not rest on an edge. Whoever does not know says so: 'undetermined'.
    Exit status 0 when it stands, 1 for any other verdict, 2 for bad input.

    \b
    Example:  bedjoint check sea_arch.toml
              bedjoint check sea_arch.toml --quick --state air --picture margins.png
    """
    from sim.check import checked
    from sim.cli.progress import stages
    from sim.files import write_atomically
    from sim.pieces.placing import place_pieces
    from sim.report import loads_picture, margin_picture, report_json, report_text
    from sim.scene import read_scene
    from sim.states import Filling

    scene = read_scene(scene_file)
    fillings = [Filling(name) for name in states] or None
    with stages() as tell:
        tell("Making the pieces", 0, 1)
        pieces = place_pieces(scene)
        report, carrier = checked(scene, pieces, quick, fillings, "dry" if dry_laid else None, tell)
        if picture is not None:
            tell("Drawing", 0, 1)
            write_atomically(picture, margin_picture(scene, pieces, report))
            write_atomically(_beside(picture), loads_picture(report, carrier))
    click.echo(report_json(report) if as_json else report_text(report))
    if picture is not None and not as_json:
        click.echo(f"\nDrawn: {picture} and {_beside(picture)}")
    context.exit(0 if report.passes else 1)
