"""`bedjoint open`: the page where stones are stacked by hand."""

from __future__ import annotations

from pathlib import Path

import click

MISSING = """\
three.js, which the page draws with, is not installed: it could not be fetched when bedjoint was built.
Connect to the internet and install again, which fetches it:
    pip install --force-reinstall --no-deps --no-cache-dir bedjoint
From a checkout:
    pip install --no-deps --no-cache-dir -e .
Everything else works without it: bedjoint check, order, shot, glue and settle."""


@click.command
@click.argument("scene_file", metavar="SCENE", type=click.Path(path_type=Path))
@click.option("--port", type=click.IntRange(0, 65535), default=0, help="Port on 127.0.0.1. Default: a free one.")
@click.option("--no-browser", is_flag=True, help="Only print the address.")
def command(scene_file: Path, port: int, no_browser: bool) -> None:
    """Open a scene in the browser: pick stones up, turn them, set them down, and see the answers at once.

    The page is served by this program on this computer alone, and needs no internet. Each change is kept beside the
    scene at once and comes back after a crash; the scene file itself changes when you save. Ctrl+C ends it.

    \b
    Example:  bedjoint open sea_arch.toml
              bedjoint open sea_arch.toml --no-browser --port 8100
    """
    from sim.errors import BedjointError
    from sim.yard.server import PAGE, serve
    from sim.yard.session import Session

    if not (PAGE / "index.html").is_file():
        raise BedjointError("the page is not installed. Install bedjoint again.")
    if not (PAGE / "vendor" / "three" / "build" / "three.module.js").is_file():
        raise BedjointError(MISSING)
    click.echo(f"Opening {scene_file} ...", err=True)
    session = Session(scene_file, hurried=True)

    def started(port: int) -> None:
        address = f"http://127.0.0.1:{port}/"
        click.echo(f"{scene_file.name} is open at {address}  (Ctrl+C ends it)")
        if not no_browser:
            import threading
            import webbrowser

            threading.Timer(0.5, webbrowser.open, (address,)).start()

    try:
        serve(session, port, started)
    finally:
        unsaved = not session.keeping.saved
        session.close()
        if unsaved:
            click.echo("There are changes that are not saved. They come back when the scene is opened again.", err=True)
