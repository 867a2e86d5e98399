"""Setting a whole scene down, piece by piece or all together."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.contact.assembly import Assembly, Poses, assemble, part_of, tank_planes
from sim.contact.distance import overlaps
from sim.contact.relaxing import relax
from sim.contact.setting import Rest, set_down
from sim.pieces.friction import friction_matrix
from sim.pieces.placing import PlacedPiece, moved
from sim.scene import Scene
from sim.units import MM_PER_M

Floats = NDArray[np.float64]

TOGETHER_STEPS = 1500
TOGETHER_FARTHEST_M = 0.5
FELL_M = 0.01  # a piece that sinks farther has fallen and not settled
LET_GO_STEPS = 600
UNEASY_M = 1.0e-5  # what has moved less when the steps are used up is not what is still moving


@dataclass(frozen=True, slots=True, eq=False)
class Settled:
    """What became of one piece."""

    piece: str
    rest: Rest
    moved_m: float  # how far it went from where the scene had it, also where it found no rest
    gap_m: float  # widest gap of the contacts that bear


@dataclass(frozen=True, slots=True, eq=False)
class Outcome:
    """A scene set down."""

    poses: Poses
    pieces: list[Settled]

    def moved(self, pieces: list[PlacedPiece]) -> list[PlacedPiece]:
        """The same pieces where they are now."""
        places = zip(pieces, self.poses.rotation, self.poses.position_m, strict=True)
        return [moved(piece, rotation, position_m) for piece, rotation, position_m in places]

    @property
    def all_at_rest(self) -> bool:
        """Whether every piece that was set down lies still; fixed ones and those left alone do not count."""
        return all(settled.rest in (Rest.AT_REST, Rest.AS_IT_IS) for settled in self.pieces)


def stand_up(scene: Scene, pieces: list[PlacedPiece], wet: bool = False) -> tuple[Assembly, Poses]:
    """The assembly of a scene's pieces in its tank, at the poses that the scene gives them."""
    floor_m = (scene.tank.under_stones.thickness_mm or 0.0) / MM_PER_M
    assembly = assemble(
        [piece.body for piece in pieces],
        np.array([piece.mass_kg for piece in pieces]),
        friction_matrix(scene, pieces, wet),
        tank_planes(np.array(scene.tank.inner_mm) / MM_PER_M, floor_m),
        np.array([piece.fixed for piece in pieces], dtype=np.bool_),
    )
    rotation = np.array([piece.rotation for piece in pieces]).reshape(-1, 3, 3)
    return assembly, Poses(rotation, np.array([piece.position_m for piece in pieces]).reshape(-1, 3))


def settle_in_order(
    assembly: Assembly,
    poses: Poses,
    names: list[str],
    only: int | None = None,
    progress: Callable[[int], None] | None = None,
) -> Outcome:
    """Set the pieces down one after another in their order, each onto those before it.

    A piece that finds no rest stays where the scene has it and carries nothing later.
    With `only`, the others stand as they are and one piece is set down onto them.
    """
    count = len(names)
    now = Poses(poses.rotation.copy(), poses.position_m.copy())
    there = np.zeros(count, np.bool_) if only is None else np.ones(count, np.bool_)
    results = []
    for k in range(count):
        if (only is not None and k != only) or assembly.fixed[k]:
            there[k] = True
            results.append(Settled(names[k], Rest.AS_IT_IS, 0.0, 0.0))
            continue
        seated = set_down(assembly, now, k, there)
        rest = seated.rest
        if rest is Rest.AT_REST:
            now.rotation[k], now.position_m[k] = seated.rotation, seated.position_m
            if _outside(assembly, now, k):
                rest = Rest.OUTSIDE
        if rest is Rest.AT_REST:
            there[k] = True
        else:
            now.rotation[k], now.position_m[k] = poses.rotation[k], poses.position_m[k]
        moved = float(np.linalg.norm(seated.position_m - poses.position_m[k]))
        results.append(Settled(names[k], rest, moved, seated.gap_m))
        if progress is not None:
            progress(k)
    return Outcome(now, results)


def let_go(assembly: Assembly, outcome: Outcome) -> Outcome:
    """Let everything that was set down give, under what was set on it later, until it all lies still.

    Stones that were set down one by one rest on others that stood still meanwhile; together they shift a little,
    mostly by less than a millimetre. What has no rest stays out of it and carries nothing. A piece that moves
    by more than 10 mm gives way.
    """
    rests = np.array([settled.rest in (Rest.AT_REST, Rest.AS_IT_IS) for settled in outcome.pieces], np.bool_)
    if not (rests & ~assembly.fixed).any():
        return outcome
    part, start = part_of(assembly, outcome.poses, rests)
    relaxed = relax(part, start, ~part.fixed, most_steps=LET_GO_STEPS, farthest_m=TOGETHER_FARTHEST_M)
    inside = {piece for overlap in overlaps(part, relaxed.poses) for piece in (overlap.a, overlap.b)}
    poses = Poses(outcome.poses.rotation.copy(), outcome.poses.position_m.copy())
    poses.rotation[rests], poses.position_m[rests] = relaxed.poses.rotation, relaxed.poses.position_m
    pieces = list(outcome.pieces)
    for k, piece in enumerate(np.flatnonzero(rests)):
        was = pieces[piece]
        if was.rest is not Rest.AT_REST:
            continue
        mine = ((relaxed.loaded.a == k) | (relaxed.loaded.b == k)) & (relaxed.loaded.force_n > 0.0)
        if _outside(assembly, poses, int(piece)):
            rest = Rest.OUTSIDE
        elif k in inside:
            rest = Rest.OVERLAPS
        elif relaxed.moved_m[k] > FELL_M:
            rest = Rest.GIVES_WAY
        else:
            uneasy = not relaxed.at_rest and relaxed.moved_m[k] > UNEASY_M
            rest = Rest.UNEASY if uneasy else Rest.AT_REST
        gap_m = float(np.abs(relaxed.loaded.gap_m[mine]).max(initial=0.0))
        pieces[piece] = Settled(was.piece, rest, was.moved_m + float(relaxed.moved_m[k]), gap_m)
    return Outcome(poses, pieces)


def settle_together(assembly: Assembly, poses: Poses, names: list[str]) -> Outcome:
    """Let all pieces go at once from where they are, until everything lies still."""
    free = ~assembly.fixed
    relaxed = relax(assembly, poses, free, most_steps=TOGETHER_STEPS, farthest_m=TOGETHER_FARTHEST_M)
    sank = poses.position_m[:, 2] - relaxed.poses.position_m[:, 2]
    # pieces that start inside each other may jam there: that is no rest
    inside = {piece for overlap in overlaps(assembly, relaxed.poses) for piece in (overlap.a, overlap.b)}
    results = []
    for k, name in enumerate(names):
        if assembly.fixed[k]:
            rest = Rest.AS_IT_IS
        elif _outside(assembly, relaxed.poses, k):
            rest = Rest.OUTSIDE
        elif k in inside:
            rest = Rest.OVERLAPS
        elif not relaxed.at_rest:
            rest = Rest.UNEASY
        elif sank[k] > FELL_M:
            rest = Rest.SLID
        else:
            rest = Rest.AT_REST
        mine = ((relaxed.loaded.a == k) | (relaxed.loaded.b == k)) & (relaxed.loaded.force_n > 0.0)
        gap = float(np.abs(relaxed.loaded.gap_m[mine]).max(initial=0.0))
        results.append(Settled(name, rest, float(relaxed.moved_m[k]), gap))
    return Outcome(relaxed.poses, results)


def _outside(assembly: Assembly, poses: Poses, piece: int) -> bool:
    """Whether a piece's centre lies beyond a pane or below the base."""
    height_m = assembly.planes.normal @ poses.position_m[piece] - assembly.planes.offset_m
    return bool((height_m < 0.0).any())
