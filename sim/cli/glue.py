"""`bedjoint glue`: what the joints carry and take, and which ones would hold the stack."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from sim.glue import Suggestion
    from sim.scene import Scene


@click.command
@click.argument("scene_file", metavar="SCENE", type=click.Path(path_type=Path))
@click.option("--suggest", "suggesting", is_flag=True, help="Propose the fewest joints that hold the stack.")
@click.option("-o", "--output", type=click.Path(path_type=Path), help="Scene file to write, the joints added.")
@click.option(
    "--tilt", "tilt_deg", type=click.FloatRange(0, 60), help="Tilt in degrees to hold. Default: [check] of the scene."
)
@click.option(
    "--only", "glues", metavar="GLUE", multiple=True, help="Choose from this glue; may be given several times."
)
@click.option(
    "--tie-n", type=click.FloatRange(min=0, min_open=True), help="What a tie or screw of yours carries, N: for wood."
)
@click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")
@click.pass_context
def command(
    context: click.Context,
    scene_file: Path,
    suggesting: bool,
    output: Path | None,
    tilt_deg: float | None,
    glues: tuple[str, ...],
    tie_n: float | None,
    as_json: bool,
) -> None:
    """Say what every joint carries, how much glue it takes and how long it needs; and whether modules bear lifting.

    With --suggest: propose the fewest joints at which no piece moves against its neighbours while the tank is
    tilted, in air, at every fill, flooded and drained. Joints that the scene has are kept.
    Exit status 0 when the joints hold, 1 when not, 2 for bad input.

    \b
    Example:  bedjoint glue sea_arch.toml
              bedjoint glue sea_arch.toml --suggest -o glued.toml
              bedjoint glue sea_arch.toml --suggest --only "epoxy putty" --tilt 10
    """
    from sim.cli.writing import keep_mesh_paths
    from sim.materials import adhesive
    from sim.scene import read_scene

    wants = {"-o": output, "--tilt": tilt_deg, "--only": glues or None, "--tie-n": tie_n}
    given = [name for name, value in wants.items() if value is not None]
    if given and not suggesting:
        raise click.UsageError(f"{given[0]} needs --suggest.")
    scene = read_scene(scene_file)
    names = [adhesive(name).name for name in glues]
    if output is not None:
        keep_mesh_paths(scene, output)
    if suggesting:
        answer = _suggested(scene, tilt_deg, names, tie_n)
        if output is not None and answer.joints:
            _write(scene_file, output, answer)
        _print_suggestion(answer, output, as_json)
        context.exit(0 if answer.holds else 1)
    context.exit(0 if _declared(scene, as_json) else 1)


def _suggested(scene: Scene, tilt_deg: float | None, glues: list[str], tie_n: float | None) -> Suggestion:
    from sim.cli.progress import stages
    from sim.glue import suggest
    from sim.pieces.placing import place_pieces

    with stages() as tell:
        tell("Making the pieces", 0, 1)
        return suggest(scene, place_pieces(scene), tilt_deg, glues, tie_n, tell)


def _write(scene_file: Path, output: Path, answer: Suggestion) -> None:
    from sim.scene import add_joint, read_document, save

    document = read_document(scene_file)
    for joint in answer.joints:
        keys = joint.entry.model_dump(exclude_unset=True, exclude_none=True)
        add_joint(document, keys.pop("between"), keys.pop("glue", None), **keys)
    save(document, output)


def _print_suggestion(answer: Suggestion, output: Path | None, as_json: bool) -> None:
    from sim.report.joints import suggestion_json, suggestion_text

    click.echo(suggestion_json(answer) if as_json else suggestion_text(answer))
    if output is not None and not as_json:
        click.echo(f"\nWritten: {output}" if answer.joints else f"\nNo joints to add: {output} is not written.")


def _declared(scene: Scene, as_json: bool) -> bool:
    """Print what the scene's own joints and modules do; whether all of them hold."""
    from sim.check import check
    from sim.cli.progress import stages
    from sim.pieces.placing import place_pieces
    from sim.report.joints import joints_json, joints_text

    with stages() as tell:
        tell("Making the pieces", 0, 1)
        report = check(scene, place_pieces(scene), quick=True, progress=tell)
    click.echo(joints_json(report) if as_json else joints_text(report))
    return all(joint.verdict == "holds" for joint in report.joints) and all(one.holds for one in report.modules)
