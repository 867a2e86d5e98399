"""How the picture is composed: masses, silhouette, foreground and open space, and the lines to hold them against.

Glossary
--------
frame : the part of the picture that will be kept: the front opening of the tank, as far as it is in the picture
mass : pixels that show a piece directly, not in a mirror
foreground : what stands in the front quarter of the tank's depth (common practice, no source)
open space : pixels that show neither a piece nor the ground
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.materials.optics import FOREGROUND_SHARE
from sim.shot.seen import Seen

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

THIRDS = (1.0 / 3.0, 2.0 / 3.0)
GOLDEN = (1.0 - 2.0 / (1.0 + 5.0**0.5), 2.0 / (1.0 + 5.0**0.5))  # .382 and .618


@dataclass(frozen=True, slots=True)
class Frame:
    """A rectangle of pixels; the upper left corner belongs to it, the lower right one does not."""

    left: int
    top: int
    right: int
    bottom: int

    @property
    def width(self) -> int:
        """Columns."""
        return self.right - self.left

    @property
    def height(self) -> int:
        """Rows."""
        return self.bottom - self.top

    def cut(self, array: NDArray[np.generic]) -> NDArray[np.generic]:
        """The frame's part of an array (height, width, ...)."""
        return array[self.top : self.bottom, self.left : self.right]


@dataclass(frozen=True, slots=True, eq=False)
class Composition:
    """What a composition amounts to; places are shares of the frame, from its upper left corner."""

    frame: Frame
    mass_share: float  # of the frame that pieces take
    left_share: float | None  # of the mass, in the left half; None without any mass
    right_share: float | None
    centre: tuple[float, float] | None  # of the mass
    peak: tuple[float, float] | None  # highest point of the mass
    silhouette: tuple[float | None, ...]  # per column, height of its highest piece over the frame's foot
    foreground_share: float
    open_share: float
    open_run: tuple[float, float] | None  # widest run of columns without any piece, from and to
    triangle: tuple[tuple[float, float], ...]  # left foot, peak, right foot of the mass
    nearest_third: float | None  # distance of the peak's column to the nearest upright third
    nearest_golden: float | None


def frame_of(inside: Bools) -> Frame:
    """The smallest frame around pixels (height, width) that look into the tank; the whole picture if none does."""
    rows, columns = np.flatnonzero(inside.any(axis=1)), np.flatnonzero(inside.any(axis=0))
    if not len(rows):
        return Frame(0, 0, inside.shape[1], inside.shape[0])
    return Frame(int(columns[0]), int(rows[0]), int(columns[-1]) + 1, int(rows[-1]) + 1)


def composition(seen: Seen, depth_m: float) -> Composition:
    """The composition of a picture.

    Parameters
    ----------
    depth_m : inner depth of the tank
    """
    mass = (seen.direct >= 0) & (seen.direct < seen.floor)
    solid = seen.direct >= 0
    with np.errstate(invalid="ignore"):
        near = solid & (seen.point_m[..., 1] < FOREGROUND_SHARE.default * depth_m)
    return composed(mass, solid, near, frame_of(seen.inside))


def composed(mass: Bools, solid: Bools, near: Bools, frame: Frame) -> Composition:
    """The composition of masks (height, width): pieces, pieces and ground, those in the foreground."""
    mass, solid, near = (np.asarray(frame.cut(mask), np.bool_) for mask in (mass, solid, near))
    height, width = mass.shape
    count = int(mass.sum())
    # a column through the middle counts for both sides
    left = mass[:, : width // 2].sum() + (mass[:, width // 2].sum() / 2.0 if width % 2 else 0.0)
    columns: Bools = np.asarray(mass.any(axis=0))
    tops = np.where(columns, mass.argmax(axis=0), height)
    peak: tuple[float, float] | None = None
    centre: tuple[float, float] | None = None
    triangle: tuple[tuple[float, float], ...] = ()
    if count:
        rows, across = np.nonzero(mass)
        centre = (float(across.mean() + 0.5) / width, float(rows.mean() + 0.5) / height)
        highest = np.flatnonzero(tops == tops.min())
        peak = (float(highest.mean() + 0.5) / width, float(tops.min()) / height)
        triangle = _triangle(mass, columns, peak)
    return Composition(
        frame=frame,
        mass_share=count / mass.size,
        left_share=float(left / count) if count else None,
        right_share=float(1.0 - left / count) if count else None,
        centre=centre,
        peak=peak,
        silhouette=tuple(
            float((height - top) / height) if there else None for top, there in zip(tops, columns, strict=True)
        ),
        foreground_share=float(near.mean()),
        open_share=float(1.0 - solid.mean()),
        open_run=_widest_gap(columns),
        triangle=triangle,
        nearest_third=min(abs(peak[0] - line) for line in THIRDS) if peak else None,
        nearest_golden=min(abs(peak[0] - line) for line in GOLDEN) if peak else None,
    )


def _triangle(mass: Bools, columns: Bools, peak: tuple[float, float]) -> tuple[tuple[float, float], ...]:
    """Left foot, peak and right foot: the feet are the outermost columns, where they stand lowest."""
    height, width = mass.shape
    ends = np.flatnonzero(columns)[[0, -1]]
    feet = [height - int(mass[::-1, column].argmax()) for column in ends]
    return (
        (float(ends[0]) / width, feet[0] / height),
        peak,
        (float(ends[1] + 1) / width, feet[1] / height),
    )


def _widest_gap(columns: Bools) -> tuple[float, float] | None:
    runs = runs_of(~columns)
    if not runs:
        return None
    start, end = max(runs, key=lambda run: run[1] - run[0])
    return start / len(columns), end / len(columns)


def runs_of(flags: Bools) -> list[tuple[int, int]]:
    """Runs of true values, from (included) and to (not included)."""
    changes = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(np.int8)))
    return [(int(start), int(end)) for start, end in changes.reshape(-1, 2)]
