"""Forced perspective: how small a piece must be to look far away, and how the ground must rise with it.

Glossary
--------
apparent distance A : at which something behind the pane seems to lie: D + d / ng + z / n
reference depth : where things are built at full size; the eye takes their size for the true one
times k : something at A is to look k times as far away as the reference; its scale is A / (k A0)
recede : the picture as a whole recedes evenly from the reference to the back pane
rise : of the ground that level ground would seem to have so far away
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.base.ground import layer_depth_m
from sim.errors import BedjointError
from sim.materials.optics import FOREGROUND_SHARE
from sim.pieces.placing import PlacedPiece
from sim.scene import Scene
from sim.shot.lens import Lens
from sim.shot.refraction import Tank
from sim.units import MM_PER_M

Floats = NDArray[np.float64]

ROWS = 9
TIMES = (1.0, 1.5, 2.0, 3.0)


@dataclass(frozen=True, slots=True)
class DepthRow:
    """One depth of the tank.

    Attributes
    ----------
    depth_m : float
        Behind the front pane's inner face.
    apparent_m : float
        Apparent distance from the lens.
    shrinks_to : float
        Image of a thing here over its image at the reference depth.
    scales : tuple of float
        Scale of a piece here that is to look k times as far as the reference, per k.
    rises_m : tuple of float or None
        Height of the ground over that at the reference depth, per k; None when the eye is not above the ground.
    receding_scale, receding_rise_m : float, float or None
        The same for a picture that recedes evenly to the back.
    """

    depth_m: float
    apparent_m: float
    shrinks_to: float
    scales: tuple[float, ...]
    rises_m: tuple[float, ...] | None
    receding_scale: float
    receding_rise_m: float | None


@dataclass(frozen=True, slots=True)
class PieceScale:
    """How large a piece seems, at its middle, beside the same piece at the reference depth."""

    id: str
    depth_m: float
    apparent_m: float
    scale: float


@dataclass(frozen=True, slots=True)
class DepthTable:
    """Forced perspective of a tank from one place."""

    times: tuple[float, ...]
    back_times: float
    reference_m: float
    eye_over_ground_m: float
    rows: tuple[DepthRow, ...]
    pieces: tuple[PieceScale, ...]
    seems_deep_m: float  # the tank's depth as it seems


def depth_table(
    scene: Scene,
    pieces: Sequence[PlacedPiece],
    lens: Lens,
    tank: Tank,
    times: Sequence[float] = TIMES,
    back_times: float | None = None,
    reference_m: float | None = None,
    depths_m: Sequence[float] | None = None,
) -> DepthTable:
    """Scales and ground heights by depth.

    A piece of scale c at the apparent distance A draws an image of c S / A, and one of full size at k A0 an
    image of S / (k A0): so c = A / (k A0). Level ground a height h under the eye runs, at k A0, h / (k A0)
    under the horizon: so at A it must lie h A / (k A0) under the eye, which is h (1 - c) higher than in front.

    Parameters
    ----------
    times : the k to tabulate, above 0
    back_times : k of the back pane for the receding picture; default the largest of `times`
    reference_m : depth of full size; default a quarter of the tank's depth, as much as stays foreground
    depths_m : rows of the table; default nine, evenly from the front to the back pane

    Raises
    ------
    BedjointError
        For a k that is not above 0, a depth outside the tank, or a camera that is not in front of the pane.
    """
    depth = tank.inner_m[1]
    reference = FOREGROUND_SHARE.default * depth if reference_m is None else reference_m
    rows_at = np.linspace(0.0, depth, ROWS) if depths_m is None else np.asarray(depths_m, dtype=np.float64)
    farthest = max(times, default=1.0) if back_times is None else back_times
    _sensible(scene, lens, tank, [*times, farthest], [reference, *rows_at])
    base = float(apparent_distances(lens, tank, np.array([reference]))[0])
    eye = float(lens.position_m[2]) - ground_height_m(scene, reference)
    share = np.clip((rows_at - reference) / max(depth - reference, 1e-12), 0.0, None)
    receding = 1.0 + (farthest - 1.0) * share
    rows = tuple(
        _row(float(at), float(seems), base, eye, times, float(k))
        for at, seems, k in zip(rows_at, apparent_distances(lens, tank, rows_at), receding, strict=True)
    )
    front, back = apparent_distances(lens, tank, np.array([0.0, depth]))
    return DepthTable(
        times=tuple(times),
        back_times=float(farthest),
        reference_m=float(reference),
        eye_over_ground_m=eye,
        rows=rows,
        pieces=tuple(_piece_scale(piece, lens, tank, base) for piece in pieces),
        seems_deep_m=float(back - front),
    )


def apparent_distances(lens: Lens, tank: Tank, depths_m: Floats) -> Floats:
    """Distances (n,) from the lens at which depths (n,) seem to lie, along the pane's normal: D + d / ng + z / n."""
    index = tank.water_index if tank.level_m > 0.0 else 1.0
    before = -float(lens.position_m[1]) - tank.side_m + tank.side_m / tank.glass_index
    return np.asarray(before + np.asarray(depths_m) / index)


def ground_height_m(scene: Scene, depth_m: float) -> float:
    """Mean height of the ground across the tank at one depth."""
    length = scene.tank.inner_mm[0] / MM_PER_M
    across = np.column_stack([np.linspace(0.0, length, 101), np.full(101, depth_m)])
    return float(sum(layer_depth_m(layer, scene, across).mean() for layer in scene.ground.layers))


def _row(
    depth_m: float, seems_m: float, base_m: float, eye_m: float, times: Sequence[float], receding: float
) -> DepthRow:
    scales = tuple(seems_m / (k * base_m) for k in times)
    scale = seems_m / (receding * base_m)
    return DepthRow(
        depth_m=depth_m,
        apparent_m=seems_m,
        shrinks_to=base_m / seems_m,
        scales=scales,
        rises_m=tuple(eye_m * (1.0 - each) for each in scales) if eye_m > 0.0 else None,
        receding_scale=scale,
        receding_rise_m=eye_m * (1.0 - scale) if eye_m > 0.0 else None,
    )


def _piece_scale(piece: PlacedPiece, lens: Lens, tank: Tank, base_m: float) -> PieceScale:
    y = piece.vertices_m()[:, 1]
    middle = float(y.min() + y.max()) / 2.0
    seems = float(apparent_distances(lens, tank, np.array([middle]))[0])
    return PieceScale(piece.id, middle, seems, base_m / seems)


def _sensible(scene: Scene, lens: Lens, tank: Tank, times: Sequence[float], depths_m: Sequence[float]) -> None:
    if not all(np.isfinite(k) and k > 0.0 for k in times):
        raise BedjointError(f"times as far: {', '.join(f'{k:g}' for k in times)}. Give numbers above 0.")
    depth = tank.inner_m[1]
    if not all(0.0 <= at <= depth + 1e-9 for at in depths_m):
        raise BedjointError(f"a depth lies outside the tank. Give 0 to {depth * MM_PER_M:g} mm.")
    if lens.position_m[1] >= -tank.side_m:
        raise BedjointError(
            f"{scene.file}: camera.position_mm: the camera is not in front of the front pane. "
            f"Give a y below {-tank.side_m * MM_PER_M:g} mm."
        )
