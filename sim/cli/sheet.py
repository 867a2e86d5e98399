"""`bedjoint sheet`: what the builder carries to the tank, on paper or as a web page."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from sim.report.sheet import Bench, Sheet
    from sim.report.sheet.gathering import Tell

ENDINGS = (".pdf", ".html")


@click.command
@click.argument("scene_file", metavar="SCENE", type=click.Path(path_type=Path))
@click.option(
    "-o",
    "--output",
    "outputs",
    type=click.Path(path_type=Path),
    multiple=True,
    required=True,
    help="File to write, .pdf or .html; may be given several times.",
)
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="Paper size.")
@click.option("--inches", is_flag=True, help="Give lengths in inches beside millimetres.")
@click.option("--quick", is_flag=True, help="Judge without the slightly shifted copies and the dynamic trial.")
@click.option("--seconds", type=click.FloatRange(min=0.1), default=20.0, show_default=True, help="Time for the order.")
@click.option("--json", "as_json", is_flag=True, help="Print what was written as JSON.")
@click.pass_context
def command(
    context: click.Context,
    scene_file: Path,
    outputs: tuple[Path, ...],
    paper: str,
    inches: bool,
    quick: bool,
    seconds: float,
    as_json: bool,
) -> None:
    """Make the build sheet: stones, places, steps, glue, loads, fill, cautions, and templates at full size.

    Print it at 100 %: the templates have a line of 100 mm to check that with. The sheet is made for a stack that does
    not stand too, and says so on its first page. Exit status 0 when it stands on glass within its limits, 1 for any
    other verdict, 2 for bad input or a file that cannot be written.

    \b
    Example:  bedjoint sheet sea_arch.toml -o sheet.pdf -o sheet.html
              bedjoint sheet sea_arch.toml -o sheet.pdf --paper letter --inches
    """
    from sim.cli.progress import stages
    from sim.report.sheet import PAPERS, Measures, gather, make_sheet
    from sim.scene import read_scene

    for output in outputs:
        _require_writable(output)
    scene = read_scene(scene_file)
    with stages() as tell:
        bench = gather(scene, PAPERS[paper], Measures(inches), quick, seconds, tell)
        sheet = make_sheet(bench, tell)
        written = [_write(sheet, bench, output, tell) for output in outputs]
    if as_json:
        click.echo(json.dumps(_account(bench, sheet, written), indent=2))
    else:
        click.echo(f"{bench.title}: {bench.report.verdict}; {len(bench.pieces)} pieces, {len(bench.order.steps)} steps")
        for one in written:
            pages = f" ({one['pages']} pages of {bench.paper.name})" if one["pages"] is not None else ""
            click.echo(f"Written: {one['file']}{pages}")
    context.exit(0 if bench.report.passes else 1)


def _require_writable(output: Path) -> None:
    """Complain before the long work, not after it."""
    import tempfile

    from sim.errors import OutputError

    if output.suffix.lower() not in ENDINGS:
        raise OutputError(f'{output}: "{output.suffix}" is no kind of sheet. Name the file .pdf or .html.')
    if output.is_dir():
        raise OutputError(f"{output}: cannot be written (it is a folder). Name a file in it.")
    there = next((folder for folder in output.absolute().parents if folder.exists()), Path("/"))
    try:
        with tempfile.TemporaryFile(dir=there):
            pass
    except OSError as problem:
        reason = problem.strerror or str(problem)
        raise OutputError(f"{output}: cannot be written ({reason}). Choose another folder with -o.") from problem


def _write(sheet: Sheet, bench: Bench, output: Path, tell: Tell) -> dict[str, Any]:
    from sim.files import write_atomically
    from sim.report.sheet import html_text, pdf_bytes

    tell(f"Writing {output.name}", 0, 1)
    pages: int | None = None
    content: str | bytes
    if output.suffix.lower() == ".pdf":
        content, pages = pdf_bytes(sheet, bench.paper, lambda page: tell(f"Writing {output.name}", page, page + 1))
    else:
        content = html_text(sheet, bench.paper)
    write_atomically(output, content)
    size = output.stat().st_size
    return {"file": str(output), "kind": output.suffix.lower().removeprefix("."), "pages": pages, "bytes": size}


def _account(bench: Bench, sheet: Sheet, written: list[dict[str, Any]]) -> dict[str, Any]:
    from sim.report.sheet.blocks import Tile

    return {
        "written": written,
        "paper": bench.paper.name,
        "verdict": bench.report.verdict,
        "passes": bench.report.passes,
        "order": bench.order.verdict,
        "pieces": len(bench.pieces),
        "steps": len(bench.order.steps),
        "template_pages": sum(isinstance(block, Tile) for block in sheet.blocks),
        "numbers": bench.numbers,
    }
