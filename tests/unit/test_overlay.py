"""Photos read and refused; the wireframe and the shot laid over them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from clicking import borders, empty_tank
from PIL import Image
from shots import scene_with

from sim.errors import BedjointError
from sim.shot.clicks import EDGES
from sim.shot.lens import lens_of
from sim.shot.overlay import (
    BACK_RGB,
    DEPTH_RGB,
    FRONT_RGB,
    GAP_PX,
    OUTLINE_RGB,
    lay_over,
    outline,
    outline_of_shapes,
    read_photo,
    wireframe,
)
from sim.shot.refraction import tank_of

GREY, RED = (120, 120, 120), (250, 10, 10)


def test_a_photo_is_read_upright(tmp_path: Path) -> None:
    """A camera held upright stores a lying picture and says so; its upper left corner is then the lower left."""
    stored = np.zeros((40, 60, 3), np.uint8)
    stored[30:, :10] = RED
    exif = Image.Exif()
    exif[0x0112] = 6
    Image.fromarray(stored).save(tmp_path / "photo.png", exif=exif)
    image, size = read_photo(tmp_path / "photo.png")
    assert size == image.size == (40, 60)
    assert image.getpixel((2, 2)) == RED


@pytest.mark.parametrize("name", ["photo.jpg", "photo.png"])
def test_a_photo_of_a_hundred_megapixels(tmp_path: Path, name: str) -> None:
    Image.new("RGB", (12_000, 8_400), GREY).save(tmp_path / name)
    image, size = read_photo(tmp_path / name, largest_px=1000)
    assert size == (12_000, 8_400)
    assert image.size == (1000, 700)
    assert np.asarray(image).mean() == pytest.approx(120.0, abs=1.0)


@pytest.mark.parametrize("mode", ["L", "RGBA", "P", "CMYK", "I;16"])
def test_any_kind_of_pixels(tmp_path: Path, mode: str) -> None:
    Image.new(mode, (30, 20)).save(tmp_path / "photo.tif")
    assert np.asarray(read_photo(tmp_path / "photo.tif")[0]).shape == (20, 30, 3)


def test_no_photo(tmp_path: Path) -> None:
    with pytest.raises(BedjointError, match="there is no such picture"):
        read_photo(tmp_path / "none.jpg")
    with pytest.raises(BedjointError, match="cannot be read as a picture"):
        read_photo(tmp_path)


@pytest.mark.parametrize("ending", ["jpg", "png", "webp", "tif"])
def test_a_damaged_photo(tmp_path: Path, ending: str) -> None:
    path = tmp_path / f"photo.{ending}"
    rng = np.random.default_rng(0)
    Image.fromarray(rng.integers(0, 255, (200, 300, 3), dtype=np.uint8)).save(path)
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    with pytest.raises(BedjointError, match="cannot be read as a picture, or is damaged"):
        read_photo(path)
    path.write_bytes(b"no picture at all")
    with pytest.raises(BedjointError, match="cannot be read as a picture"):
        read_photo(path)


def test_a_picture_too_large_to_unpack(tmp_path: Path) -> None:
    Image.new("1", (20_000, 10_000)).save(tmp_path / "photo.png")
    with pytest.raises(BedjointError, match="more than 170 megapixels"):
        read_photo(tmp_path / "photo.png")


def test_the_wireframe_lies_on_the_edges_of_a_traced_photo() -> None:
    scene = scene_with("position_mm = [790, -1212, 270]\nfocal_mm = 24")
    lens, tank, size = lens_of(scene), tank_of(scene, flooded=False), (1200, 800)
    faces = empty_tank(np.array(tank.inner_m), tank.side_m, lens.position_m, 1.0 / lens.focal_px(size), size)
    drawn = np.asarray(wireframe(Image.new("RGB", size), lens, tank))
    inked = np.argwhere(
        (drawn == FRONT_RGB).all(axis=2) | (drawn == BACK_RGB).all(axis=2) | (drawn == DEPTH_RGB).all(axis=2)
    )
    true = np.concatenate([borders(faces, edge) for edge in EDGES])
    for points, others in ((inked[:, ::-1] + 0.5, true), (true, inked[:, ::-1] + 0.5)):
        gaps = np.concatenate(
            [np.linalg.norm(part[:, None] - others[None], axis=2).min(axis=1) for part in np.array_split(points, 20)]
        )
        assert gaps.max() < 1.5  # a line one pixel wide, and borders between pixels


def test_blended_by_opacity() -> None:
    shot = np.full((20, 30, 3), 200, np.uint8)
    under = Image.new("RGB", (30, 20), (100, 0, 50))
    assert (lay_over(shot, under, 0.25) == [125, 50, 88]).all()
    assert (lay_over(shot, under, 1.0) == 200).all()
    assert (lay_over(shot, under, 0.0) == [100, 0, 50]).all()
    with pytest.raises(BedjointError, match="give 0 to 1"):
        lay_over(shot, under, 1.5)


def test_a_picture_of_another_shape_covers_the_frame_evenly() -> None:
    """60 x 20 under 30 x 20: 15 columns are cut off on each side."""
    columns = np.tile(np.arange(60, dtype=np.uint8)[None, :, None], (20, 1, 3))
    below = lay_over(np.zeros((20, 30, 3), np.uint8), Image.fromarray(columns), 0.0)
    assert below[0, :, 0] == pytest.approx(np.arange(15, 45), abs=1)


def test_edges_only() -> None:
    shot = np.full((40, 60, 3), 30, np.uint8)
    shot[10:30, 20:40] = 220
    shapes = (shot[..., 0] > 100).astype(np.int32)
    under = Image.new("RGB", (60, 40), GREY)
    for found in (lay_over(shot, under, 1.0, "edges"), lay_over(shot, under, 1.0, "edges", shapes)):
        lines = (found == OUTLINE_RGB).all(axis=2)
        assert lines[9:11, 25:35].any(axis=0).all()  # along the upper side
        assert not lines[15:25, 25:35].any()  # nothing inside
        assert (found[~lines] == GREY).all()
    assert outline_of_shapes(shapes).sum() == 4 * 20 + 4 * 20 - 4  # a ring on either side of the border
    assert not outline(np.full((20, 20, 3), 90, np.uint8)).any()


def test_side_by_side() -> None:
    shot = np.full((20, 30, 3), 200, np.uint8)
    both = lay_over(shot, Image.new("RGB", (30, 20), GREY), 0.5, "beside")
    assert both.shape == (20, 60 + GAP_PX, 3)
    assert (both[:, :30] == GREY).all()
    assert (both[:, -30:] == 200).all()
