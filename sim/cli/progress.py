"""Progress bars on the terminal; silent when the output is no terminal."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def steps(title: str, count: int) -> Iterator[Callable[[], None]]:
    """Show a bar of `count` steps on stderr; the value is called after each step."""
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

    console = Console(stderr=True)
    columns = (TextColumn("{task.description:<28}"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn())
    with Progress(*columns, console=console, disable=not console.is_terminal) as progress:
        task = progress.add_task(title, total=count)
        yield lambda: progress.advance(task)


@contextmanager
def stages() -> Iterator[Callable[[str, int, int], None]]:
    """Show one bar for work of several kinds; the value takes what is being done, steps done and steps in all."""
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

    console = Console(stderr=True)
    columns = (TextColumn("{task.description:<36}"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn())
    with Progress(*columns, console=console, disable=not console.is_terminal, transient=True) as progress:
        task = progress.add_task("", total=None)
        yield lambda what, done, of: progress.update(task, description=what, completed=done, total=max(of, 1))
