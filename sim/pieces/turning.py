"""Turns of a piece: three angles about the fixed axes, quaternions, rotation matrices."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sim.pieces.body import Floats

_LOCKED = 1.0e-9  # cosine of the middle angle below which the outer two angles turn about the same axis


def rotation_from_turns(turn_deg: Sequence[float]) -> Floats:
    """Rotation (3, 3) that turns about the fixed axes x, then y, then z by `turn_deg`, degrees."""
    (cx, cy, cz), (sx, sy, sz) = _cosines_and_sines(turn_deg)
    return np.array(
        [
            [cz * cy, cz * sy * sx - sz * cx, cz * sy * cx + sz * sx],
            [sz * cy, sz * sy * sx + cz * cx, sz * sy * cx - cz * sx],
            [-sy, cy * sx, cy * cx],
        ]
    )


def turns_from_rotation(rotation: Floats) -> tuple[float, float, float]:
    """Degrees about fixed x, then y, then z that make `rotation` (3, 3); the middle one within +-90.

    When the middle angle is +-90 degrees, the outer two turn about the same axis and the last one is set to 0.
    """
    level = float(np.hypot(rotation[0, 0], rotation[1, 0]))
    about_z = float(np.arctan2(rotation[1, 0], rotation[0, 0])) if level > _LOCKED else 0.0
    cz, sz = np.cos(about_z), np.sin(about_z)
    # undo the last turn first: what is left is well conditioned even close to the lock
    about_y = float(np.arctan2(-rotation[2, 0], cz * rotation[0, 0] + sz * rotation[1, 0]))
    about_x = float(np.arctan2(sz * rotation[0, 2] - cz * rotation[1, 2], cz * rotation[1, 1] - sz * rotation[0, 1]))
    x_deg, y_deg, z_deg = (float(np.degrees(angle)) + 0.0 for angle in (about_x, about_y, about_z))
    return x_deg, y_deg, z_deg


def rotation_from_quaternion(quaternion: Sequence[float]) -> Floats:
    """Rotation (3, 3) of a quaternion (w, x, y, z), which is brought to length 1 first."""
    w, x, y, z = np.asarray(quaternion, dtype=np.float64) / np.linalg.norm(quaternion)
    return np.array(
        [
            [1.0 - 2.0 * (y * y + z * z), 2.0 * (x * y - w * z), 2.0 * (x * z + w * y)],
            [2.0 * (x * y + w * z), 1.0 - 2.0 * (x * x + z * z), 2.0 * (y * z - w * x)],
            [2.0 * (x * z - w * y), 2.0 * (y * z + w * x), 1.0 - 2.0 * (x * x + y * y)],
        ]
    )


def _cosines_and_sines(turn_deg: Sequence[float]) -> tuple[Floats, Floats]:
    """Cosines and sines, exact at quarter turns so that a level face stays level to the last bit."""
    turns = np.asarray(turn_deg, dtype=np.float64)
    cosines, sines = np.cos(np.radians(turns)), np.sin(np.radians(turns))
    quarters = np.mod(turns / 90.0, 4.0)
    exact = quarters == np.round(quarters)
    cosines[exact] = np.array([1.0, 0.0, -1.0, 0.0])[quarters[exact].astype(int) % 4]
    sines[exact] = np.array([0.0, 1.0, 0.0, -1.0])[quarters[exact].astype(int) % 4]
    return cosines, sines
