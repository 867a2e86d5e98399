"""`bedjoint new`: a commented starter scene."""

from __future__ import annotations

import re
from pathlib import Path

import click


@click.command
@click.argument("name")
@click.option("--tank", "size", required=True, metavar="LxDxH", help="Inner length, depth and height in mm.")
@click.option("--glass", default="unknown", show_default=True, help="Glass of the base: annealed, toughened, unknown.")
@click.option("-o", "folder", type=click.Path(path_type=Path), default=Path(), help="Folder to write into.")
@click.option("--force", is_flag=True, help="Overwrite a file of that name.")
def command(name: str, size: str, glass: str, folder: Path, force: bool) -> None:
    """Write NAME.toml, a scene that is valid at once and explains every section.

    \b
    Example:  bedjoint new sea_arch --tank 900x450x450 --glass annealed
    """
    from sim.errors import Fault, OutputError, SceneError
    from sim.files import write_atomically
    from sim.scene import parse_scene, starter

    title = name.removesuffix(".toml")
    if not re.fullmatch(r"[\w .-]{1,100}", title) or title.strip(" .") == "":
        raise OutputError(
            f'"{name[:100]}" is no name for a scene: use letters, digits, _ and -, and -o for the folder.'
        )
    target = folder / f"{title}.toml"
    if target.exists() and not force:
        raise OutputError(f"{target}: is already there. Choose another name, or overwrite it with --force.")
    text = starter(title, _inner_mm(size), glass)
    try:
        parse_scene(text, target)
    except SceneError as error:  # the lines of a text that nobody has seen would mislead
        faults = [Fault(fault.path.split(" (line")[0], fault.problem, fault.remedy) for fault in error.faults]
        raise SceneError(f"new {title}", faults) from None
    write_atomically(target, text)
    click.echo(f"{target}: a tank and one stone to begin with. Open it in a text editor; every section is explained.")


def _inner_mm(size: str) -> tuple[float, float, float]:
    """Three numbers out of ``900x450x450``."""
    from sim.errors import Fault, SceneError

    parts = re.split(r"\s*[xX×*,]\s*", size.strip())
    if len(parts) != 3 or not all(re.fullmatch(r"\d{1,6}(\.\d{1,6})?", part) for part in parts):
        remedy = "Give inner length x depth x height in mm, such as 900x450x450."
        raise SceneError("--tank", [Fault("", f'"{size[:60]}" is not the size of a tank', remedy)])
    length, depth, height = (float(part) for part in parts)
    return (length, depth, height)
