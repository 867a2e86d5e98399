"""The front shot: panes by their tables, the water line, depth of field, and what cannot be drawn."""

from __future__ import annotations

import functools
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from sim.errors import SceneError
from sim.materials.optics import mirror_offset_m, slab_reflectance
from sim.pieces.placing import PlacedPiece, place_pieces
from sim.scene import Scene, parse_scene
from sim.shot.lens import lens_of
from sim.shot.panes import glass_reach, slab_share, surface_share
from sim.shot.projection import project
from sim.shot.seen import piece_ids
from sim.shot.shot import Studio, exposed, studio_of, take, take_blurred
from sim.shot.stage import set_stage

SIZE = (240, 160)
HEAD = """
format = 1
[tank]
inner_mm = [600, 300, 300]
base_mm = 8
side_mm = 8
"""
STONE = """
[[piece]]
id = "stone"
generate = { shape = "block", seed = 4, size_mm = [120, 90, 110], faces = 1000 }
rock = "limestone"
at_mm = [170, 150, 0]
"""
CAMERA = "[camera]\nposition_mm = [300, -900, 150]\nlook_at_mm = [300, 150, 150]\nfocal_mm = 35\n"


def scene_of(*parts: str, folder: Path = Path()) -> Scene:
    return parse_scene("".join([HEAD, *parts]), folder / "shot.toml")


@functools.cache
def stone() -> tuple[PlacedPiece, ...]:
    return tuple(place_pieces(scene_of(STONE)))


def studio(flooded: bool, *parts: str, folder: Path = Path()) -> Studio:
    scene = scene_of(*parts, folder=folder)
    pieces = list(stone()) if STONE in parts else place_pieces(scene)
    return studio_of(scene, set_stage(scene, pieces), flooded)


@pytest.mark.parametrize(("grazing_deg", "share"), [(5, 0.754), (15, 0.385), (25, 0.203), (36.9, 0.119), (52.1, 0.089)])
def test_dry_side_panes_reflect_as_published(grazing_deg: float, share: float) -> None:
    # Fresnel slab of glass 1.52 in air; angle to the pane (check values of optics, computed independently)
    assert slab_share(1.0, 1.52, np.sin(np.radians(grazing_deg))) == pytest.approx(share, abs=6e-4)


def test_back_panes_at_normal_incidence() -> None:
    # optics check values: flooded 4.65 %, dry 8.2 %
    assert slab_share(1.333, 1.52, 1.0) == pytest.approx(0.0465, abs=5e-5)
    assert slab_share(1.0, 1.52, 1.0) == pytest.approx(0.082, abs=5e-4)


@pytest.mark.parametrize("n", [1.0, 1.333])
@pytest.mark.parametrize("cosine", [0.02, 0.3, 0.68, 0.9, 1.0])
def test_panes_agree_with_the_tables(n: float, cosine: float) -> None:
    assert slab_share(n, 1.52, cosine) == pytest.approx(float(slab_reflectance(cosine, n, 1.52, 1.0)), abs=1e-12)


def test_critical_angle_of_the_surface() -> None:
    # asin(1 / 1.333) = 48.61 degrees
    assert surface_share(1.333, 1.0, np.cos(np.radians(48.65))) == 1.0
    assert surface_share(1.333, 1.0, np.cos(np.radians(48.55))) < 0.9


def test_mirrors_lie_behind_the_inner_face() -> None:
    # 2 h q / cos sideways in water is as far as the way through the glass and back
    cosine = 0.4
    offset_m = float(mirror_offset_m(1.333 * cosine, 0.01, 1.333, 1.52))
    assert 2 * offset_m / cosine == pytest.approx(2 * glass_reach(1.333, 1.52, cosine) * 0.01, rel=1e-12)


def test_left_is_left_and_the_picture_is_the_same_every_time() -> None:
    shot = studio(True, STONE, CAMERA)
    lens = lens_of(shot.scene)
    one, other = (take(shot, lens, SIZE) for _ in range(2))
    assert np.array_equal(one, other)
    empty = take(studio(True, CAMERA), lens, SIZE)
    rows, columns = np.nonzero(np.abs(one.astype(int) - empty).max(axis=2) > 60)
    assert len(rows) > 500
    assert columns.max() < SIZE[0] / 2
    assert rows.mean() > SIZE[1] / 2


def test_nothing_clips() -> None:
    shown = take(studio(False, STONE, CAMERA), lens_of(scene_of(CAMERA)), SIZE)
    assert shown.max() < 255
    assert (shown.max(axis=2) == 0).sum() == 0
    assert shown.std() > 15


@pytest.mark.parametrize("level_mm", [120, 200])
def test_the_water_line_is_at_the_level(level_mm: int) -> None:
    shot = studio(True, CAMERA, f"[water]\nlevel_mm = {level_mm}\n")
    size = (600, 400)
    light = exposed(shot, lens_of(shot.scene), size).reshape(400, 600, 3)
    column = light[:, 300].mean(axis=1)
    row = project(shot.scene, [[0.3, 0.0, level_mm / 1000]], True, size)[0, 1]
    near = np.arange(int(row) - 12, int(row) + 12)
    assert near[column[near].argmin()] == pytest.approx(row, abs=2.0)
    assert column[near].min() < 0.7 * np.median(column[near])


def test_a_level_at_the_rim_and_none_at_all() -> None:
    lens = lens_of(scene_of(CAMERA))
    for level_mm in (0, 300):
        assert np.isfinite(exposed(studio(True, STONE, CAMERA, f"[water]\nlevel_mm = {level_mm}\n"), lens, SIZE)).all()
    dry, flat = (take(studio(wet, STONE, CAMERA, "[water]\nlevel_mm = 0\n"), lens, SIZE) for wet in (False, True))
    assert np.abs(dry.astype(int) - flat).max() <= 60  # wet stone is darker; nothing moves
    ids = [piece_ids(scene_of(STONE, CAMERA, "[water]\nlevel_mm = 0\n"), wet, SIZE, stone()) for wet in (False, True)]
    assert np.array_equal(*ids)


def test_blur_is_as_wide_as_the_lens_says(tmp_path: Path) -> None:
    """A black and white sheet behind the dry tank: an edge blurred by a disc spreads by a quarter of its diameter."""
    sheet = np.zeros((8, 2000, 3), np.uint8)
    sheet[:, 1000:] = 230
    Image.fromarray(sheet).save(tmp_path / "sheet.png")
    camera = "[camera]\nposition_mm = [300, -900, 150]\nlook_at_mm = [300, 150, 150]\nfocal_mm = 50\naperture = 2\n"
    shot = studio(False, camera + "focus_mm = 300\n", '[background]\nimage = "sheet.png"\n', folder=tmp_path)
    lens, size = lens_of(shot.scene), (600, 40)
    middle = slice(180, 420)
    sharp, blurred = (
        exposed(shot, lens, size, samples).reshape(40, 600, 3)[20, middle].mean(axis=1) for samples in (None, 400)
    )
    # the sheet's own glow falls off to the sides: measured against the white half and its mirror image
    white = np.where(np.arange(240) < 120, sharp[::-1], sharp)
    spread = np.diff(blurred / white)
    place = np.arange(239) - 119.0
    deviation = np.sqrt((spread * place**2).sum() / spread.sum() - ((spread * place).sum() / spread.sum()) ** 2)
    glass_m = 2 * 0.008 * (1 - 1 / 1.52)  # two panes seem that much thinner
    distance_m = shot.backdrop.plane_m + 0.9 - glass_m
    blur_px = float(lens.blur_m(np.array([distance_m]))[0]) / lens.frame_m[0] * size[0]
    assert blur_px > 50
    assert 4 * deviation == pytest.approx(blur_px, rel=0.04)
    assert np.sqrt((np.diff(sharp / white) * place**2).sum()) < 1.5


def test_what_is_in_focus_stays_sharp() -> None:
    shot = studio(False, STONE, CAMERA)
    lens = replace(lens_of(shot.scene), aperture=32.0)
    sharp, blurred = take(shot, lens, SIZE), take_blurred(shot, lens, SIZE, samples=24)
    assert np.abs(sharp.astype(int) - blurred).mean() < 3.0


def test_a_background_image_is_drawn(tmp_path: Path) -> None:
    Image.new("RGB", (40, 30), (20, 160, 30)).save(tmp_path / "sheet.png")
    part = '[background]\nimage = "sheet.png"\n'
    shown = take(studio(False, CAMERA, part, folder=tmp_path), lens_of(scene_of(CAMERA)), SIZE)
    middle = shown[60:100, 100:140].reshape(-1, 3).mean(axis=0)
    assert middle[1] > 2 * middle[0]
    assert middle[1] > 2 * middle[2]


@pytest.mark.parametrize(
    ("content", "says"),
    [(None, "does not exist"), (b"no picture", "no image"), (b"\x89PNG\r\n\x1a\n" + b"\0" * 40, "no image")],
)
def test_a_background_that_cannot_be_read(tmp_path: Path, content: bytes | None, says: str) -> None:
    if content is not None:
        (tmp_path / "sheet.png").write_bytes(content)
    with pytest.raises(SceneError, match=says):
        studio(False, '[background]\nimage = "sheet.png"\n', folder=tmp_path)


def test_a_truncated_background(tmp_path: Path) -> None:
    noise = np.random.default_rng(0).integers(0, 255, (200, 300, 3), dtype=np.uint8)
    Image.fromarray(noise).save(tmp_path / "whole.png")
    (tmp_path / "sheet.png").write_bytes((tmp_path / "whole.png").read_bytes()[:20_000])
    with pytest.raises(SceneError, match="damaged"):
        studio(False, '[background]\nimage = "sheet.png"\n', folder=tmp_path)


@pytest.mark.parametrize(
    ("position", "says"),
    [([300, 150, 150], "inside the tank"), ([300, 900, 150], "behind the tank"), ([-200, 100, 100], "beside the tank")],
)
def test_a_camera_that_sees_no_front_pane(position: list[float], says: str) -> None:
    camera = f"[camera]\nposition_mm = {position}\nlook_at_mm = [300, 280, 140]\n"
    shot = studio(True, STONE, camera)
    with pytest.raises(SceneError, match=says):
        take(shot, lens_of(shot.scene), SIZE)
    with pytest.raises(SceneError, match=says):
        piece_ids(shot.scene, True, SIZE, stone())


def test_from_above_through_the_surface() -> None:
    """Looking over the rim, the stone is where Snell's law at the surface alone puts it."""
    camera = "[camera]\nposition_mm = [170, -500, 900]\nlook_at_mm = [170, 150, 100]\nfocal_mm = 35\n"
    shot = studio(True, STONE, camera, "[water]\nlevel_mm = 280\n")
    size = (480, 320)
    ids = piece_ids(shot.scene, True, size, stone())
    assert (ids == 0).sum() > 500
    vertices = stone()[0].vertices_m()
    top = vertices[vertices[:, 2].argmax()]
    # the ray from the eye to the surface point that it bends at, found by trying
    eye = np.array([0.17, -0.5, 0.9])
    share = np.linspace(0.0, 1.0, 200_001)[1:-1]
    at = eye + (np.array([*top[:2], 0.28]) - [*eye[:2], 0.28]) * share[:, None] + [0, 0, 0.28 - 0.9]
    flat_air, flat_water = np.linalg.norm((at - eye)[:, :2], axis=1), np.linalg.norm((top - at)[:, :2], axis=1)
    sine_air = flat_air / np.hypot(flat_air, 0.62)
    sine_water = flat_water / np.hypot(flat_water, 0.28 - top[2])
    bend = at[np.abs(sine_air - 1.3326 * sine_water).argmin()]
    column, row = lens_of(shot.scene).pixels((bend - eye)[None], size)[0]
    assert (ids[int(row) - 2 : int(row) + 4, int(column) - 2 : int(column) + 3] == 0).any()
    rows = np.nonzero(ids[:, int(column)] == 0)[0]
    assert rows.min() <= row + 2
    assert np.isfinite(exposed(shot, lens_of(shot.scene), SIZE)).all()


def test_a_stone_over_the_rim_is_seen_above_it() -> None:
    tall = STONE.replace("110]", "400]")
    scene = scene_of(tall, CAMERA)
    ids = piece_ids(scene, True, SIZE)
    rim = project(scene, [[0.17, 0.0, 0.3]], True, SIZE)[0, 1]
    assert (ids[: int(rim) - 6] == 0).sum() > 50
    assert (ids[int(rim) + 4 :] == 0).sum() > 500
