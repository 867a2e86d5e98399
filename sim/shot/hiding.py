"""What would hide a back edge that shows: another place for the camera, or a stone that reaches higher.

Both are searched by the same rays that found the edge showing. The camera is shifted without turning it. A
stone that is raised is taken to have something under it: what it hid before stays hidden.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

from sim.scene import Scene
from sim.shot.edges import EdgeSight, edge_sight
from sim.shot.lens import Lens
from sim.shot.stage import Stage
from sim.shot.trace import cast
from sim.units import MM_PER_M

Floats = NDArray[np.float64]

HIDEABLE = ("back left edge", "back right edge")
MOST_SHIFT_MM, SHIFT_STEP_MM = 400, 20
MOST_RAISE_MM, RAISE_STEP_MM = 200, 5
HIDDEN_SHARE = 0.005  # up to here an edge counts as hidden
SHIFTS = (("left", (-1, 0, 0)), ("right", (1, 0, 0)), ("down", (0, 0, -1)), ("up", (0, 0, 1)), ("nearer", (0, 1, 0)))


@dataclass(frozen=True, slots=True)
class Shift:
    """The camera moved; `share` of the edge still shows then."""

    towards: str
    by_mm: float
    share: float


@dataclass(frozen=True, slots=True)
class Raise:
    """A piece that reaches higher by so much; `share` of the edge still shows then."""

    piece: str
    by_mm: float
    share: float


@dataclass(frozen=True, slots=True)
class Remedy:
    """What would hide an edge.

    Attributes
    ----------
    share : float
        Of the edge, that shows now.
    shift : Shift or None
        The shortest one that hides it; None within 400 mm.
    raised : Raise or None
        The least one of a single piece that hides it; where none does, the one that leaves least.
    """

    edge: str
    flooded: bool
    share: float
    shift: Shift | None
    raised: Raise | None


def remedies(scene: Scene, stage: Stage, lens: Lens, flooded: bool, size_px: tuple[int, int]) -> list[Remedy]:
    """For each upright back edge that shows, what would hide it."""
    found = []
    for name in HIDEABLE:
        sight = edge_sight(name, scene, stage, lens, flooded, size_px)
        share = _share(sight)
        if share is None or share <= HIDDEN_SHARE:
            continue
        shift = _shift(name, scene, stage, lens, flooded, size_px)
        found.append(Remedy(name, flooded, share, shift, _raise(stage, sight)))
    return found


def _share(sight: EdgeSight) -> float | None:
    clear = int(sight.clear.sum())
    return float((sight.clear & (sight.blocker < 0)).sum() / clear) if clear else None


def _shift(name: str, scene: Scene, stage: Stage, lens: Lens, flooded: bool, size_px: tuple[int, int]) -> Shift | None:
    """The shortest shift that hides an edge which stays in the picture; the order of `SHIFTS` breaks ties."""
    glass_m = scene.tank.side_mm / MM_PER_M
    for by_mm in range(SHIFT_STEP_MM, MOST_SHIFT_MM + 1, SHIFT_STEP_MM):
        for towards, way in SHIFTS:
            place = lens.position_m + np.array(way) * by_mm / MM_PER_M
            if place[1] > -glass_m - 0.05:
                continue
            sight = edge_sight(name, scene, stage, replace(lens, position_m=place), flooded, size_px)
            share = _share(sight)
            if share is not None and share <= HIDDEN_SHARE:
                return Shift(towards, float(by_mm), share)
    return None


def _raise(stage: Stage, sight: EdgeSight) -> Raise | None:
    """The piece that hides the edge with the least rise, or the most of it with any; none above `MOST_RAISE_MM`."""
    clear = int(sight.clear.sum())
    open_points = np.flatnonzero(sight.clear & (sight.blocker < 0))
    starts, way = sight.starts_m[open_points], sight.points_m[open_points] - sight.starts_m[open_points]
    length = np.linalg.norm(way, axis=1)
    best: Raise | None = None
    for number, piece in enumerate(stage.pieces):
        alone = EmbreeScene()
        TriangleMesh(alone, stage.vertices_m[stage.faces[stage.owner == number]].astype(np.float32))
        left = np.ones(len(open_points), np.bool_)
        tried = None
        for by_mm in range(RAISE_STEP_MM, MOST_RAISE_MM + 1, RAISE_STEP_MM):
            if best is not None and best.share <= HIDDEN_SHARE and by_mm >= best.by_mm:
                break
            going = np.flatnonzero(left)
            if not len(going):
                break
            down = np.array([0.0, 0.0, by_mm / MM_PER_M])  # rays go down instead of the piece up
            met = cast(alone, starts[going] - down, way[going] / length[going, None])
            hidden = (met["geomID"] != -1) & (met["tfar"] < length[going])
            left[going[hidden]] = False
            if hidden.any():
                tried = Raise(piece, float(by_mm), float(left.sum() / clear))
            if left.sum() / clear <= HIDDEN_SHARE:
                break
        if tried is not None and (best is None or _better(tried, best)):
            best = tried
    return best


def _better(one: Raise, other: Raise) -> bool:
    both = one.share <= HIDDEN_SHARE and other.share <= HIDDEN_SHARE
    return one.by_mm < other.by_mm if both else one.share < other.share
