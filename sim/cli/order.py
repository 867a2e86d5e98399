"""`bedjoint order`: in which order the pieces are set, so that every step stands."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from sim.order import Order
    from sim.states import Stage

MANY_UNITS = 20  # from here on the parts take longer than processes need to start


@click.command
@click.argument("scene_file", metavar="SCENE", type=click.Path(path_type=Path))
@click.option("--try", "given", metavar="A,B,C,...", help="Judge this order, step by step.")
@click.option("--compare", is_flag=True, help="Set the best order beside that of the file, and beside --try.")
@click.option("--seconds", type=click.FloatRange(min=0.1), default=20.0, show_default=True, help="Time for the search.")
@click.option("--cluster", metavar="ADDRESS", help="Judge on a dask cluster; needs the cluster extra.")
@click.option("--pictures", type=click.Path(path_type=Path), help="Folder for a picture of each step.")
@click.option("--film", type=click.Path(path_type=Path), help="Animated GIF of the building.")
@click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")
@click.pass_context
def command(
    context: click.Context,
    scene_file: Path,
    given: str | None,
    compare: bool,
    seconds: float,
    cluster: str | None,
    pictures: Path | None,
    film: Path | None,
    as_json: bool,
) -> None:
    """Find the order of setting in which every step stands, with the fewest holds and waits.

    What carries a piece comes before it, and a piece needs a free way in and room for a hand. Each partial stack is
    judged in air, with the glue that has cured by then. Exit status 0 when every step stands, 1 when it needs holds
    or fails, 2 for bad input.

    \b
    Example:  bedjoint order sea_arch.toml --film arch.gif
              bedjoint order sea_arch.toml --try foot,pier,lintel
    """
    from sim.cli.progress import stages
    from sim.order import Reseating, best_order, problem_of, propose_modules, try_order
    from sim.pieces.placing import place_pieces
    from sim.report.orders import compared_text, order_json, order_text
    from sim.scene import read_scene
    from sim.states import misplaced, set_stage
    from sim.states.misplaced import REMEDY

    scene = read_scene(scene_file)
    with stages() as tell, _executor(cluster, len(scene.piece)) as executor:
        tell("Making the pieces", 0, 1)
        stage = set_stage(scene, place_pieces(scene))
        faults = misplaced(stage)
        if faults or stage.declared.unusable:
            why = f"{faults[0]}. {REMEDY}" if faults else stage.declared.unusable[0].reason
            click.echo(f"Undetermined: {why}")
            context.exit(1)
        tell("Looking for ways in", 0, 1)
        problem = problem_of(stage)
        reseat = Reseating(stage, problem)
        tried = None if given is None else try_order(problem, _names(given), executor, reseat)
        by_file = try_order(problem, [unit.id for unit in problem.units], executor, reseat) if compare else None
        best = None
        if tried is None or compare:
            best = best_order(problem, seconds, executor, tell, reseat)
        proposals = propose_modules(stage, problem, best, executor=executor) if best is not None and best.holds else ()
        shown = tried if best is None else best
        assert shown is not None, "one of the two was made"
        _draw(stage, shown, pictures, film, tell)
    others = [(name, order) for name, order in (("as in the file", by_file), ("yours", tried)) if order is not None]
    if as_json:
        click.echo(order_json(problem, shown, proposals, others if compare else []))
    else:
        click.echo(order_text(problem, shown, proposals))
        if compare and best is not None:
            click.echo("\n" + compared_text([("best", best), *others]))
        for path in (pictures, film):
            if path is not None and shown.steps:
                click.echo(f"Written: {path}")
    context.exit(0 if shown.verdict == "stands at every step" else 1)


def _names(given: str) -> list[str]:
    return [name.strip() for name in given.split(",") if name.strip()]


@contextmanager
def _executor(cluster: str | None, pieces: int) -> Iterator[Executor | None]:
    """Processes for many pieces, a cluster where one is named, else none."""
    if cluster is not None:
        with _client(cluster) as client:
            yield client.get_executor()
    elif pieces >= MANY_UNITS:
        import multiprocessing
        import os
        from concurrent.futures import ProcessPoolExecutor

        with ProcessPoolExecutor(os.cpu_count() or 1, mp_context=multiprocessing.get_context("spawn")) as executor:
            yield executor
    else:
        yield None


def _client(address: str) -> Any:
    from sim.errors import BedjointError

    try:
        from dask.distributed import Client
    except ImportError as problem:
        raise BedjointError("--cluster needs dask. Install it with  pip install 'bedjoint[cluster]'") from problem
    try:
        return Client(address, timeout="10s")
    except (OSError, ValueError) as problem:
        raise BedjointError(f"--cluster {address}: no scheduler answers there ({problem}).") from problem


def _draw(stage: Stage, order: Order, pictures: Path | None, film: Path | None, tell: Any) -> None:
    """Pictures of the steps and the film, where they are asked for."""
    if not order.steps or (pictures is None and film is None):
        return
    from sim.files import write_atomically
    from sim.report.building import film_bytes, film_frames, step_pictures
    from sim.shot.scene_picture import png_bytes

    def progress(done: int, of: int) -> None:
        tell("Drawing the steps", done, of)

    frames = film_frames(step_pictures(stage.scene, stage.pieces, order, progress))
    if pictures is not None:
        pictures.mkdir(parents=True, exist_ok=True)
        for k, frame in enumerate(frames, 1):
            write_atomically(pictures / f"step_{k:02d}.png", png_bytes(frame))
    if film is not None:
        write_atomically(film, film_bytes(frames))
