"""Our tables of stone, mats and friction against those that they were taken from."""

from __future__ import annotations

import functools
import math
from functools import partial

import numpy as np

from sim.base.sides import ground_thrust_pa
from sim.contact import PANES
from sim.materials import friction, mat, rock
from sim.materials.values import MEMORY, PUBLISHED
from sim.published.laying import Laying, box
from sim.published.panes import D6817
from sim.published.row import FUNCTION, SCENE, Row, Subject, amount, errs_low, share
from sim.states import Filling, Report
from sim.units import STANDARD_GRAVITY_M_S2

ALDEN = "Alden 2014, Densities of common rock types"
BARTON = "Barton & Choubey 1977, The shear strength of rock joints, Rock Mech. 10, 1-54, by way of Mechanics of Asphalt"
CAFARO = "Cafaro et al. 2022, Studia Geotech. Mech., doi 10.2478/sgem-2022-0014"
JAKY = "Jaky 1944, earth pressure at rest"
LAVA = "Al-Naaymi & Ali 2013, Aust. J. Basic Appl. Sci. 7(11), 116-124"
BEADS = "Contact friction of glass particles, Soils & Foundations"

SAFE = "a default errs low: never above the middle of what was measured"
OWN = amount(0.0, "a number of our table")
OWN_LITRE = share(1e-4, "a number of our table, times a litre")
LITRE_MM = (100.0, 100.0, 100.0)
LITRES = ("granite", "basalt", "limestone", "sandstone", "slate", "pumice")


@functools.cache
def _litres() -> Report:
    """A litre of each rock, side by side."""
    laying = Laying(inner_mm=(900, 450, 450))
    for k, name in enumerate(LITRES):
        laying.put(name, box((20 + 140 * k, 150, 0), LITRE_MM), "", rock=f"rock = '{name}'")
    return laying.report((Filling.AIR,))


def litre_weighs(name: str) -> float:
    """Mass of a litre of rock, kg."""
    return _litres().pieces[LITRES.index(name)].mass_kg


@functools.cache
def _slides(name: str) -> tuple[float, float]:
    """Tilts at which a low block of rock slides on a fixed one of the same, dry and flooded, degrees."""
    laying = Laying(water="level_mm = 300")
    laying.put("below", box((300, 100, 0), (300, 250, 50)), "fixed = true", rock=f"rock = '{name}'")
    laying.put("above", box((400, 170, 50), (100, 100, 40)), "", rock=f"rock = '{name}'")
    air, flooded = (one.equilibrium.critical_tilt_deg for one in laying.report((Filling.AIR, Filling.FLOODED)).states)
    return math.nan if air is None else air, math.nan if flooded is None else flooded


def slides_at(name: str, wet: bool) -> float:
    """Tilt at which rock slides on rock, degrees."""
    return _slides(name)[int(wet)]


def thrust_at_rest() -> float:
    """Pressure of 100 mm of dry sand on a side pane at its foot, over that of its weight."""
    laying = Laying(inner_mm=(600, 400, 400))
    laying.sections.append('[ground]\nlayers = [{ material = "sand", front_mm = 100, back_mm = 100 }]\n')
    with laying.read() as scene:
        (pressure,) = ground_thrust_pa(scene, PANES[2], np.array([[0.1, 0.0]]), 0.0, 1000.0, False)
    return float(pressure) / (0.1 * 1555.0 * STANDARD_GRAVITY_M_S2)


def _litre(name: str, low: float, high: float) -> Row:
    middle, half = (low + high) / 2.0, (high - low) / 2.0
    return Row(ALDEN, f"{low:g} to {high:g}", f"a litre of {name}", "kg", f"{middle:.2f}",
               amount(half, "the range that the source gives"), PUBLISHED, SCENE,
               partial(litre_weighs, name))  # fmt: skip


def _slope(source: str, place: str, name: str, wet: bool, middle: str) -> Row:
    state = "flooded" if wet else "dry"
    return Row(source, place, f"tilt at which {name} slides on {name}, {state}", "deg", middle, errs_low(0.3, SAFE),
               PUBLISHED, SCENE, partial(slides_at, name, wet), 1)  # fmt: skip


def _foam(name: str, kpa: str) -> Row:
    return Row(D6817, "table 1", f"resistance of {name} at 1 % strain, by its stiffness", "kPa", kpa,
               amount(0.0, "Hooke's law between 0 and 1 %"), PUBLISHED, FUNCTION,
               lambda: mat(name).youngs_mpa.default * 10.0)  # fmt: skip


TABLES = Subject(
    "Stone, mats and friction",
    (
        _litre("granite", 2.6, 2.7),
        _litre("basalt", 2.8, 3.0),
        _litre("limestone", 2.3, 2.7),
        _litre("sandstone", 2.2, 2.8),
        _litre("slate", 2.7, 2.8),
        _slope(BARTON, "31-35, fine granite", "granite", False, "33"),
        _slope(BARTON, "29-31, fine granite", "granite", True, "30"),
        _slope(BARTON, "31-37", "limestone", False, "34"),
        _slope(BARTON, "27-35", "limestone", True, "31"),
        _slope(CAFARO, "shale", "shale", False, "29"),
        _slope(CAFARO, "shale", "shale", True, "21"),
        Row(BEADS, "abstract", "friction of stone on bare glass, dry", "1", "0.162", errs_low(0.3, SAFE), PUBLISHED,
            FUNCTION, lambda: friction("granite", "glass", False).default),
        Row(JAKY, "1 - sin 34 degrees", "pressure at rest of sand on a side pane over that of its weight", "1",
            "0.4408", share(1e-3, "rounding of the printed number"), MEMORY, SCENE, thrust_at_rest),
        Row(LAVA, "abstract", "a litre of pumice", "kg", "0.744", OWN_LITRE, PUBLISHED, SCENE,
            partial(litre_weighs, "pumice")),
        Row(LAVA, "abstract", "open pores of scoria", "1", "0.517", OWN, PUBLISHED, FUNCTION,
            lambda: rock("scoria").porosity.default),
        _foam("EPS15", "25"),
        _foam("EPS22", "50"),
        _foam("EPS39", "103"),
    ),
)  # fmt: skip
