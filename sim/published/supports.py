"""What supports carry: feet of a bar and of a stand, and the ground under a rigid base."""

from __future__ import annotations

import functools
from functools import partial

from sim.materials.values import COMPUTED
from sim.published.blocks import COULOMB, ROUNDED, number
from sim.published.laying import Laying, box, prism
from sim.published.row import BY_HAND, FUNCTION, SCENE, Row, Subject, amount, share
from sim.states import Filling, Report
from sim.statics import peak_pressure
from sim.units import STANDARD_GRAVITY_M_S2

HAND = f"{BY_HAND}least squares and extreme splits of indeterminate supports"
PLACE = "two moments and a sum"
SPLIT = share(1e-3, "the glass as heavy as the stone to the last printed digit")


@functools.cache
def _beam() -> dict[int, tuple[float, float, float]]:
    """A bar on three feet: nominal, least and most of each as shares of its weight, by x in mm."""
    wide, narrow, drop, high = 18.0, 3.0, 15.0, 35.0
    profile = ((-wide, drop), (-narrow, 0.0), (narrow, 0.0), (wide, drop))
    under = [(x + across, z) for x in (100.0, 450.0, 800.0) for across, z in profile]
    laying = Laying()
    laying.put("beam", prism([*under, (800 + wide, high), (100 - wide, high)], 100, 140))
    report = laying.report()
    weight_n = report.total.mass_kg * STANDARD_GRAVITY_M_S2
    return {
        round(one.centre_mm[0]): (
            one.force_n.nominal / weight_n,
            number(one.force_n.least) / weight_n,
            number(one.force_n.most) / weight_n,
        )
        for one in report.footprints
    }


def beam_share(at_mm: int, which: int) -> float:
    """Nominal (0), least (1) or most (2) that a foot of the bar carries, over its weight."""
    return _beam()[at_mm][which]


def edge_pressure(eccentricity: float) -> float:
    """Largest pressure under a rigid base over the mean one."""
    return peak_pressure(7.0, 2.0, eccentricity * 2.0) * 2.0 / 7.0


@functools.cache
def _on_feet() -> Report:
    """A square tank on feet under its inner corners, with a stone as heavy as its glass a fifth of its side off."""
    glass_m3 = 0.42 * 0.42 * 0.01 + 2.0 * (0.42 + 0.4) * 0.4 * 0.01
    laying = Laying(inner_mm=(400, 400, 400))
    laying.tank = "stand = { feet_mm = [[0, 0], [400, 0], [400, 400], [0, 400]] }"
    laying.put("stone", box((230, 150, 0), (100, 100, 100)), f"mass_kg = {2500.0 * glass_m3!r}")
    return laying.report((Filling.AIR,))


def foot(number: int, which: str) -> float:
    """What one foot carries of the whole weight: nominal, least or most."""
    standing = _on_feet().standing
    force = standing.feet[number].force_kn
    kn = {"nominal": force.nominal, "least": force.least, "most": force.most}[which]
    return float("nan") if kn is None else kn * 1000.0 / standing.mass_kg / STANDARD_GRAVITY_M_S2


def _supports(what: str, published: str, at_mm: int, which: int) -> Row:
    return Row(HAND, PLACE, what, "W", published, amount(5e-3, "feet 6 mm wide on a span of 700 mm"), COMPUTED,
               SCENE, partial(beam_share, at_mm, which))  # fmt: skip


def _pressure(eccentricity: float, name: str, peak: str) -> Row:
    what = f"largest over mean pressure of a rigid base, load {name} of its width off the middle"
    return Row(COULOMB, "linear pressure, no tension", what, "1", peak, ROUNDED, COMPUTED, FUNCTION,
               partial(edge_pressure, eccentricity))  # fmt: skip


def _foot(what: str, part: str, number: int, which: str) -> Row:
    return Row(HAND, PLACE, what, "W", part, SPLIT, COMPUTED, SCENE, partial(foot, number, which), 3)


SUPPORTS = Subject(
    "Supports",
    (
        _supports("share of the middle of three feet of a rigid bar, equal compliance", "0.333", 450, 0),
        _supports("most that the middle foot may carry", "1.000", 450, 2),
        _supports("most that an end foot may carry", "0.500", 100, 2),
        _pressure(0.1, "a tenth", "1.6"),
        _pressure(1 / 6, "a sixth", "2.0"),
        _pressure(0.25, "a quarter", "2.667"),
        _foot("share of the nearer feet, weight a tenth of the side off the middle, equal compliance", "0.3", 1,
              "nominal"),
        _foot("least that they may carry", "0.1", 1, "least"),
        _foot("most that they may carry", "0.5", 1, "most"),
        _foot("most that the farther feet may carry", "0.4", 0, "most"),
    ),
)  # fmt: skip
