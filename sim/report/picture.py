"""A picture of the governing state: pieces coloured by margin, and arrows on what moves."""

from __future__ import annotations

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from sim.check import Report
from sim.pieces.placing import PlacedPiece
from sim.scene import Scene
from sim.shot.raycast import Picture
from sim.shot.scene_picture import draw_scene, png_bytes

# blue to orange, so that the scale reads without telling red from green
MOVES_RGB = (184, 72, 40)
WEAK_RGB = (226, 156, 84)
FAIR_RGB = (222, 208, 168)
FIRM_RGB = (92, 132, 172)
PLAIN_RGB = (176, 174, 170)
WEAK_SHARE, FAIR_SHARE = 0.15, 0.4  # push over weight: some 8 and 22 degrees of tilt
LEGEND = (
    (MOVES_RGB, "moves first"),
    (WEAK_RGB, "a push under 15 % of its weight moves it"),
    (FAIR_RGB, "under 40 %"),
    (FIRM_RGB, "over 40 %"),
    (PLAIN_RGB, "not pushed: it carries others, is fixed, or unknown"),
)
SWATCH_PX, MARGIN_PX = 14, 18


def margin_picture(
    scene: Scene, pieces: list[PlacedPiece], report: Report, size_px: tuple[int, int] = (1200, 800)
) -> bytes:
    """PNG of the scene with each piece in the colour of its margin, and the legend beneath."""
    state = report.states[report.governing] if report.governing is not None else None
    colours = {piece.id: PLAIN_RGB for piece in pieces}
    motion = {}
    if state is not None:
        weight_n = {piece.id: piece.mass_kg * 9.80665 for piece in pieces}
        for push in state.pushes:
            if push.push_n is not None:
                colours[push.piece] = _by_share(push.push_n / max(weight_n[push.piece], 1e-9))
        colours |= dict.fromkeys(state.moving, MOVES_RGB)
        motion = {one.piece: np.array(one.direction) for one in state.motions}
    picture = draw_scene(scene, pieces, size_px, colours, motion)
    return png_bytes(_with_legend(picture, report))


def _by_share(share: float) -> tuple[int, int, int]:
    if share < WEAK_SHARE:
        return WEAK_RGB
    return FAIR_RGB if share < FAIR_SHARE else FIRM_RGB


def _with_legend(picture: Picture, report: Report) -> Picture:
    image = Image.fromarray(picture.rgb)
    band = Image.new("RGB", (image.width, 2 * MARGIN_PX + 3 * (SWATCH_PX + 10)), (247, 245, 240))
    draw = ImageDraw.Draw(band)
    font = ImageFont.load_default(size=SWATCH_PX)
    draw.text(
        (MARGIN_PX, MARGIN_PX - 6),
        f"{report.title or 'Scene'}: {report.verdict}. {report.reason}"[:150],
        (40, 38, 34),
        font,
    )
    x, y = MARGIN_PX, MARGIN_PX + SWATCH_PX + 10
    for rgb, words in LEGEND:
        length = int(draw.textlength(words, font))
        if x + SWATCH_PX + length + 30 > image.width:
            x, y = MARGIN_PX, y + SWATCH_PX + 10
        draw.rectangle((x, y, x + SWATCH_PX, y + SWATCH_PX), rgb, (60, 58, 54))
        draw.text((x + SWATCH_PX + 8, y - 1), words, (40, 38, 34), font)
        x += SWATCH_PX + length + 36
    whole = Image.new("RGB", (image.width, image.height + band.height))
    whole.paste(image, (0, 0))
    whole.paste(band, (0, image.height))
    from dataclasses import replace

    return replace(picture, rgb=np.asarray(whole))
