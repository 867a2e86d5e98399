"""The `bedjoint` command: one thin module per subcommand, loaded only when it is called."""

from __future__ import annotations

import click

from sim import __version__
from sim.cli.lazy import LazyGroup

# name -> (module, function, one line of help)
COMMANDS = {
    "new": ("sim.cli.new", "command", "Write a commented starter scene for a tank."),
    "piece": ("sim.cli.piece", "command", "Bring in scanned stones, or make stand-ins from calipers."),
    "settle": ("sim.cli.settle", "command", "Set the pieces of a scene down until they really rest."),
    "check": ("sim.cli.check", "command", "Judge whether the stack stands, in every state, and by how much."),
    "open": ("sim.cli.open", "command", "Stack by hand: open a scene as a page in the browser."),
    "glue": ("sim.cli.glue", "command", "Say what the joints carry and take, or suggest which ones hold the stack."),
    "shot": ("sim.cli.shot", "command", "Say where a point is in the front shot, and where the camera must stand."),
    "order": ("sim.cli.order", "command", "Find the order of setting in which every step stands."),
    "sheet": ("sim.cli.sheet", "command", "Make the build sheet to print, with templates at full size."),
    "vary": ("sim.cli.vary", "command", "Say how verdict and margins change when a piece is away or elsewhere."),
    "depth": ("sim.cli.depth", "command", "Say how large a piece at each depth must be to look far away."),
    "match": ("sim.cli.match", "command", "Find the camera of a photo of the empty tank, from clicked corners."),
    "materials": (
        "sim.cli.materials",
        "command",
        "Print the tables of rock, wood, glass, mats, glue, friction and water.",
    ),
    "sources": (
        "sim.cli.sources",
        "command",
        "Print published numbers with ours beside them, computed now.",
    ),
    "schema": ("sim.cli.schema", "command", "Print the JSON Schema of scene files."),
    "demo": ("sim.cli.demo", "command", "Build the sea-arch scene, set its pieces down and draw it."),
}


@click.group(cls=LazyGroup, lazy=COMMANDS, context_settings={"help_option_names": ["-h", "--help"]})
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
