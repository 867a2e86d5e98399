"""Lens and pose moved until drawn corners fall on clicked ones.

Glossary
--------
sought : log of the image distance (unless the focal length is known), turn (3,) about the camera's right, down and
    forward axes, counted from square-on, place x and z, log of the distance to the pane, and k1 where edges tell it
residual : clicked less drawn, pixels; only across the edge for a point clicked somewhere along one
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation

from sim.shot.framing import lengthened_m
from sim.shot.lens import Lens
from sim.shot.refraction import Tank, apparent_points
from sim.shot.surface import over_the_pane

Floats = NDArray[np.float64]

SQUARE_ON = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])  # right, down, forward
STARTS_DEG = ((0.0, 0.0), (-20.0, 0.0), (20.0, 0.0), (0.0, 15.0), (0.0, -15.0), (-20.0, -15.0), (20.0, -15.0))
FOCAL_GUESSES = (0.8, 0.5, 1.6)  # of the photo's width
OUT_OF_SIGHT_PX = 1.0e5
FARTHEST = 1.0e4  # metres or radians
SAMPLES = 12  # along an edge, to find the part of it that a click means
ROUGH_CALLS, FINE_CALLS = 80, 300  # of the residuals, from each start and from the best of them; a step takes 8


@dataclass(frozen=True, slots=True, eq=False)
class Task:
    """What does not change while a camera is sought."""

    tank: Tank
    size_px: tuple[int, int]
    corners_m: Floats  # (n, 3)
    corners_px: Floats  # (n, 2)
    edges_m: Floats  # (e, 2, 3) ends of the edges on which something was clicked
    edge_of: NDArray[np.intp]  # (m,)
    edge_px: Floats  # (m, 2)
    frame_m: tuple[float, float]
    sensor_m: tuple[float, float]
    aperture: float
    focus_m: float | None  # None: the middle of the tank's depth
    focal_m: float | None  # None: sought
    with_k1: bool

    @property
    def unknowns(self) -> int:
        """How many numbers are sought."""
        return 6 + (self.focal_m is None) + self.with_k1

    @property
    def equations(self) -> int:
        """How many numbers the clicks give."""
        return 2 * len(self.corners_px) + len(self.edge_px) * self.with_k1


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """The best camera found."""

    sought: Floats  # (k,)
    residuals: Floats  # (n,)
    jacobian: Floats  # (n, k)

    @property
    def rms_px(self) -> float:
        """Root mean square of the residuals."""
        return float(np.sqrt(np.mean(self.residuals**2)))


def fit(task: Task, good_px: float, all_starts: bool = False) -> tuple[Fit, list[Fit]]:
    """The camera with the least sum of squared residuals.

    Levenberg and Marquardt's method, from a square-on guess first; other turns and lenses are tried as long as the
    residuals stay above `good_px`.

    Parameters
    ----------
    all_starts : bool
        Try them all, to see whether different cameras draw the same clicks.

    Returns
    -------
    best : Fit
    others : list of Fit
        Where the other starts led, as far as the residuals are below `good_px`.
    """
    found: list[Fit] = []
    for start in _starts(task):
        end = _descend(task, start, ROUGH_CALLS, 1e-6)
        if end is not None:
            found.append(end)
        if end is not None and end.rms_px < good_px and not all_starts:
            break
    if not found:
        lost = np.full(task.equations, OUT_OF_SIGHT_PX)
        return Fit(np.zeros(task.unknowns), lost, np.zeros((1, task.unknowns))), []
    best = min(found, key=lambda end: end.rms_px)
    return _descend(task, best.sought, FINE_CALLS, 1e-14) or best, [end for end in found if end.rms_px < good_px]


def _descend(task: Task, start: Floats, most_calls: int, tolerance: float) -> Fit | None:
    """Downhill from one start; None where nothing can be drawn."""
    try:
        found = least_squares(
            partial(residuals, task),
            start,
            jac="2-point" if most_calls == ROUGH_CALLS else "3-point",
            method="lm",
            x_scale="jac",
            max_nfev=most_calls,
            ftol=tolerance,
            xtol=tolerance,
            gtol=tolerance,
        )
    except (ValueError, np.linalg.LinAlgError):
        return None
    jacobian = np.asarray(found.jac, dtype=np.float64)
    if not (np.isfinite(found.x).all() and np.isfinite(jacobian).all()):
        return None
    return Fit(found.x, found.fun, jacobian)


def uncertainties(found: Fit, click_px: float) -> Floats:
    """One standard deviation (k,) of each number sought, for clicks off by `click_px`; infinite where nothing tells."""
    scale = np.linalg.norm(found.jacobian, axis=0)
    if not (np.isfinite(scale).all() and (scale > 0.0).all()):
        return np.full(len(scale), np.inf)
    _, values, turned = np.linalg.svd(found.jacobian / scale, full_matrices=False)
    if len(values) < len(scale) or values[-1] < 1e-12 * values[0]:
        return np.full(len(scale), np.inf)
    return np.asarray(click_px * np.sqrt(((turned / values[:, None]) ** 2).sum(axis=0)) / scale)


def lens_from(task: Task, sought: Floats) -> Lens:
    """The camera that some numbers stand for; its `focal_m` is the image distance, its focus infinite."""
    own = list(np.clip(sought, -FARTHEST, FARTHEST))  # a step of the solver may overshoot by any amount
    log_image = own.pop(0) if task.focal_m is None else None
    axes = Rotation.from_rotvec(own[0:3]).as_matrix() @ SQUARE_ON
    position = np.array([own[3], -task.tank.side_m - math.exp(min(max(own[5], -9.0), 9.0)), own[4]])
    if log_image is not None:
        image = math.exp(min(max(log_image, -20.0), 9.0))
    else:
        assert task.focal_m is not None
        image = lengthened_m(task.focal_m, max(focus_m(task, position, axes[2]), 1.001 * task.focal_m))
    return Lens(
        position_m=position,
        axes=axes,
        focal_m=image,
        focus_m=math.inf,
        sensor_m=task.sensor_m,
        frame_m=task.frame_m,
        aperture=task.aperture,
        distortion=float(own[6]) if task.with_k1 else 0.0,
    )


def focus_m(task: Task, position_m: Floats, forward: Floats) -> float:
    """Where the lens is focused: as given, or where its axis meets the middle of the tank's depth."""
    if task.focus_m is not None:
        return task.focus_m
    return float((task.tank.inner_m[1] / 2.0 - position_m[1]) / max(forward[1], 0.05))


def residuals(task: Task, sought: Floats) -> Floats:
    """Corners first, u and v each, then the distances of edge points from their edges; pixels."""
    lens = lens_from(task, sought)
    parts = [(_draw(task, lens, task.corners_m) - task.corners_px).ravel()]
    if task.with_k1:
        parts.append(_from_edges(task, lens))
    return np.asarray(np.nan_to_num(np.concatenate(parts), nan=OUT_OF_SIGHT_PX).clip(-OUT_OF_SIGHT_PX, OUT_OF_SIGHT_PX))


def _from_edges(task: Task, lens: Lens) -> Floats:
    """Signed distance (m,) of clicks from edges as they are drawn: slightly curved, by distortion and by the pane."""
    first, last = task.edges_m[task.edge_of, 0], task.edges_m[task.edge_of, 1]
    count, step = len(first), 1e-4
    share = np.linspace(0.0, 1.0, SAMPLES + 1)[None, :, None]
    samples = task.edges_m[:, :1] + share * (task.edges_m[:, 1:] - task.edges_m[:, :1])
    drawn = _draw(task, lens, samples.reshape(-1, 3)).reshape(len(task.edges_m), -1, 2)
    away = np.linalg.norm(drawn[task.edge_of] - task.edge_px[:, None], axis=2)
    at = np.argmin(np.nan_to_num(away, nan=np.inf), axis=1) / SAMPLES
    for _ in range(3):
        shares = np.concatenate([at, at - step, at + step])[:, None]
        points = np.tile(first, (3, 1)) + shares * np.tile(last - first, (3, 1))
        here, before, after = _draw(task, lens, points).reshape(3, count, 2)
        tangent = (after - before) / (2.0 * step)
        gap = task.edge_px - here
        length2 = np.maximum((tangent**2).sum(axis=1), 1e-300)
        at = np.clip(at + (gap * tangent).sum(axis=1) / length2, -0.05, 1.05)
    return np.asarray((tangent[:, 0] * gap[:, 1] - tangent[:, 1] * gap[:, 0]) / np.sqrt(length2))


def _draw(task: Task, lens: Lens, points_m: Floats) -> Floats:
    """Pixels of points of a dry tank, through the pane, or straight for those that show over its upper edge.

    `sim.shot.projection.project_with` in short, for a lens that is always before the pane.
    """
    eye = lens.position_m
    _, over = over_the_pane(eye, points_m - eye, task.tank)
    straight = (over & (points_m[:, 1] > 0.0))[:, None]
    seems = np.where(straight, points_m, apparent_points(points_m, eye, task.tank))
    return lens.pixels(seems - eye, task.size_px)


def _starts(task: Task) -> Iterator[Floats]:
    """Guesses, the likeliest first: square-on with lens and distance from the outlines' sizes, then turned ones."""
    width = task.size_px[0]
    length, depth, height = task.tank.inner_m
    front = task.corners_m[:, 1] == 0.0
    near, far = _scale(task, front), _scale(task, ~front)
    guesses = [share * width for share in FOCAL_GUESSES]
    if near is not None and far is not None and near > 1.02 * far:
        guesses.insert(0, near * depth / (near / far - 1.0))
    if task.focal_m is not None:
        guesses = [task.focal_m / task.frame_m[0] * width]
    whole = near or far or width / length
    for yaw, pitch in STARTS_DEG:
        for focal_px in guesses:
            distance = max(focal_px / whole, 0.05)
            turn = np.radians([pitch, yaw, 0.0])
            axes = Rotation.from_rotvec(turn).as_matrix() @ SQUARE_ON
            aim = np.array([length / 2.0, 0.0, height / 2.0])
            if yaw == pitch == 0.0:
                aim = aim - _off_middle(task, front if near is not None else ~front) / whole
            eye = aim - axes[2] * distance
            place = [eye[0], eye[2], math.log(max(-eye[1] - task.tank.side_m, 0.02))]
            log_image = [math.log(focal_px / width * task.frame_m[0])] if task.focal_m is None else []
            yield np.array([*log_image, *turn, *place, *([0.0] if task.with_k1 else [])])


def _scale(task: Task, chosen: NDArray[np.bool_]) -> float | None:
    """Pixels per metre of an outline, from two or more of its corners."""
    if chosen.sum() < 2:
        return None
    true = task.corners_m[chosen] - task.corners_m[chosen].mean(axis=0)
    drawn = task.corners_px[chosen] - task.corners_px[chosen].mean(axis=0)
    return float(np.sqrt((drawn**2).sum() / (true**2).sum())) or None


def _off_middle(task: Task, chosen: NDArray[np.bool_]) -> Floats:
    """How far right (x) and up (z), in pixels, the middle of the front pane lies from the middle of the photo."""
    if not chosen.any():
        return np.zeros(3)
    scale = _scale(task, chosen) or 1.0
    length, _, height = task.tank.inner_m
    middle = task.corners_m[chosen].mean(axis=0)
    u, v = task.corners_px[chosen].mean(axis=0) - np.array(task.size_px) / 2.0
    return np.array([u - (middle[0] - length / 2.0) * scale, 0.0, -v - (middle[2] - height / 2.0) * scale])
