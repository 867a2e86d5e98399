"""`bedjoint piece`: bring in scanned stones, or make stand-ins from calipers."""

from __future__ import annotations

import importlib

import click

# name -> (module, function, one line of help): the modules stay unloaded until their command runs
COMMANDS = {
    "import": ("sim.cli.piece_import", "import_scans", "Turn scans into closed pieces of known size and weight."),
    "make": ("sim.cli.piece_make", "make", "Make a stand-in from three caliper sizes and a weight."),
    "rests": ("sim.cli.piece_rests", "rests", "List the ways in which a piece lies by itself."),
}


class PieceGroup(click.Group):
    """Knows its commands by name and imports each on first use."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        module, function, _ = COMMANDS[cmd_name]
        found: click.Command = getattr(importlib.import_module(module), function)
        return found

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, text) for name, (_, _, text) in COMMANDS.items()])


@click.group(cls=PieceGroup)
def command() -> None:
    """Bring in scanned stones, or make stand-ins from calipers."""
