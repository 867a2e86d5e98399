"""What of the tank itself shows: its back edges, panes, base and silicone, and which piece hides the rest.

A share is what is seen over what would be seen without any piece: length for edges, pixels for panes, base
and silicone. The ground is part of the room. What lies outside the picture counts nowhere.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.scene import Scene
from sim.shot.codes import BACK, GOES_ON, LEFT, RIGHT, SEAM, SOIL
from sim.shot.composition import runs_of
from sim.shot.edges import EDGES, edge_sight
from sim.shot.lens import Lens
from sim.shot.refraction import tank_of
from sim.shot.seen import Seen, look
from sim.shot.stage import SEAM_M, Stage
from sim.units import MM_PER_M

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

BIN_MM = 5.0  # fineness of the runs of panes and silicone
PANES = (("left pane", LEFT, 1), ("right pane", RIGHT, 1), ("back pane", BACK, 0))


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the tank in the picture.

    Attributes
    ----------
    share : float or None
        Seen over unobstructed; None when it is not in the picture even without pieces.
    seen, unobstructed : float
        Length in mm for edges, else pixels.
    runs_mm : from and to of what is seen, along the part: x for what runs along the back, y for side
        panes and what runs along them, z for uprights; for panes, where any of it is seen
    hidden_by : pieces and the share of `unobstructed` that each hides, the greatest first
    """

    name: str
    kind: str  # edge | pane | base | silicone
    share: float | None
    seen: float
    unobstructed: float
    runs_mm: tuple[tuple[float, float], ...]
    hidden_by: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class Showing:
    """What of the tank shows, dry or flooded."""

    flooded: bool
    parts: tuple[Part, ...]
    mirrored_pane_share: float | None  # of what is in view of the side panes under water, without pieces, that mirrors
    mirror_share: float  # of the pixels that look into the tank, that show a mirror
    mirrored_pieces: tuple[str, ...]  # pieces seen in mirrors

    def part(self, name: str) -> Part:
        """The part of that name; KeyError when there is none."""
        for part in self.parts:
            if part.name == name:
                return part
        raise KeyError(name)


def showing(scene: Scene, stage: Stage, lens: Lens, flooded: bool, size_px: tuple[int, int] | None = None) -> Showing:
    """What of the tank shows from a camera.

    Raises
    ------
    SceneError
        When the camera stands inside, behind or beside the tank.
    """
    size = size_px or lens.size_px()
    full = look(scene, stage, lens, flooded, size)
    empty = look(scene, stage, lens, flooded, size, with_pieces=False)
    parts = [_edge(name, scene, stage, lens, flooded, size) for name in EDGES]
    for name, wall, axis in PANES:
        parts.append(_area(name, "pane", _pane(empty, wall), _pane(full, wall), full, empty, stage, axis))
    parts.append(_area("base", "base", empty.direct == empty.floor, full.direct == full.floor, full, empty, stage, 0))
    parts += [
        _area(name, "silicone", where, where & (full.end == SEAM), full, empty, stage, axis)
        for name, where, axis in _seams(empty, stage)
    ]
    sides = (empty.wall == LEFT) | (empty.wall == RIGHT)
    with np.errstate(invalid="ignore"):
        sides &= (empty.end != SEAM) & (empty.point_m[..., 2] < (tank_of(scene, flooded).level_m or np.inf))
    mirror = (full.end == GOES_ON) & (full.wall >= 0)
    shown = np.unique(full.shown[full.mirrored & (full.shown < full.floor)])
    return Showing(
        flooded=flooded,
        parts=tuple(parts),
        mirrored_pane_share=_over((sides & np.isin(empty.end, (GOES_ON, SOIL))).sum(), sides.sum()),
        mirror_share=_over(mirror.sum(), full.inside.sum()) or 0.0,
        mirrored_pieces=tuple(stage.pieces[number] for number in shown),
    )


def _over(part: float, whole: float) -> float | None:
    return float(part / whole) if whole else None


def _edge(name: str, scene: Scene, stage: Stage, lens: Lens, flooded: bool, size: tuple[int, int]) -> Part:
    sight = edge_sight(name, scene, stage, lens, flooded, size)
    seen = sight.clear & (sight.blocker < 0)
    hidden = Counter(stage.pieces[number] for number in sight.blocker[sight.clear & (sight.blocker >= 0)])
    step = sight.step_mm
    return Part(
        name=name,
        kind="edge",
        share=_over(seen.sum(), sight.clear.sum()),
        seen=float(seen.sum() * step),
        unobstructed=float(sight.clear.sum() * step),
        runs_mm=tuple(
            (round(float(sight.along_mm[a] - step / 2), 3), round(float(sight.along_mm[b - 1] + step / 2), 3))
            for a, b in runs_of(seen)
        ),
        hidden_by=_ranked(hidden, int(sight.clear.sum())),
    )


def _pane(seen: Seen, wall: int) -> Bools:
    return np.asarray((seen.wall == wall) & (seen.end != SEAM))


def _seams(empty: Seen, stage: Stage) -> list[tuple[str, Bools, int]]:
    """Silicone without pieces before it: uprights at the back, and along the base."""
    seam = empty.end == SEAM
    length, depth, _ = stage.inner_m
    x, y = empty.point_m[..., 0], empty.point_m[..., 1]
    with np.errstate(invalid="ignore"):
        left_upright = seam & (x < length / 2) & (y > 0.98 * depth) & ~_along_base(empty)
        right_upright = seam & (x > length / 2) & (y > 0.98 * depth) & ~_along_base(empty)
        foot = seam & _along_base(empty)
    return [
        ("back left silicone", left_upright, 2),
        ("back right silicone", right_upright, 2),
        ("back bottom silicone", foot & (empty.wall == BACK), 0),
        ("left bottom silicone", foot & (empty.wall == LEFT), 1),
        ("right bottom silicone", foot & (empty.wall == RIGHT), 1),
    ]


def _along_base(seen: Seen) -> Bools:
    with np.errstate(invalid="ignore"):
        return np.asarray(seen.point_m[..., 2] < SEAM_M)


def _area(
    name: str, kind: str, where: Bools, showing_now: Bools, full: Seen, empty: Seen, stage: Stage, axis: int
) -> Part:
    seen = where & showing_now
    behind = where & ~seen
    owners = full.direct[behind]
    hidden = Counter(stage.pieces[number] for number in owners[(owners >= 0) & (owners < full.floor)])
    return Part(
        name=name,
        kind=kind,
        share=_over(seen.sum(), where.sum()),
        seen=float(seen.sum()),
        unobstructed=float(where.sum()),
        runs_mm=_binned(empty.point_m[seen][:, axis], empty.point_m[where][:, axis]),
        hidden_by=_ranked(hidden, int(where.sum())),
    )


def _binned(places_m: Floats, all_m: Floats) -> tuple[tuple[float, float], ...]:
    """Runs, mm, of places; bins that hold no place although nothing is hidden there do not end a run."""
    if not len(places_m):
        return ()
    count = int(np.ceil(all_m.max() * MM_PER_M / BIN_MM)) + 1
    there, possible = (
        np.bincount(np.maximum(values * MM_PER_M / BIN_MM, 0).astype(int), minlength=count) > 0
        for values in (places_m, all_m)
    )
    kept = np.flatnonzero(possible)
    return tuple((kept[a] * BIN_MM, (kept[b - 1] + 1) * BIN_MM) for a, b in runs_of(there[kept]))


def _ranked(counts: Counter[str], whole: int) -> tuple[tuple[str, float], ...]:
    return tuple((piece, count / whole) for piece, count in counts.most_common())
