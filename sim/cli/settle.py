"""`bedjoint settle`: set the pieces of a scene down until they really rest."""

from __future__ import annotations

import json
from pathlib import Path

import click


@click.command
@click.argument("scene_file", metavar="SCENE", type=click.Path(path_type=Path))
@click.option("-o", "--output", type=click.Path(path_type=Path), required=True, help="Scene file to write.")
@click.option("--piece", "piece_id", help="Set only this piece down, onto the rest.")
@click.option("--together", is_flag=True, help="Let all pieces go at once from where they are.")
@click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")
@click.pass_context
def command(
    context: click.Context, scene_file: Path, output: Path, piece_id: str | None, together: bool, as_json: bool
) -> None:
    """Set the pieces down, in the order of the file, onto the true meshes of what lies below.

    Then everything gives a little under what was set on it, until it all lies still. Says how far each piece
    moved and what cannot rest where it was put. A piece that cannot rest stays where the file has it and
    carries nothing. Exit status 1 when a piece does not rest.

    \b
    Example:  bedjoint settle sea_arch.toml -o settled.toml
              bedjoint settle sea_arch.toml --piece lintel -o settled.toml
    """
    from sim.cli.progress import steps
    from sim.cli.writing import keep_mesh_paths
    from sim.contact.settling import let_go, settle_in_order, settle_together, stand_up
    from sim.errors import Fault, SceneError
    from sim.pieces.placing import file_poses, place_pieces
    from sim.scene import read_document, read_scene, save, set_poses
    from sim.units import MM_PER_M, significant

    if piece_id and together:
        raise click.UsageError("--piece and --together exclude each other.")
    scene = read_scene(scene_file)
    keep_mesh_paths(scene, output)
    names = [entry.id for entry in scene.piece]
    if piece_id is not None and piece_id not in names:
        known = ", ".join(names) or "none"
        raise SceneError(str(scene_file), [Fault("--piece", f'no piece is called "{piece_id}"', f"Pieces: {known}.")])
    pieces = place_pieces(scene)
    assembly, poses = stand_up(scene, pieces)
    with steps("Setting down (compiles on first use)", max(len(names), 1)) as advance:
        if together:
            outcome = settle_together(assembly, poses, names)
        else:
            only = names.index(piece_id) if piece_id is not None else None
            outcome = settle_in_order(assembly, poses, names, only, lambda _: advance())
            outcome = outcome if piece_id is not None else let_go(assembly, outcome)
    document = read_document(scene_file)
    set_poses(document, file_poses(outcome.moved(pieces)))
    save(document, output)
    rows = [
        {
            "id": settled.piece,
            "rest": settled.rest.name.lower(),
            "reason": settled.rest.value,
            "moved_mm": settled.moved_m * MM_PER_M,
            "gap_mm": settled.gap_m * MM_PER_M,
        }
        for settled in outcome.pieces
    ]
    if as_json:
        click.echo(json.dumps({"at_rest": outcome.all_at_rest, "pieces": rows}, indent=2))
    else:
        for settled in outcome.pieces:
            moved = significant(settled.moved_m * MM_PER_M)
            click.echo(f"{settled.piece:<20}{settled.rest.value:<56}moved {moved:>6} mm")
        click.echo(f"Written: {output}")
    context.exit(0 if outcome.all_at_rest else 1)
