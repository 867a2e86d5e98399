"""Several shots on one sheet, each with its label."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

PAPER_RGB, INK_RGB = (24, 26, 27), (232, 232, 226)
GAP_SHARE = 0.012  # of a picture's width
LABEL_SHARE = 0.034


def contact_sheet(pictures: Sequence[tuple[str, NDArray[np.uint8]]], columns: int | None = None) -> NDArray[np.uint8]:
    """Pictures (height, width, 3) of one size, row by row, with their labels under them.

    Parameters
    ----------
    pictures : label and picture, at least one
    columns : default: nearly as many as rows
    """
    height, width = pictures[0][1].shape[:2]
    across = columns or math.ceil(math.sqrt(len(pictures)))
    down = math.ceil(len(pictures) / across)
    gap, label = max(4, round(GAP_SHARE * width)), max(14, round(LABEL_SHARE * width))
    sheet = Image.new("RGB", (across * (width + gap) + gap, down * (height + label + gap) + gap), PAPER_RGB)
    draw, font = ImageDraw.Draw(sheet), ImageFont.load_default(size=round(0.62 * label))
    for number, (words, picture) in enumerate(pictures):
        x = gap + (number % across) * (width + gap)
        y = gap + (number // across) * (height + label + gap)
        sheet.paste(Image.fromarray(picture), (x, y))
        draw.text((x + width / 2, y + height + 0.5 * label), words, INK_RGB, font, anchor="mm")
    return np.asarray(sheet)
