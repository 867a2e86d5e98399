"""`bedjoint vary`: what a change does to the verdict and the margins."""

from __future__ import annotations

from pathlib import Path

import click

Triple = tuple[float, float, float]


def _pair(text: str) -> tuple[str, str]:
    names = [name.strip() for name in text.split(",")]
    if len(names) != 2 or not all(names) or names[0] == names[1]:
        raise click.BadParameter(f'"{text}": two different pieces, as in  --swap slab_1,slab_2')
    return (names[0], names[1])


def _shift(name: str, text: str) -> tuple[str, Triple]:
    try:
        x, y, z = (float(value) for value in text.split(","))
    except ValueError:
        raise click.BadParameter(f'"{text}": three lengths in mm, as in  --move {name} 10,0,0') from None
    if not all(abs(value) < 1e5 for value in (x, y, z)):
        raise click.BadParameter(f'"{text}": lengths in mm within 100 m')
    return (name, (x, y, z))


@click.command
@click.argument("scene_file", metavar="SCENE", type=click.Path(path_type=Path))
@click.option("--remove", metavar="ID", multiple=True, help="Take this piece away; its joints go too.")
@click.option("--swap", "swaps", metavar="A,B", multiple=True, help="Change two pieces over.")
@click.option("--move", "moves", metavar="ID DX,DY,DZ", nargs=2, multiple=True, help="Move a piece, mm.")
@click.option("--friction", type=click.FloatRange(min=0.0, max=2.0), help="This friction everywhere, dry and wet.")
@click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")
@click.pass_context
def command(
    context: click.Context,
    scene_file: Path,
    remove: tuple[str, ...],
    swaps: tuple[str, ...],
    moves: tuple[tuple[str, str], ...],
    friction: float | None,
    as_json: bool,
) -> None:
    """Say how verdict and margins change when a piece is away, elsewhere, or smoother.

    The scene file stays as it is. What moved, and what rests on it, is set down anew. Both stacks are checked
    quickly, without shifted copies and trial. Exit status 0 when the changed stack stands, 1 when not, 2 for bad
    input.

    \b
    Example:  bedjoint vary sea_arch.toml --remove keystone
              bedjoint vary sea_arch.toml --move lintel 10,0,0 --friction 0.4
    """
    from sim.cli.progress import stages
    from sim.report.varying import Change, vary, vary_json, vary_text
    from sim.scene import read_scene

    change = Change(
        remove=tuple(dict.fromkeys(remove)),
        swap=tuple(_pair(text) for text in swaps),
        move=tuple(_shift(name, text) for name, text in moves),
        friction=friction,
    )
    if not change.words():
        raise click.UsageError("Nothing to change: give --remove, --swap, --move or --friction.")
    scene = read_scene(scene_file)
    with stages() as tell:
        variation = vary(scene, change, tell)
    click.echo(vary_json(variation) if as_json else vary_text(variation))
    context.exit(0 if variation.after.passes else 1)
