"""What a shot is like, in numbers: what of the tank shows, what would hide it, and the composition."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sim.scene import Scene
from sim.shot.composition import Composition, composition
from sim.shot.hiding import Remedy, remedies
from sim.shot.lens import Lens
from sim.shot.seen import look
from sim.shot.shows import Showing, showing
from sim.shot.stage import Stage
from sim.units import MM_PER_M


@dataclass(frozen=True, slots=True)
class State:
    """A shot dry or flooded."""

    flooded: bool
    showing: Showing
    remedies: tuple[Remedy, ...]
    composition: Composition


@dataclass(frozen=True, slots=True)
class Account:
    """A shot with one lens."""

    title: str
    focal_mm: float
    size_px: tuple[int, int]
    states: tuple[State, ...]


def account(scene: Scene, stage: Stage, lens: Lens, flooded: Sequence[bool], size_px: tuple[int, int]) -> Account:
    """The account of a shot, for each of some fillings.

    Raises
    ------
    SceneError
        When the camera stands inside, behind or beside the tank.
    """
    depth_m = scene.tank.inner_mm[1] / MM_PER_M
    states = tuple(
        State(
            flooded=wet,
            showing=showing(scene, stage, lens, wet, size_px),
            remedies=tuple(remedies(scene, stage, lens, wet, size_px)),
            composition=composition(look(scene, stage, lens, wet, size_px), depth_m),
        )
        for wet in flooded
    )
    return Account(scene.title, lens.focal_m * MM_PER_M, size_px, states)
