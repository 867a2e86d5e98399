"""`bedjoint shot`: the front shot. Its picture, what shows in it, where a point is, where the camera must stand."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import click

if TYPE_CHECKING:
    from sim.scene import Scene
    from sim.shot.where import Place

USUAL_LENSES_MM = (14.0, 16.0, 20.0, 24.0, 35.0, 50.0, 85.0)
LARGEST_PX = 20_000


def _numbers(text: str, sign: str, count: int, what: str) -> tuple[float, ...]:
    """Numbers with a sign between them, such as 450,200,120 or 1920x1280."""
    import math

    try:
        numbers = tuple(float(part) for part in text.split(sign))
    except ValueError:
        numbers = ()
    if len(numbers) != count or not all(math.isfinite(number) for number in numbers):
        raise click.BadParameter(f'"{text[:60]}" is not {what}.')
    return numbers


def _points(_: click.Context, __: click.Parameter, texts: tuple[str, ...]) -> tuple[tuple[float, ...], ...]:
    return tuple(_numbers(text, ",", 3, "a point X,Y,Z in mm") for text in texts)


def _size(_: click.Context, __: click.Parameter, text: str | None) -> tuple[int, int] | None:
    if text is None:
        return None
    sides = _numbers(text, "x", 2, "a size WIDTHxHEIGHT in pixels")
    if not all(1 <= side <= LARGEST_PX and side == int(side) for side in sides):
        raise click.BadParameter(f"give whole numbers of 1 to {LARGEST_PX} pixels.")
    return int(sides[0]), int(sides[1])


@click.command
@click.argument("scene_file", metavar="SCENE", type=click.Path(path_type=Path))
@click.option(
    "--where",
    "points_mm",
    metavar="X,Y,Z",
    callback=_points,
    multiple=True,
    help="Say where this point (X,Y,Z in mm) is in the picture and what hides it; may be given several times.",
)
@click.option("--fill", is_flag=True, help="Say where the camera must stand so that the front pane fills the frame.")
@click.option(
    "--distance",
    "distance_mm",
    type=click.FloatRange(min=0, min_open=True, max=20_000),
    help="With --fill: say which lens fits at this distance from lens to front pane, mm.",
)
@click.option(
    "--lens",
    "lenses_mm",
    type=click.FloatRange(min=0, min_open=True, max=2000),
    multiple=True,
    help="Focal length in mm instead of the scene's; may be given several times.",
)
@click.option("--flooded/--dry", "flooded", default=None, help="With the scene's water (default), or without.")
@click.option("-o", "--output", type=click.Path(path_type=Path), help="Picture to write: .png, .jpg or .webp.")
@click.option("--both", is_flag=True, help="Dry and flooded, side by side.")
@click.option(
    "--guides",
    type=click.Choice(["thirds", "golden", "diagonals", "triangle", "silhouette"]),
    multiple=True,
    help="Lines of composition to draw into the picture; may be given several times.",
)
@click.option("--preview", is_flag=True, help="A quick picture, 640 pixels wide.")
@click.option("--depth-of-field", "blurred", is_flag=True, help="Blur what the aperture leaves out of focus.")
@click.option("--report", is_flag=True, help="Say what of the tank shows, what would hide it, and the composition.")
@click.option("--over", "under", metavar="PICTURE", help="Lay the shot over this picture: a path, photo or concept.")
@click.option(
    "--manner",
    type=click.Choice(["blend", "edges", "beside"]),
    default="blend",
    help="How to lay it over: blended (default), only its edges, or beside it.",
)
@click.option("--opacity", type=click.FloatRange(0, 1), help="Of the shot over the picture. Default: [photo] opacity.")
@click.option("--size", "size_px", metavar="WxH", callback=_size, help="Size of the picture.")
@click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")
def command(
    scene_file: Path,
    points_mm: tuple[tuple[float, ...], ...],
    fill: bool,
    distance_mm: float | None,
    lenses_mm: tuple[float, ...],
    flooded: bool | None,
    output: Path | None,
    both: bool,
    guides: tuple[str, ...],
    preview: bool,
    blurred: bool,
    report: bool,
    under: str | None,
    manner: Literal["blend", "edges", "beside"],
    opacity: float | None,
    size_px: tuple[int, int] | None,
    as_json: bool,
) -> None:
    """What the camera of the scene sees through the front pane, by Snell's law.

    A scene without a camera position is seen square-on from where its front pane fills the frame.

    \b
    Example:  bedjoint shot sea_arch.toml -o shot.png --lens 24 --lens 35 --both
              bedjoint shot sea_arch.toml --report --both
              bedjoint shot sea_arch.toml -o over.png --over photo --opacity 0.6
              bedjoint shot sea_arch.toml --where 450,225,0 --flooded
              bedjoint shot sea_arch.toml --fill --lens 24 --lens 35
    """
    from sim.cli.shot_overlay import Over, lay_shot_over
    from sim.cli.shot_picture import Wanted, shoot
    from sim.scene import read_scene

    if distance_mm is not None and not fill:
        raise click.UsageError("--distance goes with --fill.")
    if both and flooded is not None:
        raise click.UsageError("--both and --dry or --flooded exclude each other.")
    if points_mm and (output or report):
        raise click.UsageError("--where gives no picture and no report: leave out -o and --report.")
    if not (points_mm or fill or output or report):
        raise click.UsageError("Say what is wanted: -o PICTURE, --report, --where X,Y,Z or --fill.")
    if under is not None and (output is None or both or report or guides or blurred or len(lenses_mm) > 1):
        raise click.UsageError("--over needs -o and goes with one lens, dry or flooded, without guides and report.")
    scene = read_scene(scene_file)
    lens_mm = lenses_mm[0] if lenses_mm else None
    if under is not None and output is not None:
        over = Over(under, manner, opacity, flooded is not False, lens_mm, fill, size_px, preview)
        lay_shot_over(scene, over, output)
        return
    if output or report:
        fillings = (False, True) if both else (flooded is not False,)
        wanted = Wanted(output, lenses_mm, fillings, size_px, fill, guides, preview, blurred, report, as_json)
        shoot(scene, wanted)
        return
    if points_mm:
        print_places(scene, points_mm, lens_mm, flooded is not False, size_px, fill, as_json)
    else:
        print_standing(scene, lenses_mm, distance_mm, as_json)


def print_places(
    scene: Scene,
    points_mm: tuple[tuple[float, ...], ...],
    lens_mm: float | None,
    flooded: bool,
    size_px: tuple[int, int] | None,
    fill: bool,
    as_json: bool,
) -> None:
    """Print where points are in the picture; with one point the JSON is one object, else a list."""
    import numpy as np

    from sim.pieces.placing import place_pieces
    from sim.shot.lens import lens_of
    from sim.shot.refraction import tank_of
    from sim.shot.where import where
    from sim.units import MM_PER_M

    for point in points_mm:
        if not all(0.0 <= value <= side for value, side in zip(point, scene.tank.inner_mm, strict=True)):
            inner = " x ".join(f"{side:g}" for side in scene.tank.inner_mm)
            given = ",".join(f"{value:g}" for value in point)
            raise click.UsageError(f"--where: {given} lies outside the tank of {inner} mm.")
    lens = lens_of(scene, lens_mm, fill)
    size = size_px or lens.size_px()
    places = where(scene, place_pieces(scene), np.array(points_mm) / MM_PER_M, lens, tank_of(scene, flooded), size)
    rows = [_place_row(point, flooded, size, place) for point, place in zip(points_mm, places, strict=True)]
    if as_json:
        click.echo(json.dumps(rows[0] if len(rows) == 1 else rows, indent=2))
        return
    for point, place in zip(points_mm, places, strict=True):
        spot = "behind the camera" if place.px is None else f"{place.px[0]:.2f}, {place.px[1]:.2f} px"
        seen = "visible" if place.visible else f"hidden by: {place.hidden_by}"
        click.echo(f"{', '.join(f'{value:g}' for value in point)} mm: {spot} of {size[0]} x {size[1]}; {seen}")


def _place_row(point_mm: tuple[float, ...], flooded: bool, size_px: tuple[int, int], place: Place) -> dict[str, object]:
    return {
        "point_mm": list(point_mm),
        "flooded": flooded,
        "size_px": list(size_px),
        "px": None if place.px is None else [round(value, 9) for value in place.px],
        "visible": place.visible,
        "hidden_by": place.hidden_by,
        "in_frame": place.in_frame,
        "seen_by_way_of": place.way,
    }


def print_standing(scene: Scene, lenses_mm: tuple[float, ...], distance_mm: float | None, as_json: bool) -> None:
    """Print from where the front pane fills the frame, per lens, and which lens fits where the camera stands."""
    from sim.shot.standing import fitting_lens_mm, standing
    from sim.units import MM_PER_M

    rows = [standing(scene, focal_mm) for focal_mm in lenses_mm or USUAL_LENSES_MM]
    fitting = fitting_lens_mm(scene, None if distance_mm is None else distance_mm / MM_PER_M)
    if as_json:
        table = [
            {
                "focal_mm": row.focal_mm,
                "distance_mm": None if row.distance_m is None else round(row.distance_m * MM_PER_M, 3),
                "position_mm": None
                if row.position_m is None
                else [round(value * MM_PER_M, 3) for value in row.position_m],
                "angles_deg": None if row.angles_deg is None else [round(angle, 3) for angle in row.angles_deg],
                "sharp_mm": None if row.sharp_m is None else [_mm(value) for value in row.sharp_m],
            }
            for row in rows
        ]
        click.echo(json.dumps({"lenses": table, "fitting_lens_mm": fitting and round(fitting, 3)}, indent=2))
        return
    click.echo("lens mm   lens to front pane mm   angle of view deg (h, v)   sharp mm behind the pane, flooded")
    for row in rows:
        if row.distance_m is None or row.angles_deg is None or row.sharp_m is None:
            click.echo(f"{row.focal_mm:<10g}no place in front of the pane: too wide")
            continue
        near, far = (_mm(value) for value in row.sharp_m)
        angles = f"{row.angles_deg[0]:.1f}, {row.angles_deg[1]:.1f}"
        sharp = f"{near:.0f} to {'all' if far is None else f'{far:.0f}'}"
        click.echo(f"{row.focal_mm:<10g}{row.distance_m * MM_PER_M:<24.0f}{angles:<27}{sharp}")
    if fitting is not None:
        place = "where the scene's camera stands" if distance_mm is None else f"{distance_mm:g} mm before the pane"
        click.echo(f"From {place}, a lens of {fitting:.1f} mm fits.")


def _mm(value_m: float) -> float | None:
    return None if value_m == float("inf") else round(value_m * 1000.0, 1)
