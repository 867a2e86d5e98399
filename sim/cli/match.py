"""`bedjoint match`: the camera of a photo of the empty tank."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from sim.shot.match import Match


@click.command
@click.argument("scene_file", metavar="SCENE", type=click.Path(path_type=Path))
@click.argument("photo", metavar="PHOTO", type=click.Path(path_type=Path))
@click.option("--points", type=click.Path(path_type=Path), required=True, help="TOML file of clicked corners.")
@click.option("-o", "--output", type=click.Path(path_type=Path), help="Scene file to write, the camera in it.")
@click.option("--picture", type=click.Path(path_type=Path), help="Picture to write: the tank's edges over the photo.")
@click.option(
    "--lens", "lens_mm", type=click.FloatRange(min=0, min_open=True, max=2000), help="Focal length in mm, where known."
)
@click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")
def command(
    scene_file: Path,
    photo: Path,
    points: Path,
    output: Path | None,
    picture: Path | None,
    lens_mm: float | None,
    as_json: bool,
) -> None:
    """Find focal length, distance, pose and distortion from corners clicked in a photo of the empty tank.

    POINTS holds [corners] such as front_bottom_left = [612.5, 3301.0] in pixels: inner corners, front and back; and,
    for the distortion, [[edge]] with between = [corner, corner] and px = [[u, v], ...], points along straight edges.
    The front pane bends the light, and that is reckoned with. What the points leave open is said, not guessed.

    \b
    Example:  bedjoint match sea_arch.toml empty.jpg --points clicks.toml --picture check.png -o matched.toml
    """
    from sim.cli.writing import keep_mesh_paths
    from sim.files import write_atomically
    from sim.scene import read_scene
    from sim.shot.clicks import read_clicks
    from sim.shot.match import frame_of_photo, match_camera
    from sim.shot.overlay import picture_bytes, read_photo, wireframe
    from sim.shot.refraction import tank_of

    scene = read_scene(scene_file)
    if output is not None:
        keep_mesh_paths(scene, output)
    clicks = read_clicks(points)
    image, size_px = read_photo(photo)
    tank = tank_of(scene, flooded=False)
    found = match_camera(tank, clicks, size_px, frame_of_photo(size_px, scene.camera), lens_mm)
    if output is not None:
        _write(scene_file, output, photo, found)
    if picture is not None:
        write_atomically(picture, picture_bytes(wireframe(image, found.lens, tank), picture))
    click.echo(_as_json(found) if as_json else _as_text(found))
    if not as_json:
        for said, target in (("Written", output), ("Drawn", picture)):
            if target is not None:
                click.echo(f"{said}: {target}")


def _write(scene_file: Path, output: Path, photo: Path, found: Match) -> None:
    import os

    from sim.scene import read_document, save, set_camera, set_key

    document = read_document(scene_file)
    set_camera(document, found.camera)
    set_key(document, "photo", "matched", os.path.relpath(photo.resolve(), output.resolve().parent))
    save(document, output)


def _as_json(found: Match) -> str:
    answer = {
        "camera": found.camera.model_dump(exclude_none=True),
        "focal_mm": round(found.focal_mm, 4),
        "focal_off_mm": round(found.focal_off_mm, 4),
        "distance_mm": round(found.distance_m * 1000.0, 3),
        "distance_off_mm": round(found.distance_off_m * 1000.0, 3),
        "position_off_mm": [round(off * 1000.0, 3) for off in found.position_off_m],
        "turn_off_deg": [round(off, 4) for off in found.turn_off_deg],
        "distortion": round(found.distortion, 6),
        "distortion_off": None if found.distortion_off is None else round(found.distortion_off, 6),
        "click_px": round(found.click_px, 3),
        "click_px_from": "scatter" if found.click_known else "assumed",
        "residual_px": round(found.rms_px, 3),
        "worst": {"corner": found.worst_corner, "px": round(found.worst_px, 3)},
        "cautions": list(found.cautions),
    }
    return json.dumps(answer, indent=2)


def _as_text(found: Match) -> str:
    x, y, z = found.camera.position_mm or (0.0, 0.0, 0.0)
    off_x, off_y, off_z = (off * 1000.0 for off in found.position_off_m)
    pitch, yaw, roll = found.turn_off_deg
    known = "from their scatter" if found.click_known else "assumed"
    distortion = (
        "not sought" if found.distortion_off is None else f"{found.distortion:+.4f} +- {found.distortion_off:.4f}"
    )
    lines = [
        f"focal length   {found.focal_mm:.2f} +- {found.focal_off_mm:.2f} mm",
        f"distance       {found.distance_m * 1000.0:.1f} +- {found.distance_off_m * 1000.0:.1f} mm, lens to front pane",
        f"position       {x:.1f}, {y:.1f}, {z:.1f} mm +- {off_x:.1f}, {off_y:.1f}, {off_z:.1f}",
        f"direction      +- {pitch:.2f}, {yaw:.2f}, {roll:.2f} degrees up and down, sideways, roll",
        f"distortion k1  {distortion}",
        f"frame          {' x '.join(f'{side:g}' for side in found.camera.sensor_mm)} mm, {found.camera.crop}; "
        "a photo cropped off its middle would mislead",
        f"clicks         off by {found.click_px:.1f} px ({known}); worst {found.worst_px:.1f} px, {found.worst_corner}",
    ]
    return "\n".join([*lines, *found.cautions])
