"""Pictures of a stack as it is built: one per step, and a film of them all."""

from __future__ import annotations

import io
import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from sim.order import Order, Problem, Step
from sim.pieces.placing import PlacedPiece
from sim.report.picture import INK_RGB, MARGIN_PX, MOVES_RGB, PAPER_RGB, SWATCH_PX
from sim.shot.raycast import Picture
from sim.shot.scene_picture import draw_scene
from sim.states import Stage

NEW_RGB = (92, 132, 172)
SIZE_PX = (900, 600)
STEP_MS, LAST_MS = 1100, 3500
BAND_PX = 64


def step_pictures(
    stage: Stage,
    problem: Problem,
    order: Order,
    progress: Callable[[int, int], None] | None = None,
    size_px: tuple[int, int] = SIZE_PX,
) -> list[Picture]:
    """One picture per step: what it sets in blue, what is held in red, everything else in its own colours."""
    there = {problem.names[piece] for piece in np.flatnonzero(problem.fixed)}
    stacks: list[tuple[Step, list[PlacedPiece]]] = []
    for step in order.steps:
        there |= set(step.pieces)
        stacks.append((step, [piece for piece in stage.pieces if piece.id in there]))

    def work(step: Step, pieces: list[PlacedPiece]) -> Picture:
        colours = dict.fromkeys(step.pieces, NEW_RGB) | dict.fromkeys(step.holding, MOVES_RGB)
        motion = {hold.piece: np.array(hold.force_n) for hold in step.holds}
        return _captioned(draw_scene(stage.scene, pieces, size_px, colours, motion), step, len(order.steps))

    frames: list[Picture] = []
    with ThreadPoolExecutor(os.cpu_count() or 1) as pool:  # drawing runs outside of Python's lock for the most part
        for frame in pool.map(lambda stack: work(*stack), stacks):
            frames.append(frame)
            if progress is not None:
                progress(len(frames), len(stacks))
    return frames


def _captioned(picture: Picture, step: Step, of: int) -> Picture:
    font = ImageFont.load_default(size=SWATCH_PX + 4)
    small = ImageFont.load_default(size=SWATCH_PX)
    band = Image.new("RGB", (picture.rgb.shape[1], BAND_PX), PAPER_RGB)
    draw = ImageDraw.Draw(band)
    draw.text((MARGIN_PX, 10), f"{step.number} of {of}   {step.unit}", INK_RGB, font)
    draw.text((MARGIN_PX, 38), step_words(step), INK_RGB, small)
    whole = np.vstack([np.asarray(band), picture.rgb])
    return replace(picture, rgb=whole)


def step_words(step: Step) -> str:
    """What a step asks for, in one line."""
    words = [f"on {', '.join(step.rests_on)}"] if step.rests_on else []
    if step.joints:
        words.append("glue " + ", ".join(" - ".join(pair) for pair in step.joints))
    for hold in step.holds:
        newtons = float(np.linalg.norm(hold.force_n))
        words.append(f"hold {hold.piece} with {newtons:.1f} N until {hold.until}")
    if step.margin_deg is not None:
        words.append(f"bears {step.margin_deg:.1f} degrees")
    return "; ".join(words)


def film_bytes(frames: Sequence[Picture]) -> bytes:
    """The frames as an animated GIF that runs for ever and rests on its last picture."""
    images = [Image.fromarray(frame.rgb).quantize(128, dither=Image.Dither.NONE) for frame in frames]
    times = [STEP_MS] * (len(images) - 1) + [LAST_MS]
    stream = io.BytesIO()
    images[0].save(stream, "GIF", save_all=True, append_images=images[1:], duration=times, loop=0, optimize=True)
    return stream.getvalue()
