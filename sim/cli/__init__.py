"""The `bedjoint` command: one thin module per subcommand, loaded only when it is called."""

from __future__ import annotations

import importlib
from typing import Any

import click

from sim import __version__
from sim.errors import BedjointError

# name -> (module, one line of help): the modules stay unloaded until their command runs
COMMANDS = {
    "new": ("sim.cli.new", "Write a commented starter scene for a tank."),
    "piece": ("sim.cli.piece", "Bring in scanned stones, or make stand-ins from calipers."),
    "settle": ("sim.cli.settle", "Set the pieces of a scene down until they really rest."),
    "materials": ("sim.cli.materials", "Print the tables of rock, wood, glass, mats, glue, friction and water."),
    "schema": ("sim.cli.schema", "Print the JSON Schema of scene files."),
    "demo": ("sim.cli.demo", "Build the sea-arch scene and do the whole job on it."),
}


class LazyGroup(click.Group):
    """A group that knows its commands by name and imports each on first use."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(COMMANDS[cmd_name][0])
        command: click.Command = module.command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, text) for name, (_, text) in COMMANDS.items()])

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except BedjointError as error:
            click.echo(f"bedjoint: {error}", err=True)
            ctx.exit(2)


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="bedjoint")
def command() -> None:
    """Will the stack stand, what does the glass carry, and what will the photo show?

    A scene file describes a tank, its pieces of stone and wood, their glue and the camera.

    \b
    Start with:  bedjoint demo
    Your own:    bedjoint new my_tank --tank 900x450x450
    """


def main() -> None:
    """Entry point of the `bedjoint` command."""
    command(prog_name="bedjoint")
