"""Colours of stone and wood as functions of position (sRGB, 0 to 255)."""

from __future__ import annotations

import numpy as np

from sim.pieces.body import Floats
from sim.pieces.generate.noise import noise
from sim.pieces.generate.solid import Field

# palettes drawn by eye after weathered outcrops; they carry no physical meaning
SANDSTONE = np.array(
    [[196, 164, 120], [178, 138, 92], [208, 184, 148], [160, 128, 96], [150, 146, 136], [186, 150, 104]], float
)
LIMESTONE = np.array(
    [[190, 182, 164], [170, 162, 146], [204, 196, 176], [150, 144, 132], [182, 166, 138], [160, 158, 152]], float
)
SLATE = np.array([[82, 88, 96], [70, 75, 82], [94, 98, 102], [78, 80, 92], [88, 92, 92]], float)
RUST = np.array([142.0, 90.0, 52.0])
LICHEN = np.array([168.0, 168.0, 150.0])
PALETTES = {"sandstone": SANDSTONE, "limestone": LIMESTONE, "slate": SLATE}


def blend(colours: Floats, other: Floats, share: Floats) -> Floats:
    """Mix (n, 3) colours with another colour by an (n,) share between 0 and 1."""
    part = np.clip(share, 0.0, 1.0)[:, None]
    mixed: Floats = colours * (1.0 - part) + other * part
    return mixed


def bands(height_mm: Floats, rng_seed: int, palette: Floats, thin_mm: float, thick_mm: float) -> Floats:
    """Colour of the sedimentary band at each bedding height: (n,) -> (n, 3)."""
    rng = np.random.default_rng(rng_seed)
    reach = float(np.abs(height_mm).max()) + thick_mm
    thicknesses = rng.uniform(thin_mm, thick_mm, int(2.0 * reach / thin_mm) + 2)
    tops = np.cumsum(thicknesses) - reach
    # neighbouring bands are related: a slow drift through the palette with an odd seam in it
    picks = (np.cumsum(rng.integers(0, 3, len(tops))) + (rng.random(len(tops)) < 0.2) * 3) % len(palette)
    shades = palette[picks] * rng.uniform(0.86, 1.08, (len(tops), 1))
    index = np.clip(np.searchsorted(tops, height_mm), 0, len(tops) - 2)
    seam = np.clip((height_mm - tops[index]) / 0.5 + 1.0, 0.0, 1.0)
    return blend(shades[index], shades[index + 1], seam / 2.0)


def weather(colours: Floats, points: Floats, normals: Floats, field: Field, seed: int, rust: float) -> Floats:
    """Stain, dust and darken: rust in patches, pale upward faces, dark hollows, mottling."""
    stained = blend(colours, RUST, rust * np.clip(noise(points / 34.0, seed + 11, 3) * 2.2 - 0.1, 0.0, 1.0))
    dusted = blend(stained, LICHEN, 0.35 * np.clip(normals[:, 2], 0.0, 1.0) ** 2)
    reach_mm = 4.0
    open_share = np.clip(field(points + reach_mm * normals) / reach_mm, 0.0, 1.0)
    mottle = 1.0 + 0.16 * noise(points / 4.0, seed + 12, 2) + 0.10 * noise(points / 22.0, seed + 13)
    shaded: Floats = dusted * (mottle * (0.62 + 0.38 * open_share))[:, None]
    return shaded
