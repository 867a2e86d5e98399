"""`bedjoint demo`: the sea arch, built from our own generators."""

from __future__ import annotations

from pathlib import Path

import click

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

FACES = {"slab": 6000, "lintel": 9000, "block": 6000, "root": 8000}
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
    ("stack_1", "block", 90, (130, 115, 92), "sandstone", (742, 268, 5), (0, 0, -169)),
    ("stack_2", "block", 7, (108, 98, 80), "sandstone", (742, 268, 102), (0, 0, -20)),
    ("stack_3", "block", 97, (88, 80, 66), "sandstone", (742, 268, 188), (0, 0, 23)),
    ("pebble_1", "slab", 57, (62, 52, 18), "sandstone", (365, 130, 5), (0, 0, -135)),
    ("pebble_2", "slab", 21, (48, 40, 16), "sandstone", (425, 112, 5), (0, 0, -38)),
    ("pebble_3", "slab", 41, (44, 34, 14), "sandstone", (610, 120, 5), (0, 0, 81)),
    ("pebble_4", "slab", 73, (54, 44, 17), "sandstone", (118, 105, 5), (0, 0, -5)),
    ("root", "root", 5, (230, 120, 100), "spider root", (690, 110, 5), (0, 0, 24)),
]


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
    return "".join(blocks)


@click.command(epilog="Example:  bedjoint demo -o sea_arch")
@click.option("-o", "--output", type=click.Path(path_type=Path), default=Path("sea_arch"), help="Folder to write into.")
@click.option("--json", "as_json", is_flag=True, help="Print the pieces and totals as JSON.")
def command(output: Path, as_json: bool) -> None:
    """Build the sea arch, set its pieces down, list them and draw the tank."""
    from sim.cli.listing import print_pieces
    from sim.cli.progress import steps
    from sim.contact.settling import settle_in_order, stand_up
    from sim.files import write_atomically
    from sim.pieces.placing import file_poses, place_pieces
    from sim.scene import parse_document, parse_scene, save, set_poses
    from sim.shot.scene_picture import draw_scene, png_bytes

    text, file = scene_text(), output / "sea_arch.toml"
    scene = parse_scene(text, file)
    with steps("Cutting the stones", 1) as advance:
        pieces = place_pieces(scene)
        advance()
    with steps("Setting them down", len(pieces)) as advance:
        assembly, poses = stand_up(scene, pieces)
        outcome = settle_in_order(assembly, poses, [piece.id for piece in pieces], progress=lambda _: advance())
    pieces = outcome.moved(pieces)
    document = parse_document(text, file)
    set_poses(document, file_poses(pieces))
    with steps("Drawing", 1) as advance:
        picture = png_bytes(draw_scene(scene, pieces))
        advance()
    save(document, file)
    write_atomically(output / "sea_arch.png", picture)
    print_pieces(pieces, as_json)
    for settled in outcome.pieces:
        if settled.rest.name != "AT_REST":
            click.echo(f"{settled.piece}: {settled.rest.value}", err=True)
    if not as_json:
        click.echo(f"\nWritten: {file} and sea_arch.png beside it.")
        click.echo("Next: open the scene in an editor, or start your own with  bedjoint new my_tank --tank 900x450x450")
