"""The front shot beside the 3D view: a small picture after every change, lines to compose by, what to beware of."""

from __future__ import annotations

import hashlib
import io
import time
from collections import OrderedDict
from dataclasses import dataclass

from PIL import Image

from sim.errors import BedjointError
from sim.scene import Scene
from sim.shot.composition import GOLDEN, THIRDS
from sim.shot.edges import edge_sight
from sim.shot.lens import Lens, lens_of
from sim.shot.shot import studio_of, take
from sim.shot.stage import Stage, set_stage
from sim.units import MM_PER_M
from sim.yard.bench import Laid
from sim.yard.jobs import GivenUp, Outdated
from sim.yard.protocol import Guide, ShotTold

MOST_SHOTS = 12  # kept for windows that come late
NARROWEST_PX, WIDEST_PX = 160, 1920
BACK_EDGES = ("back bottom edge", "back left edge", "back right edge")
LEAST_SHOWN = 0.02  # of an edge: less is not worth a word


@dataclass(frozen=True, slots=True)
class ShotSettings:
    """How the shot is taken."""

    flooded: bool = True
    focal_mm: float | None = None
    width_px: int = 640
    fine: bool = False


class Shots:
    """Takes shots and keeps the last few."""

    def __init__(self) -> None:
        self._kept: OrderedDict[str, bytes] = OrderedDict()
        self._stage: tuple[int, Stage] | None = None

    def png(self, key: str) -> bytes:
        """A shot by its key; KeyError when it is none of the last ones."""
        return self._kept[key]

    def take(self, version: int, laid: Laid, settings: ShotSettings, outdated: Outdated) -> ShotTold:
        """Take the front shot of a version.

        Raises
        ------
        GivenUp
            When the version is out of date.
        SceneError
            When there is no place for the camera.
        """
        began = time.monotonic()
        lens = lens_of(laid.scene, settings.focal_mm)
        if self._stage is None or self._stage[0] != version:
            self._stage = (version, set_stage(laid.scene, laid.pieces))
        if outdated():
            raise GivenUp
        size_px = lens.size_px(min(max(settings.width_px, NARROWEST_PX), WIDEST_PX))
        data = shot_png(laid.scene, self._stage[1], lens, settings.flooded, size_px, settings.fine)
        key = hashlib.sha256(data).hexdigest()[:24]
        self._kept[key] = data
        self._kept.move_to_end(key)
        while len(self._kept) > MOST_SHOTS:
            self._kept.popitem(last=False)
        return ShotTold(
            version=version,
            key=key,
            width_px=size_px[0],
            height_px=size_px[1],
            flooded=settings.flooded,
            focal_mm=lens.focal_m * MM_PER_M,
            took_s=time.monotonic() - began,
            guides=GUIDES,
            warnings=warnings(laid.scene, self._stage[1], lens, settings.flooded, size_px),
        )


def shot_png(
    scene: Scene, stage: Stage, lens: Lens, flooded: bool, size_px: tuple[int, int], fine: bool = False
) -> bytes:
    """A shot as PNG."""
    stream = io.BytesIO()
    Image.fromarray(take(studio_of(scene, stage, flooded), lens, size_px, fine)).save(stream, "PNG")
    return stream.getvalue()


def warnings(scene: Scene, stage: Stage, lens: Lens, flooded: bool, size_px: tuple[int, int]) -> tuple[str, ...]:
    """Which of the back edges show, and how much of each."""
    found = []
    for name in BACK_EDGES:
        try:
            sight = edge_sight(name, scene, stage, lens, flooded, size_px)
        except BedjointError as error:
            return (str(error),)
        shown = float((sight.clear & (sight.blocker < 0)).mean())
        if shown > LEAST_SHOWN:
            found.append((name, f"{100 * shown:.0f} %"))
    if len(found) == 1:
        ((name, share),) = found
        return (f"The {name} shows over {share} of its length: hide it behind stones.",)
    each = ", ".join(f"{name.split()[1]} {share}" for name, share in found)
    return (f"Back edges show: {each} of their lengths. Hide them behind stones.",) if found else ()


def _grid(name: str, shares: tuple[float, ...]) -> Guide:
    upright = tuple(((share, 0.0), (share, 1.0)) for share in shares)
    level = tuple(((0.0, share), (1.0, share)) for share in shares)
    return Guide(name, upright + level)


GUIDES = (
    _grid("thirds", THIRDS),
    _grid("golden ratio", GOLDEN),
    _grid("middle", (0.5,)),
    Guide("diagonals", (((0.0, 0.0), (1.0, 1.0)), ((0.0, 1.0), (1.0, 0.0)))),
)
