"""Friction between the pieces of a scene, and between each and the tank.

A pair named in the scene beats a piece's own value; of two pieces' values the lower counts.
"""

from __future__ import annotations

import numpy as np

from sim.materials import SURFACES, UNDER_STONES, friction, surface_of
from sim.pieces.body import Floats
from sim.pieces.placing import PlacedPiece
from sim.scene import FrictionPair, Scene

PANES = 4


def friction_matrix(scene: Scene, pieces: list[PlacedPiece], wet: bool) -> Floats:
    """Coefficients (n, n + 5): against each piece, then against base, left, right, front and back pane."""
    surfaces = [_surface(piece) for piece in pieces]
    tank = [UNDER_STONES[scene.tank.under_stones.kind]] + ["glass"] * PANES
    table: dict[tuple[str, str], float] = {}
    matrix = np.zeros((len(pieces), len(pieces) + len(tank)))
    for i, piece in enumerate(pieces):
        for j, other in enumerate([*surfaces, *tank]):
            key = (surfaces[i], other)
            if key not in table:
                table[key] = friction(*key, wet).default
            values = [piece.friction, pieces[j].friction if j < len(pieces) else None]
            own = [value for value in values if value is not None]
            if j < len(pieces) and len(own) < 2:
                own.append(table[key])  # a piece without a value of its own counts with the table's
            elif not own:
                own = [table[key]]
            matrix[i, j] = min(own)
    names = {piece.id for piece in pieces}
    # pieces named beat materials, materials beat classes of surface; among equals the later pair counts
    for pair in sorted(scene.friction, key=lambda pair: sum(_named(name, names) for name in pair.between)):
        _apply(pair, pieces, surfaces, tank, wet, matrix)
    return matrix


def _named(name: str, pieces: set[str]) -> int:
    """How narrowly a name is meant: 2 a piece, 1 a material, 0 a class of surfaces."""
    if name in pieces:
        return 2
    return 0 if name.lower() in SURFACES else 1


def _surface(piece: PlacedPiece) -> str:
    return piece.material.name if piece.material is not None else "rough stone"


def _apply(
    pair: FrictionPair, pieces: list[PlacedPiece], surfaces: list[str], tank: list[str], wet: bool, matrix: Floats
) -> None:
    """Write one pair of the scene into the matrix, both ways round."""

    def members(name: str) -> set[int]:
        named = {k for k, piece in enumerate(pieces) if piece.id == name}
        every = [*surfaces, *tank]
        same = {k for k, surface in enumerate(every) if surface.lower() == name.lower()}
        # a class such as "rough stone" stands for every material that has that surface
        of_class = {k for k, surface in enumerate(every) if surface_of(surface) == name.lower()}
        return named or same | of_class

    one, other = (members(name) for name in pair.between)
    for i in range(len(pieces)):
        for j in range(matrix.shape[1]):
            if not ((i in one and j in other) or (i in other and j in one)) or i == j:
                continue
            if not wet:
                matrix[i, j] = pair.dry
            else:
                other_surface = [*surfaces, *tank][j]
                table = friction(surfaces[i], other_surface, wet=True).default
                matrix[i, j] = pair.wet if pair.wet is not None else min(pair.dry, table)
