"""The typeface of the sheet, and text that it can print."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

PLAIN, BOLD = "SheetSans", "SheetSans-Bold"
MISSING = "?"  # in place of a letter that the typeface lacks


@cache
def register() -> None:
    """Load the typeface that comes with matplotlib (DejaVu, a free licence): Latin, Greek and Cyrillic."""
    import matplotlib as mpl

    folder = Path(mpl.get_data_path()) / "fonts" / "ttf"
    pdfmetrics.registerFont(TTFont(PLAIN, str(folder / "DejaVuSans.ttf")))
    pdfmetrics.registerFont(TTFont(BOLD, str(folder / "DejaVuSans-Bold.ttf")))
    pdfmetrics.registerFontFamily(PLAIN, normal=PLAIN, bold=BOLD, italic=PLAIN, boldItalic=BOLD)


def printable(text: str) -> str:
    """The text with every letter that the typeface lacks replaced, and its white space made plain."""
    register()
    known = pdfmetrics.getFont(PLAIN).face.charToGlyph
    return "".join(sign if ord(sign) in known else MISSING for sign in " ".join(text.split()))


def width_pt(text: str, size_pt: float, bold: bool = False) -> float:
    """Length of a line of text, points."""
    register()
    return float(pdfmetrics.stringWidth(text, BOLD if bold else PLAIN, size_pt))
