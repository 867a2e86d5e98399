"""`bedjoint demo`: the sea arch, built from our own generators."""

from __future__ import annotations

import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sim.errors import BedjointError

if TYPE_CHECKING:
    from sim.report.sheet import Bench
    from sim.report.sheet.gathering import Tell

SEA_ARCH = """\
# Sea arch: a storm-cut arch of layered rock on a pebble beach, a sea stack beside it,
# a bleached root leaning on the stack. All of it is generated.
format = 1
title = "Sea arch"

[tank]
inner_mm = [900, 450, 450]
base_mm = 10
side_mm = 10
glass = "annealed"
support = "mat"
mat = { material = "EPS22", thickness_mm = 10 }
under_stones = { kind = "grid", thickness_mm = 5 }

[water]
level_mm = 400

[camera]
position_mm = [450, -1200, 260]
look_at_mm = [450, 225, 200]
focal_mm = 35
sensor_mm = [36, 24]
"""

FACES = {"slab": 6000, "lintel": 9000, "root": 8000}
PEBBLE_FACES = 1500

# id, shape, seed, size in mm, rock or wood, at x, y, z, turn about x, y, z
PIECES = [
    ("pier_left_1", "slab", 91, (190, 150, 46), "sandstone", (235, 225, 5), (0, 0, -13)),
    ("pier_left_2", "slab", 8, (170, 135, 42), "sandstone", (238, 227, 56), (0, 0, -173)),
    ("pier_left_3", "slab", 11, (158, 124, 44), "sandstone", (240, 224, 103), (0, 0, 22)),
    ("pier_left_4", "slab", 17, (146, 118, 38), "sandstone", (243, 226, 152), (0, 0, -162)),
    ("pier_right_1", "slab", 18, (180, 160, 50), "sandstone", (505, 235, 5), (0, 0, 170)),
    ("pier_right_2", "slab", 13, (166, 138, 44), "sandstone", (502, 232, 60), (0, 0, 6)),
    ("pier_right_3", "slab", 39, (150, 130, 40), "sandstone", (500, 234, 109), (0, 0, -23)),
    ("pier_right_4", "slab", 67, (142, 116, 38), "sandstone", (498, 232, 154), (0, 0, 163)),
    ("lintel", "lintel", 2, (350, 112, 48), "sandstone", (370, 229, 200), (0, 0, -1)),
    ("crown", "slab", 54, (150, 100, 34), "sandstone", (372, 229, 255), (0, 0, -167)),
    ("stack_1", "slab", 118, (140, 124, 48), "sandstone", (742, 268, 5), (0, 0, 36)),
    ("stack_2", "slab", 155, (122, 108, 44), "sandstone", (742, 268, 56), (0, 0, -12)),
    ("stack_3", "slab", 1, (108, 96, 42), "sandstone", (742, 268, 103), (0, 0, -13)),
    ("stack_4", "slab", 189, (94, 84, 40), "sandstone", (742, 268, 148), (0, 0, -102)),
    ("pebble_1", "slab", 125, (62, 52, 18), "sandstone", (365, 130, 5), (0, 0, -31)),
    ("pebble_2", "slab", 108, (48, 40, 16), "sandstone", (425, 112, 5), (0, 0, -168)),
    ("pebble_3", "slab", 113, (44, 34, 14), "sandstone", (570, 120, 5), (0, 0, -139)),
    ("pebble_4", "slab", 73, (54, 44, 17), "sandstone", (118, 105, 5), (0, 0, 52)),
    ("root", "root", 9, (230, 120, 100), "mopane", (690, 130, 5), (119, 4, 24)),
]


# the bridge over the arch is glued, and the foot of the pier that would go first, as `bedjoint glue --suggest` has it;
# everything else stands dry-laid, and the root is of wood that sinks
GLUED = [("lintel", "pier_left_4"), ("lintel", "pier_right_4"), ("crown", "lintel"), ("pier_left_2", "pier_left_1")]


def scene_text() -> str:
    """The sea arch as a scene file."""
    blocks = [SEA_ARCH]
    for name, shape, seed, size, material, at, turn in PIECES:
        kind = "wood" if shape == "root" else "rock"
        faces = PEBBLE_FACES if name.startswith("pebble") else FACES[shape]
        blocks.append(
            f'\n[[piece]]\nid = "{name}"\n'
            f'generate = {{ shape = "{shape}", seed = {seed}, size_mm = {list(size)}, faces = {faces} }}\n'
            f'{kind} = "{material}"\nat_mm = {list(at)}\nturn_deg = {list(turn)}\n'
        )
    blocks += [f'\n[[joint]]\nbetween = ["{a}", "{b}"]\nglue = "epoxy putty"\n' for a, b in GLUED]
    return "".join(blocks)


LENSES_MM = (20.0, 35.0, 50.0)
SEARCH_S = 15.0
SHOT_SIZE = "810x540"
FILM_PX = (600, 400)


@click.command(epilog="Example:  bedjoint demo -o sea_arch")
@click.option("-o", "--output", type=click.Path(path_type=Path), default=Path("sea_arch"), help="Folder to write into.")
@click.option("--json", "as_json", is_flag=True, help="Print the report as JSON.")
def command(output: Path, as_json: bool) -> None:
    """Do the whole job on the sea arch: set it down, judge it, order it, photograph it, write the build sheet."""
    from sim.cli.progress import stages
    from sim.contact.ahead import begin_compiling
    from sim.contact.settling import let_go, settle_in_order, stand_up
    from sim.pieces.convex import convex_parts
    from sim.pieces.placing import file_poses, place_pieces
    from sim.report import report_json, report_text
    from sim.report.orders import order_text
    from sim.report.sheet import PAPERS, Measures, gather
    from sim.scene import parse_document, parse_scene, read_scene, save, set_poses
    from sim.threads import threads

    text, file = scene_text(), output / "sea_arch.toml"
    scene = parse_scene(text, file)
    # much of the work keeps one core busy: what nobody waits for yet runs on the other
    with stages() as tell, threads(1) as beside:
        begin_compiling()
        tell("Cutting the stones", 0, 1)
        pieces = place_pieces(scene)
        what = "Setting them down (compiles on first use)"
        tell(what, 0, len(pieces))
        assembly, poses = stand_up(scene, pieces)
        for piece in pieces:  # only now: until here compiling needs both cores
            beside.submit(convex_parts, piece.body)  # kept for the trial
        names = [piece.id for piece in pieces]
        outcome = settle_in_order(assembly, poses, names, progress=lambda k: tell(what, k + 1, len(pieces)))
        outcome = let_go(assembly, outcome)
        document = parse_document(text, file)
        set_poses(document, file_poses(outcome.moved(pieces)))
        save(document, file)
        scene = read_scene(file)
        with _photographer(file) as shots:
            bench = gather(scene, PAPERS["a4"], Measures(False), False, SEARCH_S, tell)
            written = [file.name, *_write(output, bench, shots, tell)]
    for settled in outcome.pieces:
        if settled.rest.name != "AT_REST":
            click.echo(f"{settled.piece}: {settled.rest.value}", err=True)
    click.echo(report_json(bench.report) if as_json else report_text(bench.report))
    if not as_json and bench.problem is not None:
        click.echo("\n" + order_text(bench.problem, bench.order, bench.proposals))
    if not as_json:
        click.echo(f"\nWritten into {output}: {', '.join(written)}.")
        click.echo(f"Next: bedjoint open {file}  to stack by hand, or change the scene in an editor and")
        click.echo(f"      bedjoint check {file} --picture margins.png")
        click.echo("Your own tank: bedjoint new my_tank --tank 900x450x450")


@contextmanager
def _photographer(file: Path) -> Iterator[Callable[[], bytes]]:
    """Takes the scene through every lens, dry and flooded, in another process: this one needs Python's lock itself.

    Gives a function that waits for the picture. At an error or an interrupt the other process ends, too.
    """
    with tempfile.TemporaryDirectory() as folder:
        picture = Path(folder) / "shots.png"
        words = ["shot", str(file.absolute()), "--both", "--size", SHOT_SIZE, "-o", str(picture)]
        words += [word for lens_mm in LENSES_MM for word in ("--lens", f"{lens_mm:g}")]
        quiet = subprocess.DEVNULL
        with subprocess.Popen(
            [sys.executable, "-P", "-m", "sim.cli", *words], stdin=quiet, stdout=quiet, stderr=subprocess.PIPE
        ) as process:

            def taken() -> bytes:
                _, trouble = process.communicate()
                if process.returncode != 0:
                    raise BedjointError(f"{file}: no shot was taken. {trouble.decode(errors='replace').strip()}")
                return picture.read_bytes()

            try:
                yield taken
            finally:
                process.kill()


def _write(output: Path, bench: Bench, shots: Callable[[], bytes], tell: Tell) -> list[str]:
    """Report, pictures, film and sheet; the names of the files."""
    from sim.files import write_atomically
    from sim.report import margin_picture, report_json
    from sim.report.building import film_bytes, film_frames, step_pictures
    from sim.report.sheet import make_sheet, pdf_bytes

    scene = bench.scene
    files: dict[str, str | bytes] = {"report.json": report_json(bench.report)}
    tell("Drawing", 0, 1)
    files["margins.png"] = margin_picture(scene, bench.pieces, bench.report)
    tell("Taking the shot", 0, 1)
    files["shots.png"] = shots()

    def progress(done: int, of: int) -> None:
        tell("Filming the building", done, of)

    steps = step_pictures(scene, bench.pieces, bench.order, progress, FILM_PX)
    if steps:
        files["building.gif"] = film_bytes(film_frames(steps))
    files["sheet.pdf"], _ = pdf_bytes(make_sheet(bench, tell, steps), bench.paper)
    for name, content in files.items():
        write_atomically(output / name, content)
    return list(files)
