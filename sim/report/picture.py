"""A picture of the governing state: pieces coloured by margin, and arrows on what moves."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from sim.pieces.placing import PlacedPiece
from sim.scene import Scene
from sim.shot.raycast import Picture
from sim.shot.scene_picture import draw_scene, png_bytes
from sim.states import Report
from sim.states.words import towards
from sim.units import STANDARD_GRAVITY_M_S2, significant

Font = ImageFont.FreeTypeFont | ImageFont.ImageFont

# blue to orange, so that the scale reads without telling red from green
MOVES_RGB = (184, 72, 40)
WEAK_RGB = (226, 156, 84)
FAIR_RGB = (222, 208, 168)
FIRM_RGB = (92, 132, 172)
PLAIN_RGB = (176, 174, 170)
WEAK_SHARE, FAIR_SHARE = 0.15, 0.4  # push over weight: some 8 and 22 degrees of tilt
LEGEND = (
    (WEAK_RGB, "a push under 15 % of its weight moves it"),
    (FAIR_RGB, "under 40 %"),
    (FIRM_RGB, "over 40 %"),
    (PLAIN_RGB, "not pushed: it carries others, is fixed, or unknown"),
)
SWATCH_PX, MARGIN_PX = 14, 18
LINE_PX = SWATCH_PX + 10
MOST_LINES = 3  # of words above the legend
PAPER_RGB, INK_RGB = (247, 245, 240), (40, 38, 34)


def margin_picture(
    scene: Scene, pieces: list[PlacedPiece], report: Report, size_px: tuple[int, int] = (1200, 800)
) -> bytes:
    """PNG of the scene with each piece in the colour of its margin, and the legend beneath."""
    return png_bytes(_with_legend(draw_margins(scene, pieces, report, size_px), report).rgb)


def draw_margins(scene: Scene, pieces: list[PlacedPiece], report: Report, size_px: tuple[int, int]) -> Picture:
    """The same without the legend; its `shape` tells by number, in the order of `pieces`, what each pixel shows."""
    state = report.states[report.governing] if report.governing is not None else None
    colours = {piece.id: PLAIN_RGB for piece in pieces}
    motion = {}
    if state is not None:
        weight_n = {piece.id: piece.mass_kg * STANDARD_GRAVITY_M_S2 for piece in pieces}
        for push in state.pushes:
            if push.push_n is not None:
                colours[push.piece] = _by_share(push.push_n / max(weight_n[push.piece], 1e-9))
        colours |= dict.fromkeys(state.moving, MOVES_RGB)
        motion = {one.piece: np.array(one.direction) for one in state.motions}
    return draw_scene(scene, pieces, size_px, colours, motion)


def _by_share(share: float) -> tuple[int, int, int]:
    if share < WEAK_SHARE:
        return WEAK_RGB
    return FAIR_RGB if share < FAIR_SHARE else FIRM_RGB


def _moves_words(report: Report) -> str:
    """What the colour of motion says: it is coming down, or would at the critical tilt."""
    state = report.states[report.governing] if report.governing is not None else None
    if state is None or state.equilibrium.critical_tilt_deg is None:
        return "moves"
    tilt, azimuth = state.equilibrium.critical_tilt_deg, state.equilibrium.critical_azimuth_deg
    way = f" to the {towards(azimuth)}" if azimuth is not None else ""
    return f"moves first, at a tilt of {significant(tilt, 2)} degrees{way}"


def _with_legend(picture: Picture, report: Report) -> Picture:
    image = Image.fromarray(picture.rgb)
    font = ImageFont.load_default(size=SWATCH_PX)
    why = f": {report.reason}" if report.reason else ""
    words = _lines(f"{report.title or 'Scene'}: {report.verdict}{why}", font, image.width - 2 * MARGIN_PX)
    legend = ((MOVES_RGB, _moves_words(report)), *LEGEND)
    places = _places([words for _, words in legend], font, image.width, MARGIN_PX + LINE_PX * len(words))
    band = Image.new("RGB", (image.width, places[-1][1] + LINE_PX + MARGIN_PX // 2), PAPER_RGB)
    draw = ImageDraw.Draw(band)
    for k, line in enumerate(words):
        draw.text((MARGIN_PX, MARGIN_PX - 6 + LINE_PX * k), line, INK_RGB, font)
    for (rgb, name), (x, y) in zip(legend, places, strict=True):
        draw.rectangle((x, y, x + SWATCH_PX, y + SWATCH_PX), rgb, (60, 58, 54))
        draw.text((x + SWATCH_PX + 8, y - 1), name, INK_RGB, font)
    whole = Image.new("RGB", (image.width, image.height + band.height))
    whole.paste(image, (0, 0))
    whole.paste(band, (0, image.height))
    return replace(picture, rgb=np.asarray(whole))


def _places(names: list[str], font: Font, width_px: int, top_px: int) -> list[tuple[int, int]]:
    """Corner (x, y) of each swatch, from left to right and on to the next line where the picture ends."""
    places: list[tuple[int, int]] = []
    x, y = MARGIN_PX, top_px
    for name in names:
        length = SWATCH_PX + int(font.getlength(name)) + 8
        if x > MARGIN_PX and x + length + MARGIN_PX > width_px:
            x, y = MARGIN_PX, y + LINE_PX
        places.append((x, y))
        x += length + 28
    return places


def _lines(text: str, font: Font, width_px: int) -> list[str]:
    """Text broken at spaces into lines that fit; what does not fit in the last one is cut, visibly."""
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and font.getlength(longer) > width_px:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines if len(lines) <= MOST_LINES else [*lines[: MOST_LINES - 1], f"{lines[MOST_LINES - 1]} ..."]
