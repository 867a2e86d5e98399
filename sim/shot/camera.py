"""A pinhole camera: where it stands, where it looks, its lens and its sensor."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """A camera in the tank's frame."""

    position_m: Floats  # (3,) centre of projection
    look_at_m: Floats  # (3,)
    focal_m: float
    sensor_m: tuple[float, float]  # width, height

    def axes(self) -> Floats:
        """Rows: right, down, forward, each a unit vector; the picture's horizon stays level."""
        forward = self.look_at_m - self.position_m
        forward = forward / np.linalg.norm(forward)
        up = np.array([0.0, 0.0, 1.0])
        if abs(forward @ up) > 0.9999:  # looking straight up or down: the tank's depth becomes 'up'
            up = np.array([0.0, 1.0, 0.0])
        right = np.cross(forward, up)
        right /= np.linalg.norm(right)
        return np.stack([right, np.cross(forward, right), forward])

    def directions(self, size_px: tuple[int, int]) -> Floats:
        """Unit directions through the pixel centres, row by row: (height * width, 3)."""
        across, down = np.meshgrid(np.arange(size_px[0]) + 0.5, np.arange(size_px[1]) + 0.5)
        return self.through(np.stack([across, down], axis=-1).reshape(-1, 2), size_px)

    def through(self, pixels: Floats, size_px: tuple[int, int]) -> Floats:
        """Unit directions (n, 3) through points (n, 2) of the picture, in pixels from its upper left corner."""
        # square pixels whatever the sensor's shape: the width of the picture is the width of the sensor
        sides = (pixels - np.array(size_px) / 2.0) / size_px[0] * self.sensor_m[0] / self.focal_m
        rays = np.column_stack([sides, np.ones(len(sides))]) @ self.axes()
        return np.asarray(rays / np.linalg.norm(rays, axis=1, keepdims=True))

    def project(self, points_m: Floats, size_px: tuple[int, int]) -> Floats:
        """Pixel coordinates (n, 2) of points (n, 3); NaN for points behind the camera."""
        local = (points_m - self.position_m) @ self.axes().T
        with np.errstate(divide="ignore", invalid="ignore"):
            scale = self.focal_m / self.sensor_m[0] * size_px[0] / local[:, 2:3]
            pixels = local[:, :2] * scale + np.array(size_px) / 2.0
        pixels[local[:, 2] <= 0.0] = np.nan
        return np.asarray(pixels)


def overview(low_m: Floats, high_m: Floats) -> View:
    """A view from the front, a little left and above, that holds a whole box."""
    middle = (low_m + high_m) / 2.0
    radius = float(np.linalg.norm(high_m - low_m)) / 2.0
    direction = np.array([-0.38, -1.0, 0.42])
    direction /= np.linalg.norm(direction)
    focal_m, sensor_m = 0.050, (0.036, 0.024)
    distance = radius / np.sin(np.arctan(sensor_m[1] / 2.0 / focal_m)) * 0.80
    return View(middle + direction * distance, middle, focal_m, sensor_m)
