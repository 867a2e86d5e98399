"""The waters in which a stack is judged: none, rising, full, and drained again."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from sim.materials import water_density_kg_m3
from sim.pieces.placing import PlacedPiece
from sim.scene import Scene
from sim.units import MM_PER_M

JUST_OVER_M = 1.0e-3  # a partial fill stands so far above a piece's top
LEVELS_APART_M = 2.0e-3  # fills nearer to each other than this count as one


class Filling(Enum):
    """How much water there is."""

    AIR = "air"  # dry, before the first fill
    PARTIAL = "partial"  # on the way up or down
    FLOODED = "flooded"
    DRAINED = "drained"  # empty again, everything wet


@dataclass(frozen=True, slots=True)
class Water:
    """One water in which a stack is judged."""

    filling: Filling
    level_m: float | None  # of the surface above the base glass; None without water
    density_kg_m3: float

    @property
    def wet(self) -> bool:
        """Whether faces are wet, and friction that of wet faces."""
        return self.filling is not Filling.AIR


def waters_of(scene: Scene, pieces: list[PlacedPiece]) -> tuple[Water, ...]:
    """All waters of a scene in the order of filling: air, partial fills, flooded, drained.

    Partial fills stand just over the top of each piece that the full level covers. A scene whose water
    level is 0 stays dry.
    """
    density = water_density_kg_m3(scene.water.temperature_c, scene.water.salinity_ppt)
    air = Water(Filling.AIR, None, density)
    full_m = scene.water_level_mm / MM_PER_M
    if full_m <= 0.0:
        return (air,)
    levels: list[float] = []
    for top_m in sorted(float(piece.vertices_m()[:, 2].max()) for piece in pieces):
        level_m = top_m + JUST_OVER_M
        if 0.0 < level_m < full_m - LEVELS_APART_M and (not levels or level_m > levels[-1] + LEVELS_APART_M):
            levels.append(level_m)
    partial = [Water(Filling.PARTIAL, level_m, density) for level_m in levels]
    return (air, *partial, Water(Filling.FLOODED, full_m, density), Water(Filling.DRAINED, None, density))
