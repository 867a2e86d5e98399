"""`bedjoint schema`: the JSON Schema of scene files."""

from __future__ import annotations

from pathlib import Path

import click


@click.command
@click.option("-o", "file", type=click.Path(path_type=Path), help="File to write to instead of the screen.")
def command(file: Path | None) -> None:
    """Print the JSON Schema of scene files, with units and defaults of every key.

    \b
    Example:  bedjoint schema -o scene.schema.json
    """
    import json

    from sim.files import write_atomically
    from sim.scene import json_schema

    text = json.dumps(json_schema(), indent=2, ensure_ascii=False) + "\n"
    if file is None:
        click.echo(text, nl=False)
    else:
        write_atomically(file, text)
        click.echo(f"{file}: written.")
