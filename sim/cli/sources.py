"""`bedjoint sources`: published numbers, and what this program says to them now."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from sim.published import Outcome

WIDTH = 110  # where the output is no terminal


@click.command
@click.option("--json", "as_json", is_flag=True, help="Print all as JSON.")
@click.option("--markdown", "as_markdown", is_flag=True, help="Print the block of the README.")
@click.option("--only", metavar="TEXT", default="", help="Only rows with this text in subject, source or what.")
@click.option(
    "-o", "--output", type=click.Path(path_type=Path), help="With --markdown: renew the block in this README instead."
)
@click.pass_context
def command(context: click.Context, as_json: bool, as_markdown: bool, only: str, output: Path | None) -> None:
    """Compute every published number that the program is held against, and print ours beside it.

    Each row has its source, the place there, a tolerance with its reason, and what the source is worth: read,
    recomputed, from memory. Many are computed from a scene file, the way a user's are.
    Exit status 0 when all are within tolerance, 1 when one is not, 2 for bad input.

    \b
    Example:  bedjoint sources
              bedjoint sources --only arch
              bedjoint sources --markdown -o README.md
    """
    if as_json and as_markdown:
        raise click.UsageError("Give --json or --markdown, not both.")
    if output is not None and (not as_markdown or only):
        raise click.UsageError("-o renews the whole table: it needs --markdown, and no --only.")
    outcomes = _computed(only)
    from sim.published import printing

    fine = all(outcome.inside for outcome in outcomes)
    if as_json:
        click.echo(printing.as_json(outcomes))
    elif output is not None and fine:
        printing.put_into(output, printing.as_markdown(outcomes))
        click.echo(f"{printing.summary(outcomes)}\nWritten: {output}")
    elif as_markdown and output is None:
        click.echo(printing.as_markdown(outcomes))
    else:
        _print_tables(outcomes)
    context.exit(0 if fine else 1)


def _computed(only: str) -> list[Outcome]:
    from sim.cli.progress import steps
    from sim.errors import BedjointError
    from sim.published import chosen, compute

    rows = chosen(only)
    if not rows:
        raise BedjointError(f'no row has "{only[:60]}" in it. Try a name, such as Roark, or a subject, such as arch.')
    outcomes = []
    with steps("Computing", len(rows)) as done:
        for subject, row in rows:
            outcomes.append(compute(subject, row))
            done()
    return outcomes


def _print_tables(outcomes: Sequence[Outcome]) -> None:
    import textwrap

    from rich import box
    from rich.console import Console
    from rich.table import Table

    from sim.published import printing

    console = Console(highlight=False, markup=False, emoji=False)
    console.width = max(WIDTH, console.width) if console.is_terminal else WIDTH
    numbers = printing.by_source(outcomes)
    for subject, rows in printing.by_subject(outcomes).items():
        table = Table(title=subject, box=box.SIMPLE_HEAD, title_justify="left", pad_edge=False, padding=(0, 1, 0, 0))
        table.add_column("")
        for title in ("published", "ours", "deviation", "allowed"):
            table.add_column(title, justify="right", no_wrap=True)
        table.add_column("verdict", no_wrap=True)
        table.add_column("source")
        for outcome in rows:
            row = outcome.row
            unit = "" if row.unit == "1" else f" ({row.unit})"
            table.add_row(
                f"{row.what}{unit}",
                row.published,
                row.printed(outcome.ours),
                outcome.deviation,
                str(row.tolerance),
                "within" if outcome.inside else "OUT",
                f"[{numbers[row.source]}] {row.place}",
            )
        console.print(table)
    for source, number in numbers.items():
        for line in textwrap.wrap(source, WIDTH, initial_indent=f"[{number}]".ljust(5), subsequent_indent=" " * 5):
            click.echo(line)
    click.echo(f"\n{printing.summary(outcomes)}")
    for outcome in outcomes:
        if not outcome.inside:
            trouble = (
                outcome.trouble or f"{outcome.ours:.6g} for {outcome.row.published}, allowed {outcome.row.tolerance}"
            )
            click.echo(f"OUT: {outcome.row.what} ({outcome.row.source}): {trouble}")
