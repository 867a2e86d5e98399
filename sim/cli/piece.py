"""`bedjoint piece`: bring in scanned stones, or make stand-ins from calipers."""

from __future__ import annotations

import click

from sim.cli.lazy import LazyGroup

# name -> (module, function, one line of help)
COMMANDS = {
    "import": ("sim.cli.piece_import", "import_scans", "Turn scans into closed pieces of known size and weight."),
    "make": ("sim.cli.piece_make", "make", "Make a stand-in from three caliper sizes and a weight."),
    "rests": ("sim.cli.piece_rests", "rests", "List the ways in which a piece lies by itself."),
}


@click.group(cls=LazyGroup, lazy=COMMANDS)
def command() -> None:
    """Bring in scanned stones, or make stand-ins from calipers."""
