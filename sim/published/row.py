"""One published number, and ours beside it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from sim.errors import BedjointError
from sim.materials import Status

How = Literal["function", "scene file"]

BY_HAND = "By hand: "  # so begins what stands for a source where an elementary equation is all there is
FUNCTION: How = "function"
SCENE: How = "scene file"


@dataclass(frozen=True, slots=True)
class Tolerance:
    """How far ours may lie from the published value, and why so far."""

    low: float  # of the deviation, ends included
    high: float
    relative: bool  # of the value, else in its unit
    why: str

    def accepts(self, value: float, ours: float) -> bool:
        """Whether a number lies within it; nan never does."""
        scale = abs(value) if self.relative else 1.0
        slack = 1e-12 * max(abs(value), 1.0)  # a number of a table is itself, whatever its last bit
        return self.low * scale - slack <= ours - value <= self.high * scale + slack

    def __str__(self) -> str:
        factor, unit = (100.0, " %") if self.relative else (1.0, "")
        low, high = (f"{edge * factor:.4g}{unit}" for edge in (self.low, self.high))
        return f"±{high}" if self.low == -self.high else f"{low} to {high}"


def share(of: float, why: str) -> Tolerance:
    """A share of the value, either way."""
    return Tolerance(-of, of, True, why)


def amount(most: float, why: str) -> Tolerance:
    """An amount in the value's own unit, either way."""
    return Tolerance(-most, most, False, why)


def errs_low(by: float, why: str) -> Tolerance:
    """Never above the value, and no further below it than a share of it."""
    return Tolerance(-by, 0.0, True, why)


@dataclass(frozen=True, slots=True)
class Row:
    """A number from a source, and how ours is computed.

    Attributes
    ----------
    source : author, year, title; or the standard
    place : page, table or equation in it
    what : what the number is
    unit : of both numbers; '1' for pure ones
    published : the number as printed there
    tolerance : how far ours may be away
    status : what the source is worth: read, computed from its formula apart from this program, from memory, ...
    how : by a function of the program, or on the user's way from a scene file to the report
    compute : finds ours, now
    decimals : to print of ours; None: as many as the published number has
    """

    source: str
    place: str
    what: str
    unit: str
    published: str
    tolerance: Tolerance
    status: Status
    how: How
    compute: Callable[[], float]
    decimals: int | None = None

    @property
    def value(self) -> float:
        """The published number."""
        return float(self.published)

    def printed(self, ours: float) -> str:
        """Ours with the digits that count."""
        if not math.isfinite(ours):
            return "none"
        decimals = self.decimals if self.decimals is not None else len(self.published.partition(".")[2])
        text = f"{ours:.{decimals}f}"
        return text.removeprefix("-") if not any(digit in text for digit in "123456789") else text


@dataclass(frozen=True, slots=True)
class Subject:
    """Rows of one kind."""

    title: str
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class Outcome:
    """One row computed."""

    subject: str
    row: Row
    ours: float  # nan where nothing came of it
    trouble: str = ""  # why

    @property
    def inside(self) -> bool:
        """Whether ours is within the tolerance."""
        return self.row.tolerance.accepts(self.row.value, self.ours)

    @property
    def deviation(self) -> str:
        """Of ours, to a tenth of a percent; in the unit where the published number is 0."""
        if not math.isfinite(self.ours):
            return "none"
        value = self.row.value
        if value == 0.0:
            return self.row.printed(self.ours)
        text = f"{100.0 * (self.ours - value) / abs(value):+.1f} %"
        return "0.0 %" if text[1:] == "0.0 %" else text


def compute(subject: str, row: Row) -> Outcome:
    """Compute one row; where nothing comes of it, it is without a number and out of its tolerance."""
    try:
        return Outcome(subject, row, float(row.compute()))
    except BedjointError as error:
        return Outcome(subject, row, math.nan, str(error))
    except (ArithmeticError, LookupError, ValueError) as error:
        # a report lacks what the row reads when the verdict is another than it must be
        return Outcome(subject, row, math.nan, f"nothing to read it from ({type(error).__name__}: {error})")
