"""The camera of a scene: where it stands, how it is turned, what its lens and its frame take in.

Glossary
--------
focal length : the number on the lens, for things far away
image distance : from lens to sensor; focusing close lengthens it: v = f s / (s - f)
frame : the part of the sensor that is kept, as 3:2, 4:3, 16:9 or 1:1
tangents : of the angle to the axis, to the right and down, as a straight-drawing lens would have them
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.errors import Fault, SceneError
from sim.materials.optics import sharp_circle_m
from sim.scene import Camera, Scene
from sim.shot.camera import View
from sim.shot.framing import (
    angle_of_view_rad,
    depth_of_field_m,
    frame_m,
    hyperfocal_m,
    lengthened_m,
    lens_to_fill,
    stand_to_fill,
)
from sim.units import MM_PER_M

__all__ = [
    "Lens",
    "lens_of",
    "distorted",
    "undistorted",
    "angle_of_view_rad",
    "depth_of_field_m",
    "frame_m",
    "hyperfocal_m",
    "lengthened_m",
    "lens_to_fill",
    "stand_to_fill",
]

Floats = NDArray[np.float64]

WIDTH_PX = 1920  # of a picture whose size nobody gave
MOST_STEPS = 60


@dataclass(frozen=True, slots=True, eq=False)
class Lens:
    """A camera in the tank's frame, focused."""

    position_m: Floats  # (3,) centre of projection
    axes: Floats  # (3, 3) rows: right, down, forward; unit vectors
    focal_m: float  # as engraved
    focus_m: float  # distance in air from the lens that is sharp
    sensor_m: tuple[float, float]
    frame_m: tuple[float, float]  # the part of the sensor that is kept, in its middle
    aperture: float = 8.0
    distortion: float = 0.0  # k1, of the tangents: drawn = t (1 + k1 |t|^2)

    @property
    def image_m(self) -> float:
        """Image distance: the focal length as close focus lengthens it."""
        return lengthened_m(self.focal_m, self.focus_m)

    @property
    def circle_m(self) -> float:
        """Blur on the sensor that still looks sharp."""
        width, height = self.frame_m
        return sharp_circle_m((width * MM_PER_M, height * MM_PER_M))

    def size_px(self, width_px: int = WIDTH_PX) -> tuple[int, int]:
        """Width and height of a picture of the frame, square pixels."""
        return width_px, max(1, round(width_px * self.frame_m[1] / self.frame_m[0]))

    def focal_px(self, size_px: tuple[int, int]) -> float:
        """Image distance in pixels; the width of the picture is the width of the frame."""
        return self.image_m / self.frame_m[0] * size_px[0]

    def angles_of_view_rad(self) -> tuple[float, float, float]:
        """Horizontal, vertical and diagonal angle of view of the frame, focused as it is."""
        width, height = self.frame_m
        return (
            angle_of_view_rad(width, self.image_m),
            angle_of_view_rad(height, self.image_m),
            angle_of_view_rad(math.hypot(width, height), self.image_m),
        )

    def pixels(self, directions: Floats, size_px: tuple[int, int]) -> Floats:
        """Pixels (n, 2) of directions (n, 3) in air, of any length; NaN for what lies behind the camera.

        Pixel (i, j) reaches from i to i + 1 and from j to j + 1, counted from the upper left corner.
        """
        local = directions @ self.axes.T
        ahead = np.where(local[:, 2:3] > 0.0, local[:, 2:3], np.nan)
        drawn = distorted(local[:, :2] / ahead, self.distortion)
        return np.asarray(drawn * self.focal_px(size_px) + np.array(size_px) / 2.0)

    def directions(self, pixels: Floats, size_px: tuple[int, int]) -> Floats:
        """Unit directions (n, 3) in air through pixels (n, 2); NaN where the distorted lens shows nothing."""
        tangents = undistorted((pixels - np.array(size_px) / 2.0) / self.focal_px(size_px), self.distortion)
        rays = np.concatenate([tangents, np.ones((len(tangents), 1))], axis=1) @ self.axes
        return np.asarray(rays / np.linalg.norm(rays, axis=1, keepdims=True))

    def blur_m(self, distances_m: Floats) -> Floats:
        """Diameter (n,) of the blur on the sensor of what seems to lie at distances (n,) along the axis, in air."""
        opening = self.focal_m / self.aperture
        return np.asarray(
            opening * self.focal_m * np.abs(distances_m - self.focus_m) / (distances_m * (self.focus_m - self.focal_m))
        )

    def view(self) -> View:
        """The same camera as a plain pinhole of the frame, without roll and distortion."""
        return View(self.position_m, self.position_m + self.axes[2], self.image_m, self.frame_m)


def lens_of(scene: Scene, focal_mm: float | None = None, fill: bool = False) -> Lens:
    """The camera of a scene.

    Parameters
    ----------
    focal_mm : float, optional
        Another lens than the scene's.
    fill : bool
        Stand square-on, where the front pane fills the frame, whatever the scene says. A scene
        without a position is always taken so.

    Raises
    ------
    SceneError
        When the lens cannot focus that near, or there is no place for it in front of the tank.
    """
    camera = scene.camera if focal_mm is None else scene.camera.model_copy(update={"focal_mm": focal_mm})
    if not (math.isfinite(camera.focal_mm) and camera.focal_mm > 0.0):
        raise _fault(scene, "camera.focal_mm", f"a lens of {camera.focal_mm:g} mm", "Give more than 0 mm.")
    position, target = _stand(scene, camera, fill)
    focus = camera.focus_mm / MM_PER_M if camera.focus_mm is not None else float(np.linalg.norm(target - position))
    _can_focus(scene, camera, focus)
    return Lens(
        position_m=position,
        axes=_turned(position, target, camera.roll_deg),
        focal_m=camera.focal_mm / MM_PER_M,
        focus_m=focus,
        sensor_m=(camera.sensor_mm[0] / MM_PER_M, camera.sensor_mm[1] / MM_PER_M),
        frame_m=frame_m(camera.sensor_mm, camera.crop),
        aperture=camera.aperture,
        distortion=camera.distortion,
    )


def distorted(tangents: Floats, k1: float) -> Floats:
    """Tangents (n, 2) as a lens with radial distortion draws them; NaN beyond the radius where it would fold back."""
    if k1 == 0.0:
        return tangents
    squares = (tangents**2).sum(axis=1, keepdims=True)
    return np.where(1.0 + 3.0 * k1 * squares > 0.0, tangents * (1.0 + k1 * squares), np.nan)


def undistorted(drawn: Floats, k1: float) -> Floats:
    """The inverse of `distorted`, by Newton's method; NaN where no tangent is drawn."""
    if k1 == 0.0:
        return drawn
    radius = np.hypot(drawn[:, 0], drawn[:, 1])
    if k1 < 0.0:
        fold = math.sqrt(-1.0 / (3.0 * k1))
        radius = np.where(radius < 2.0 / 3.0 * fold, radius, np.nan)
    wanted = radius.copy()
    for _ in range(MOST_STEPS):
        # k1 < 0 is concave and starts below the root, k1 > 0 convex and above it: neither oversteps
        radius = radius - (radius * (1.0 + k1 * radius**2) - wanted) / (1.0 + 3.0 * k1 * radius**2)
    share = np.where(
        wanted > 0.0, radius / np.where(wanted > 0.0, wanted, 1.0), np.where(np.isnan(wanted), np.nan, 1.0)
    )
    return np.asarray(drawn * share[:, None])


def _turned(position_m: Floats, target_m: Floats, roll_deg: float) -> Floats:
    right, down, forward = View(position_m, target_m, 1.0, (1.0, 1.0)).axes()
    roll = math.radians(roll_deg)
    return np.stack(
        [right * math.cos(roll) + down * math.sin(roll), down * math.cos(roll) - right * math.sin(roll), forward]
    )


def _stand(scene: Scene, camera: Camera, fill: bool) -> tuple[Floats, Floats]:
    """Where the lens is, and the point in the middle of the picture that is sharp: (3,) each."""
    inner_m = np.array(scene.tank.inner_mm) / MM_PER_M
    if camera.position_mm is None or fill:
        distance = _filling(scene, camera)
        position = np.array([inner_m[0] / 2.0, -scene.tank.side_mm / MM_PER_M - distance, inner_m[2] / 2.0])
    else:
        position = np.array(camera.position_mm) / MM_PER_M
        if camera.look_at_mm is not None:
            return position, np.array(camera.look_at_mm) / MM_PER_M
    if position[1] > -scene.tank.side_mm / MM_PER_M:  # not in front of the tank: sharp at an arm's length
        return position, position + np.array([0.0, 0.5, 0.0])
    return position, np.array([position[0], inner_m[1] / 2.0, position[2]])


def _filling(scene: Scene, camera: Camera) -> float:
    length, depth, height = (side / MM_PER_M for side in scene.tank.inner_mm)
    glass = scene.tank.side_mm / MM_PER_M
    focus = None if camera.focus_mm is None else camera.focus_mm / MM_PER_M
    if focus is not None:
        _can_focus(scene, camera, focus)
    frame = frame_m(camera.sensor_mm, camera.crop)
    beyond = glass + depth / 2.0
    distance = stand_to_fill((length, height), glass, camera.focal_mm / MM_PER_M, frame, beyond, focus)
    if distance is None:
        raise _fault(
            scene,
            "camera.focal_mm",
            f"a lens of {camera.focal_mm:g} mm is so wide that the front pane does not fill its frame from anywhere",
            "Give a longer lens, or position_mm.",
        )
    return distance


def _can_focus(scene: Scene, camera: Camera, focus_m: float) -> None:
    if focus_m * MM_PER_M <= camera.focal_mm * (1.0 + 1e-9):
        raise _fault(
            scene,
            "camera.focus_mm",
            f"a lens of {camera.focal_mm:g} mm cannot focus at {focus_m * MM_PER_M:g} mm",
            "Give a shorter lens or a focus farther away.",
        )


def _fault(scene: Scene, path: str, problem: str, remedy: str) -> SceneError:
    return SceneError(str(scene.file), [Fault(path, problem, remedy)])
