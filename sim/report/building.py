"""Pictures of a stack as it is built: before and after each step, and a film of them all.

Each stack is drawn once, in its own colours: it is the picture before the next step, and with the new piece marked the
picture after its own. Marks are outlines as well as colours, so that they survive a black-and-white printer.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont
from scipy.ndimage import binary_dilation

from sim.order import Order, Step
from sim.pieces.placing import PlacedPiece
from sim.pieces.reducing import DISPLAY_TRIANGLES
from sim.report.picture import INK_RGB, MARGIN_PX, MOVES_RGB, PAPER_RGB, SWATCH_PX
from sim.scene import Scene
from sim.shot.ambient import SKY_RAYS
from sim.shot.camera import View, overview
from sim.shot.drawing import FLOOR_RGB, TABLE_RGB, box_shape, tank_edges
from sim.shot.raycast import Picture, Shape, render
from sim.shot.scene_picture import light, piece_shapes
from sim.threads import threads
from sim.units import MM_PER_M

Floats = NDArray[np.float64]
Pixels = NDArray[np.uint8]

NEW_RGB = (92, 132, 172)
TINT = 0.45
SIZE_PX = (900, 600)
STACK_TRIANGLES, FEWEST = 30_000, 1500  # of all pieces together, as far as each keeps the latter
STEP_MS, LAST_MS = 1100, 3500
BAND_PX = 64
ROOM_M = 0.03
TABLE = 4.0  # times the size of the tank


@dataclass(frozen=True, slots=True, eq=False)
class StepPicture:
    """The stack before a step, and after it with what it sets and what is held marked; (height, width, 3) each."""

    step: Step
    before: Pixels
    after: Pixels


def step_pictures(
    scene: Scene,
    pieces: Sequence[PlacedPiece],
    order: Order,
    progress: Callable[[int, int], None] | None = None,
    size_px: tuple[int, int] = SIZE_PX,
) -> list[StepPicture]:
    """Draw every step of an order.

    Parameters
    ----------
    pieces : all of the scene, at their places; fixed ones are there from the first step on
    """
    if not order.steps:
        return []
    display = light(pieces, max(FEWEST, min(DISPLAY_TRIANGLES, STACK_TRIANGLES // max(len(pieces), 1))))
    look = _Look.at(scene, display, size_px)
    there = {piece.id for piece in pieces if piece.fixed}
    stacks = [[piece for piece in display if piece.id in there]]
    for step in order.steps:
        there |= set(step.pieces)
        stacks.append([piece for piece in display if piece.id in there])
    plain: list[Picture] = []
    with threads() as pool:
        for picture in pool.map(look.draw, stacks):
            plain.append(picture)
            if progress is not None:
                progress(len(plain) - 1, len(order.steps))
    found = []
    for k, step in enumerate(order.steps):
        after = plain[k + 1]
        if step.holds:
            after = look.draw(stacks[k + 1], {hold.piece: np.array(hold.force_n) for hold in step.holds})
        for names, rgb in ((step.pieces, NEW_RGB), (step.holding, MOVES_RGB)):
            shapes = [n for n, piece in enumerate(stacks[k + 1]) if piece.id in names]
            after = replace(after, rgb=_marked(after, shapes, rgb))
        found.append(StepPicture(step, plain[k].rgb, after.rgb))
    return found


def film_frames(pictures: Sequence[StepPicture]) -> list[Pixels]:
    """The pictures after each step under a line that says what it does."""
    return [_captioned(one.after, one.step, len(pictures)) for one in pictures]


@dataclass(frozen=True, slots=True, eq=False)
class _Look:
    """The tank without its pieces, and a view of them all, the same for every step."""

    view: View
    tank: list[Shape]  # its edges and a plain floor: a fine one takes longer than the stones
    size_px: tuple[int, int]

    @classmethod
    def at(cls, scene: Scene, pieces: Sequence[PlacedPiece], size_px: tuple[int, int]) -> _Look:
        ends = [(v.min(axis=0), v.max(axis=0)) for v in (piece.vertices_m() for piece in pieces)]
        low = np.min([low for low, _ in ends], axis=0) - ROOM_M
        high = np.max([high for _, high in ends], axis=0) + ROOM_M
        inner_m, base_m = np.array(scene.tank.inner_mm) / MM_PER_M, scene.tank.base_mm / MM_PER_M
        edges = tank_edges(inner_m, base_m, scene.water_level_mm / MM_PER_M)
        far = TABLE * inner_m
        floor = box_shape(
            np.array([0.0, 0.0, -base_m / 2.0]), inner_m * [1.0, 1.0, 0.0] - [0.0, 0.0, 1.0e-4], FLOOR_RGB
        )
        table = box_shape(np.array([-far[0], -far[1], -base_m - 0.01]), far * [1, 1, 0] - [0, 0, base_m], TABLE_RGB)
        return cls(overview(low, high), [*edges, floor, table], size_px)

    def draw(self, pieces: Sequence[PlacedPiece], forces: Mapping[str, Floats] | None = None) -> Picture:
        """The pieces in the tank, with arrows where a force is given."""
        shapes = piece_shapes(pieces, motion=forces) + self.tank
        return render(shapes, self.view, self.size_px, sky_rays=SKY_RAYS // 2)


def _marked(picture: Picture, shapes: list[int], rgb: tuple[int, int, int]) -> Pixels:
    """Shapes tinted and outlined."""
    shown = picture.rgb.copy()
    inside = np.isin(picture.shape, shapes)
    if not inside.any():
        return shown
    shown[inside] = (shown[inside] * (1.0 - TINT) + np.array(rgb) * TINT).astype(np.uint8)
    shown[binary_dilation(inside, iterations=2) & ~inside] = 0
    return shown


def _captioned(rgb: Pixels, step: Step, of: int) -> Pixels:
    font = ImageFont.load_default(size=SWATCH_PX + 4)
    small = ImageFont.load_default(size=SWATCH_PX)
    band = Image.new("RGB", (rgb.shape[1], BAND_PX), PAPER_RGB)
    draw = ImageDraw.Draw(band)
    draw.text((MARGIN_PX, 10), f"{step.number} of {of}   {step.unit}", INK_RGB, font)
    draw.text((MARGIN_PX, 38), step_words(step), INK_RGB, small)
    return np.vstack([np.asarray(band), rgb])


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


def film_bytes(frames: Sequence[Pixels]) -> bytes:
    """The frames as an animated GIF that runs for ever and rests on its last picture."""
    images = [Image.fromarray(frame).quantize(128, dither=Image.Dither.NONE) for frame in frames]
    times = [STEP_MS] * (len(images) - 1) + [LAST_MS]
    stream = io.BytesIO()
    images[0].save(stream, "GIF", save_all=True, append_images=images[1:], duration=times, loop=0, optimize=True)
    return stream.getvalue()
