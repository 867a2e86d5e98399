"""One picture over another: the tank's wireframe on a photo, the shot on a photo or a concept picture."""

from __future__ import annotations

import io
import struct
import warnings
from itertools import pairwise
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageOps
from scipy import ndimage

from sim.errors import BedjointError, OutputError
from sim.shot.clicks import EDGES, corner_m
from sim.shot.lens import Lens
from sim.shot.projection import project_with
from sim.shot.refraction import Tank

Pixels = NDArray[np.uint8]
Manner = Literal["blend", "edges", "beside"]

LARGEST_PX = 4000  # width or height of a photo to draw on; larger ones are reduced
FRONT_RGB, BACK_RGB, DEPTH_RGB = (255, 92, 40), (40, 120, 255), (255, 214, 64)
OUTLINE_RGB = (255, 92, 40)
STEEP = 0.10  # change of brightness across an outline, of the whole range
POINTS_PER_EDGE = 48
GAP_PX = 12
KINDS = {".png": "PNG", ".jpg": "JPEG", ".jpeg": "JPEG", ".webp": "WEBP"}


def read_photo(path: Path, largest_px: int = LARGEST_PX) -> tuple[Image.Image, tuple[int, int]]:
    """A photo as it is shown, upright, and its full size.

    A photo larger than `largest_px` comes back reduced; up to 170 megapixels are read.

    Raises
    ------
    BedjointError
        When there is none, it is no image, or it is damaged or far too large.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)  # photos may have 100 megapixels
            opened = Image.open(path)
        with opened:
            turned = int(opened.getexif().get(0x0112, 1)) >= 5
            full = (opened.height, opened.width) if turned else (opened.width, opened.height)
            opened.draft("RGB", (largest_px, largest_px))  # a JPEG unpacks to half or a quarter at once
            image = ImageOps.exif_transpose(opened).convert("RGB")
    except FileNotFoundError as error:
        raise BedjointError(f"{path}: there is no such picture. Check the path.") from error
    except Image.DecompressionBombError as error:
        raise BedjointError(
            f"{path}: more than 170 megapixels. Make it smaller, and click in the smaller one."
        ) from error
    except (OSError, SyntaxError, ValueError, TypeError, struct.error, MemoryError) as error:
        raise BedjointError(
            f"{path}: cannot be read as a picture, or is damaged. Save it as JPEG or PNG again."
        ) from error
    image.thumbnail((largest_px, largest_px), Image.Resampling.LANCZOS)
    return image, full


def wireframe(photo: Image.Image, lens: Lens, tank: Tank) -> Image.Image:
    """The inner edges of a tank drawn over a photo: front red, back blue, the others yellow.

    Parameters
    ----------
    photo : Image
        Its width is the width of the lens's frame.
    """
    drawn = photo.copy()
    pen = ImageDraw.Draw(drawn)
    width = max(1, photo.width // 1500)
    share = np.linspace(0.0, 1.0, POINTS_PER_EDGE + 1)[:, None]
    for edge in sorted(EDGES, key=lambda pair: pair[0] + pair[1]):
        first, last = (corner_m(name, tank) for name in edge)
        pixels = project_with(lens, tank, first + share * (last - first), photo.size)
        depths = {name.split("_")[0] for name in edge}
        rgb = DEPTH_RGB if len(depths) == 2 else FRONT_RGB if "front" in depths else BACK_RGB
        for start, end in pairwise(pixels):
            if np.isfinite([start, end]).all() and np.abs([start, end]).max() < 1e5:
                # whole pixels, counted from their middles: fractions would be cut off
                pen.line([*np.floor(start).tolist(), *np.floor(end).tolist()], fill=rgb, width=width)
    return drawn


def lay_over(
    shot: Pixels, under: Image.Image, opacity: float, manner: Manner = "blend", shapes: NDArray[np.int32] | None = None
) -> Pixels:
    """The shot over a photo or a concept picture.

    Parameters
    ----------
    shot : (height, width, 3)
    under : Image
        Scaled to cover the shot's frame; what juts out is cut off evenly.
    opacity : float
        Of the shot, 0 to 1; of its outlines for 'edges'. Without meaning for 'beside'.
    manner : 'blend', 'edges' (only the outlines of the shot) or 'beside' (next to each other)
    shapes : (height, width), optional
        Which shape each pixel shows: outlines then run where shapes meet, else where brightness changes.
    """
    if not 0.0 <= opacity <= 1.0:
        raise BedjointError(f"opacity {opacity:g}: give 0 to 1.")
    height, width = shot.shape[:2]
    below = np.asarray(ImageOps.fit(under, (width, height), Image.Resampling.LANCZOS), dtype=np.uint8)
    if manner == "beside":
        return np.concatenate([below, np.full((height, GAP_PX, 3), 255, np.uint8), shot], axis=1)
    if manner == "edges":
        lines = outline(shot) if shapes is None else outline_of_shapes(shapes)
        inked = below * (1.0 - opacity) + np.array(OUTLINE_RGB) * opacity
        return np.where(lines[..., None], np.round(inked).astype(np.uint8), below)
    return np.asarray(np.round(below * (1.0 - opacity) + shot * opacity), dtype=np.uint8)


def outline(rgb: Pixels) -> NDArray[np.bool_]:
    """Where brightness changes steeply: (height, width)."""
    light = ndimage.gaussian_filter(rgb.astype(np.float64) @ [0.2126, 0.7152, 0.0722] / 255.0, 1.0)
    slope = np.hypot(ndimage.sobel(light, axis=0), ndimage.sobel(light, axis=1)) / 4.0
    return np.asarray(slope > STEEP)


def outline_of_shapes(shapes: NDArray[np.int32]) -> NDArray[np.bool_]:
    """Pixels (height, width) beside one that shows another shape."""
    lines = np.zeros(shapes.shape, dtype=np.bool_)
    for axis in (0, 1):
        ahead = np.diff(shapes, axis=axis) != 0
        pad = [(0, 0), (0, 0)]
        pad[axis] = (0, 1)
        lines |= np.pad(ahead, pad)
        pad[axis] = (1, 0)
        lines |= np.pad(ahead, pad)
    return lines


def picture_bytes(picture: Image.Image | Pixels, path: Path) -> bytes:
    """A picture as the content of a file of that name, whose ending says the kind.

    Raises
    ------
    OutputError
        For an ending other than .png, .jpg, .jpeg and .webp.
    """
    kind = KINDS.get(path.suffix.lower())
    if kind is None:
        raise OutputError(f'{path}: "{path.suffix}" is no kind of picture. Name the file .png, .jpg or .webp.')
    stream = io.BytesIO()
    (picture if isinstance(picture, Image.Image) else Image.fromarray(picture)).save(stream, kind, quality=93)
    return stream.getvalue()
