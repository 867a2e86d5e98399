"""Panes of glass under water and stones, from the scene file to the report."""

from __future__ import annotations

import functools
from functools import partial

from sim.materials import design_strength_mpa, duration_factor, glass
from sim.materials.values import COMPUTED, MEMORY, PUBLISHED
from sim.published.laying import Laying, box
from sim.published.plates import TIMOSHENKO
from sim.published.row import BY_HAND, FUNCTION, SCENE, Row, Subject, amount, share
from sim.states import BaseAnswer, Filling
from sim.units import STANDARD_GRAVITY_M_S2

EN_16612 = "EN 16612:2019, Glass in building: load resistance of panes by calculation"
TS_19100 = "CEN/TS 19100-1:2021, Design of glass structures"
D6817 = "ASTM D6817, Rigid cellular polystyrene geofoam"
LADDER = f"{BY_HAND}statics of a leaning slab"

SERIES = share(5e-3, "elements against the series")
ROUNDED = amount(6e-4, "rounding of the printed number")
HOUR_H, YEAR_H = 1.0, 365.25 * 24.0
SURFACE, ABRADED = 1.0, 0.6
NONE = float("nan")


@functools.cache
def _pane_a(
    middle_mm: tuple[float, float], size_mm: tuple[float, float], mat: str = "", water: bool = False
) -> BaseAnswer | None:
    """A tank of 900 x 450 mm on 10 mm of glass, with 10 kg on it, or with a fixed stone and 450 mm of water."""
    laying = Laying(water="level_mm = 450\ntemperature_c = 20" if water else "level_mm = 0")
    laying.tank = f'support = "mat"\nmat = {{ material = "{mat}", thickness_mm = 10 }}' if mat else 'support = "rim"'
    low = (middle_mm[0] - size_mm[0] / 2.0, middle_mm[1] - size_mm[1] / 2.0, 0.0)
    keys = "density_kg_m3 = 2700\nfixed = true" if water else "mass_kg = 10"
    laying.put("stone", box(low, (*size_mm, 40.0)), keys)
    return laying.report((Filling.FLOODED,) if water else (Filling.AIR,)).base


def under_a_stone(middle_mm: tuple[float, float], size_mm: tuple[float, float], which: str, mat: str = "") -> float:
    """Tension, MPa, or deflection, mm, of the pane under 10 kg."""
    base = _pane_a(middle_mm, size_mm, mat)
    if base is None:
        return NONE
    return base.nominal_tension_mpa if which == "tension" else base.deflection_mm


def under_water(which: str) -> float:
    """Tension, MPa, or deflection, mm, of the pane under 450 mm of water."""
    base = _pane_a((450, 225), (60, 60), water=True)
    if base is None:
        return NONE
    return base.nominal_tension_mpa if which == "tension" else base.deflection_mm


def thrust_on_a_side_pane() -> float:
    """Most that a slab of 200 x 4 mm can press on the pane it leans against at 60 degrees, over its weight."""
    laying = Laying(inner_mm=(600, 400, 400))
    slab = box((-100, -30, -2), (200, 60, 4))
    reach = float(slab.turned(-60.0)[:, 0].max())
    low = float(slab.turned(-60.0)[:, 2].min())
    laying.put("slab", slab, "density_kg_m3 = 2700\nfriction = 0.9", at_mm=(600 - reach, 200, -low), turn_deg=-60.0)
    report = laying.report()
    (right,) = (side for side in report.side_panes if side.pane == "right pane")
    most = right.thrust_n.most
    return NONE if most is None else most / report.total.mass_kg / STANDARD_GRAVITY_M_S2


def _stone(middle: tuple[float, float], size: tuple[float, float], deflection: str, tension: str) -> tuple[Row, Row]:
    what = f"10 kg on {size[0]:g} x {size[1]:g} mm at {middle[0]:g}, {middle[1]:g} mm, pane 900 x 450 x 10 mm"
    return (
        Row(TIMOSHENKO, "sections 28-29, Navier's series", f"deflection, {what}", "mm", deflection, SERIES, COMPUTED,
            SCENE, partial(under_a_stone, middle, size, "deflection")),
        Row(TIMOSHENKO, "sections 28-29, Navier's series", f"tension, {what}", "MPa", tension, SERIES, COMPUTED,
            SCENE, partial(under_a_stone, middle, size, "tension")),
    )  # fmt: skip


def _on_mat(mat: str, tension: str) -> Row:
    what = f"tension, 10 kg on 60 x 60 mm in the middle, 10 mm of {mat} beneath"
    return Row(D6817, "table 1, 1 % strain; Navier's series on a mat", what, "MPa", tension, SERIES, COMPUTED, SCENE,
               partial(under_a_stone, (450, 225), (60, 60), "tension", mat))  # fmt: skip


def _lasting(hours: float, name: str, factor: str) -> Row:
    return Row(EN_16612, "k_mod = 0.663 t^(-1/16)", f"share of strength left after {name}", "1", factor, ROUNDED,
               MEMORY, FUNCTION, partial(duration_factor, hours))  # fmt: skip


def _strength(what: str, surface: float, number: str) -> Row:
    return Row(EN_16612, "k_e k_mod k_sp f_gk / 1.8", f"design strength for good, {what}", "MPa", number,
               amount(6e-3, "rounding of the printed number"), MEMORY, FUNCTION,
               partial(design_strength_mpa, float("inf"), surface))  # fmt: skip


def _characteristic(name: str, number: str) -> Row:
    return Row(TS_19100, "citing EN 572, EN 1863, EN 12150", f"characteristic strength of {name} glass", "MPa", number,
               amount(0.0, "a number of our table"), PUBLISHED, FUNCTION,
               lambda: glass(name).f_gk_mpa.default)  # fmt: skip


PANES = Subject(
    "Panes of glass",
    (
        Row(TIMOSHENKO, "table 8, nu 0.23", "deflection, 450 mm of water, pane 900 x 450 x 10 mm on its rim", "mm",
            "0.2971", SERIES, COMPUTED, SCENE, partial(under_water, "deflection")),
        Row(TIMOSHENKO, "table 8, nu 0.23", "tension, 450 mm of water, pane 900 x 450 x 10 mm on its rim", "MPa",
            "5.377", SERIES, COMPUTED, SCENE, partial(under_water, "tension")),
        *_stone((450, 225), (20, 20), "0.0531", "2.303"),
        *_stone((450, 225), (60, 60), "0.0520", "1.670"),
        *_stone((450, 225), (150, 100), "0.0492", "1.284"),
        _on_mat("EPS15", "0.784"),
        _on_mat("EPS22", "0.689"),
        Row(LADDER, "N = W (cos a - t/L sin a) / 2 (sin a - mu cos a)",
            "most thrust on a side pane of a slab leaning at 60 degrees, friction 0.9", "W", "0.5801",
            share(3e-3, "contacts found to 0.02 mm on a slab of 4 mm"), COMPUTED, SCENE, thrust_on_a_side_pane),
        _lasting(10 / 60 * HOUR_H, "10 minutes", "0.742"),
        _lasting(YEAR_H, "a year", "0.376"),
        _lasting(50 * YEAR_H, "50 years", "0.294"),
        _strength("sound surface", SURFACE, "7.25"),
        _strength("abraded surface", ABRADED, "4.35"),
        _characteristic("annealed", "45"),
        _characteristic("toughened", "120"),
    ),
)  # fmt: skip
