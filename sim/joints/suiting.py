"""Which glue suits a joint: its gap, its stones, wet or dry, and whether it may carry at all."""

from __future__ import annotations

from dataclasses import dataclass

from sim.materials import ADHESIVES, Adhesive, Glass, Rock, Wood
from sim.units import MM_PER_M


@dataclass(frozen=True, slots=True)
class Suiting:
    """One chemistry for one joint."""

    glue: Adhesive
    against: tuple[str, ...]  # why it does not suit; empty where it does

    @property
    def suits(self) -> bool:
        return not self.against


def suiting(gap_m: float, sides: tuple[Rock | Wood | Glass | None, ...], wet: bool = False) -> tuple[Suiting, ...]:
    """Say of every chemistry in the table whether it may carry a joint.

    Parameters
    ----------
    gap_m : least distance of the two faces; under 0 counts as touching
    sides : what the joint unites; None: not known, nothing is held against it
    wet : whether it is set on wet stone

    Returns
    -------
    tuple of Suiting
        In the order of the table. Wood rules every glue out as its only hold: it swells, and rigid glue breaks.
    """
    return tuple(Suiting(glue, tuple(_against(glue, gap_m, sides, wet))) for glue in ADHESIVES.values())


def _against(glue: Adhesive, gap_m: float, sides: tuple[Rock | Wood | Glass | None, ...], wet: bool) -> list[str]:
    found = []
    if not glue.structural:
        found.append("a seal or cushion: it carries no load for good")
    if gap_m * MM_PER_M > glue.gap_mm.high:
        found.append(f"fills up to {glue.gap_mm.high:g} mm, and the gap is {gap_m * MM_PER_M:.1f} mm")
    if wet and not glue.on_wet_rock:
        found.append("needs dry faces")
    if not glue.on_carbonate and any(isinstance(side, Rock) and side.carbonate for side in sides):
        found.append("harms limestone and marble")
    if any(isinstance(side, Wood) for side in sides):
        found.append("wood swells and breaks rigid glue: tie or screw it")
    return found
