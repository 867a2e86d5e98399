"""Paper sizes, and lengths as the sheet prints them."""

from __future__ import annotations

from dataclasses import dataclass

from sim.units import METRES_PER_UNIT, MM_PER_M

MM_PER_INCH = METRES_PER_UNIT["in"] * MM_PER_M
POINTS_PER_MM = 72.0 / MM_PER_INCH
MARGIN_MM = 15.0
FOOT_MM = 18.0  # below the text: the footer's room


@dataclass(frozen=True, slots=True)
class Paper:
    """A sheet of paper, upright."""

    name: str
    width_mm: float
    height_mm: float

    @property
    def inside_mm(self) -> tuple[float, float]:
        """Width and height between the margins."""
        return self.width_mm - 2.0 * MARGIN_MM, self.height_mm - MARGIN_MM - FOOT_MM


# ISO 216:2007, table 1; ANSI/ASME Y14.1, size A (from memory)
PAPERS = {"a4": Paper("A4", 210.0, 297.0), "letter": Paper("Letter", 215.9, 279.4)}


@dataclass(frozen=True, slots=True)
class Measures:
    """Lengths in millimetres, and beside them in inches where that is wanted."""

    inches: bool = False

    @property
    def unit(self) -> str:
        """For the head of a column."""
        return "mm (in)" if self.inches else "mm"

    def bare(self, *lengths_mm: float) -> str:
        """Lengths without their unit, several joined by a cross."""
        metric = " × ".join(_whole(one) for one in lengths_mm)
        if not self.inches:
            return metric
        return f"{metric} ({' × '.join(_inches(one) for one in lengths_mm)})"

    def point(self, *place_mm: float) -> str:
        """A place by its coordinates, without the unit."""
        metric = ", ".join(_whole(one) for one in place_mm)
        return f"{metric} ({', '.join(_inches(one) for one in place_mm)})" if self.inches else metric

    def length(self, *lengths_mm: float) -> str:
        """Lengths with their unit."""
        metric = " × ".join(_whole(one) for one in lengths_mm) + " mm"
        if not self.inches:
            return metric
        return f"{metric} ({' × '.join(_inches(one) for one in lengths_mm)} in)"


def _whole(length_mm: float) -> str:
    return f"{length_mm + 0.0:.0f}".replace("-0", "0") if abs(length_mm) < 0.5 else f"{length_mm:.0f}"


def _inches(length_mm: float) -> str:
    return f"{length_mm / MM_PER_INCH + 0.0:.2f}".replace("-0.00", "0.00")
