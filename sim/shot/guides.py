"""Lines of composition drawn into a picture: thirds, golden section, diagonals, the mass's triangle."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from sim.shot.composition import GOLDEN, THIRDS, Composition, Frame

GUIDES = ("thirds", "golden", "diagonals", "triangle", "silhouette")
LINE_RGBA = {
    "thirds": (255, 255, 255, 190),
    "golden": (250, 196, 70, 210),
    "diagonals": (120, 210, 255, 190),
    "triangle": (255, 110, 90, 220),
    "silhouette": (190, 255, 130, 220),
}
SHADE_RGBA = (0, 0, 0, 110)  # beside each line, so that it shows on white as well

Line = list[tuple[float, float]]


def guide_lines(names: Collection[str], shape: Composition) -> dict[str, list[Line]]:
    """Lines in pixels, from their first to their last point, by the name of the guide."""
    frame = shape.frame
    lines: dict[str, list[Line]] = {}
    for name, shares in (("thirds", THIRDS), ("golden", GOLDEN)):
        lines[name] = [[at(frame, share, 0.0), at(frame, share, 1.0)] for share in shares]
        lines[name] += [[at(frame, 0.0, share), at(frame, 1.0, share)] for share in shares]
    corners = [at(frame, u, v) for u, v in ((0, 0), (1, 1), (0, 1), (1, 0))]
    lines["diagonals"] = [corners[:2], corners[2:]]
    triangle = [at(frame, u, v) for u, v in shape.triangle]
    lines["triangle"] = [[*triangle, triangle[0]]] if triangle else []
    lines["silhouette"] = _silhouette(shape)
    return {name: lines[name] for name in GUIDES if name in names}


def at(frame: Frame, u: float, v: float) -> tuple[float, float]:
    """A place in the frame, given as shares, in pixels."""
    return frame.left + u * frame.width, frame.top + v * frame.height


def with_guides(picture: NDArray[np.uint8], names: Collection[str], shape: Composition) -> NDArray[np.uint8]:
    """The picture (height, width, 3) with guides burnt in."""
    image = Image.fromarray(picture).convert("RGBA")
    width = max(1, round(image.width / 900))
    for name, lines in guide_lines(names, shape).items():
        layer = Image.new("RGBA", image.size)
        draw = ImageDraw.Draw(layer)
        for line in lines:
            draw.line(line, SHADE_RGBA, width + 2)
        for line in lines:
            draw.line(line, LINE_RGBA[name], width)
        image = Image.alpha_composite(image, layer)
    return np.asarray(image.convert("RGB"))


def _silhouette(shape: Composition) -> list[Line]:
    frame = shape.frame
    lines: list[Line] = []
    line: Line = []
    for column, height in enumerate((*shape.silhouette, None)):
        if height is None:
            lines += [line] if len(line) > 1 else []
            line = []
        else:
            line = [*line, (frame.left + column + 0.5, frame.bottom - height * frame.height)]
    return lines
