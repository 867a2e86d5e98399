"""A cobble: a broken block of crystalline rock that the surf has rounded."""

from __future__ import annotations

import numpy as np

from sim.pieces.body import Floats
from sim.pieces.generate.noise import noise
from sim.pieces.generate.paint import blend, weather
from sim.pieces.generate.solid import Solid

SMALLEST_MM, LARGEST_MM = np.array([65.0, 48.0, 34.0]), np.array([105.0, 78.0, 58.0])
GROUNDMASS = np.array([[158, 154, 148], [172, 158, 146], [138, 140, 142], [180, 172, 160]], float)
FELDSPAR, QUARTZ, BIOTITE = np.array([206.0, 196.0, 184.0]), np.array([142.0, 142.0, 140.0]), np.array([58.0, 56, 54])


def cobble(rng: np.random.Generator, size_mm: Floats, faces: int = 9000) -> Solid:
    """Make a cobble of about `size_mm`: worn faces, blunt arrises, flecked, sometimes with a vein."""
    half = size_mm / 2.0
    seed = int(rng.integers(2**30))
    normals_of_faces = rng.normal(size=(13, 3))
    normals_of_faces /= np.linalg.norm(normals_of_faces, axis=1, keepdims=True)
    # faces of a block that touches the ellipsoid, or cuts into it where a piece broke away
    reaches = np.linalg.norm(normals_of_faces * half, axis=1) * rng.uniform(0.76, 1.04, 13)
    wear = float(rng.uniform(9.0, 15.0))
    vein = rng.normal(size=3)
    vein /= np.linalg.norm(vein)
    vein_at, has_vein = float(rng.uniform(-0.3, 0.3)) * half[2], bool(rng.random() < 0.5)
    groundmass = GROUNDMASS[int(rng.integers(len(GROUNDMASS)))]

    def field(points: Floats) -> Floats:
        shares = np.maximum(points @ normals_of_faces.T / reaches, 0.0)
        egg = np.linalg.norm(points / (1.06 * half), axis=1)
        gauge = (np.sum(shares**wear, axis=1) + egg**wear) ** (1.0 / wear)
        worn = (gauge - 1.0) * half[2]
        return np.asarray(worn + 1.3 * noise(points / 26.0, seed + 1) + 0.28 * noise(points / 5.0, seed + 2, 2))

    def paint(points: Floats, normals: Floats) -> Floats:
        colours = np.tile(groundmass, (len(points), 1))
        fleck = noise(points / 2.6, seed + 3)
        colours = blend(colours, FELDSPAR, 4.0 * (noise(points / 3.4, seed + 4) - 0.18))
        colours = blend(colours, QUARTZ, 4.0 * (noise(points / 3.0, seed + 5) - 0.2))
        colours = blend(colours, BIOTITE, 5.0 * (fleck - 0.24))
        if has_vein:
            across = np.abs(points @ vein - vein_at + 2.0 * noise(points / 20.0, seed + 6))
            colours = blend(colours, np.array([218.0, 212.0, 200.0]), 2.4 - across)
        return weather(colours, points, normals, field, seed, 0.15)

    area = 1.35 * float(size_mm[0] * size_mm[1] + size_mm[1] * size_mm[2] + size_mm[2] * size_mm[0])
    return Solid(field, paint, -1.3 * half, 1.3 * half, area, faces)
