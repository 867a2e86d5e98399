"""Blocks on slopes, under pushes, leaning, stacked, flooded, wedged: from the scene file to the report."""

from __future__ import annotations

import functools
from functools import partial

import numpy as np

from sim.materials.values import COMPUTED, MEMORY, PUBLISHED
from sim.pieces.placing import place_pieces
from sim.published.laying import Laying, box, edge, prism
from sim.published.row import BY_HAND, SCENE, Row, Subject, amount, share
from sim.states import Filling, Report, judge_laid, set_stage, waters_of
from sim.statics import bracket
from sim.units import STANDARD_GRAVITY_M_S2

COULOMB = f"{BY_HAND}Coulomb's friction and moments of a rigid block"
MATHWORLD = "Weisstein, MathWorld, Book Stacking Problem"
OVERHANG = "Paterson & Zwick 2009, Overhang, Amer. Math. Monthly 116(1), 19-44"
ARCHIMEDES = "Archimedes, On Floating Bodies I, proposition 7"
ACARY = (
    "Acary, Cadoux, Lemarechal & Malick 2011, A formulation of the linear discrete Coulomb friction problem via convex "
    "optimization, ZAMM 91(2), 155-175"
)

ANGLE = amount(0.1, "contacts are found to 0.02 mm on blocks of 60 mm and more")
CONTACTS = share(0.01, "contacts are found to 0.02 mm, toes have a width")
HALVED = share(5e-4, "halved to 0.02 %, contacts found to 0.02 mm")
ROUNDED = share(5e-4, "rounding of the printed number")
LENGTH_MM = 96.0  # of the blocks over an edge
PINNED_MM = 100.0


def number(value: float | None) -> float:
    """A value that a report may not know; nan then."""
    return float("nan") if value is None else value


@functools.cache
def _block(width_mm: float, height_mm: float, mu: float) -> Report:
    laying = Laying()
    laying.put("block", box((400, 150, 0), (width_mm, width_mm, height_mm)), f"density_kg_m3 = 2700\nfriction = {mu}")
    return laying.report()


def tips_at(width_mm: float, height_mm: float, mu: float) -> float:
    """Least tilt of the tank at which a block moves, degrees."""
    return number(_block(width_mm, height_mm, mu).states[0].equilibrium.critical_tilt_deg)


def pushed_by(width_mm: float, height_mm: float, mu: float) -> float:
    """Least push at a block's top that moves it, over its weight."""
    report = _block(width_mm, height_mm, mu)
    return number(report.states[0].equilibrium.least_push_n) / report.total.mass_kg / STANDARD_GRAVITY_M_S2


def leans_from(floor: float, wall: float, degrees: float) -> float:
    """Angle from which a ladder stands."""
    length_mm = 400.0
    ladder = prism([(0, 0), (length_mm / 2, -8), (length_mm, 0), (length_mm / 2, 8)], 0.0, 40.0)

    def stands(angle_deg: float) -> bool:
        laying = Laying()
        top_x = 200.0 + length_mm * float(np.cos(np.radians(angle_deg)))
        laying.put("ladder", ladder, at_mm=(200, 200, 0), turn_deg=-angle_deg)
        laying.put("wall", box((top_x, 100, 0), (40, 250, 420)), "density_kg_m3 = 2700\nfixed = true")
        laying.rub("ladder", "glass", floor)
        laying.rub("ladder", "wall", wall)
        return laying.stands()

    return edge(stands, degrees + 0.31, degrees - 0.27, 4)


def _over_the_edge(lefts: list[tuple[str, float, int]]) -> bool:
    """Whether blocks stand whose left ends lie so many lengths from the edge of a table, on levels."""
    laying = Laying()
    laying.put("table", box((100, 150, 0), (300, 80, 40)), "density_kg_m3 = 2700\nfixed = true")
    for name, left, level in lefts:
        laying.put(name, box((400 + left * LENGTH_MM, 170, 40 + 30 * level), (LENGTH_MM, 40, 30)))
    return laying.stands()


def harmonic_overhang(blocks: int) -> float:
    """Overhang of a harmonic stack at which it goes over, in lengths of a block."""
    over = [sum(0.5 / k for k in range(m, blocks + 1)) for m in range(blocks, 0, -1)]  # lowest first

    def stands(part: float) -> bool:
        return _over_the_edge([(f"block_{k}", part * right - 1.0, k) for k, right in enumerate(over)])

    return over[-1] * edge(stands, 0.9983, 1.0019, 4)


def triangle_overhang() -> float:
    """Overhang at which three blocks as an inverted triangle go over, in lengths of a block."""

    def stands(overhang: float) -> bool:
        shift = overhang - 1.0
        return _over_the_edge([("a", shift - 0.5, 0), ("b", shift - 1.0, 1), ("c", shift, 1)])

    return edge(stands, 0.9983, 1.0019, 4)


def tower_factor(cubes: int) -> float:
    """Horizontal force over weight that a tower of cubes bears."""
    laying = Laying(inner_mm=(900, 450, 650))
    for k in range(cubes):
        laying.put(f"cube_{k}", box((400, 200, 60 * k), (60, 60, 60)), "density_kg_m3 = 2700\nfriction = 0.7")
    return float(np.tan(np.radians(number(laying.report().states[0].equilibrium.critical_tilt_deg))))


@functools.cache
def _flooded(density: float) -> Report:
    laying = Laying(water="level_mm = 400\ntemperature_c = 4")  # water of 1000 kg/m3
    for name, height in (("low", 0), ("high", 100)):
        laying.put(name, box((400, 150, height), (100, 100, 100)), f"density_kg_m3 = {density}\nfriction = 0.7")
    return laying.report((Filling.AIR, Filling.FLOODED))


def flooded_force(density: float) -> float:
    """Force of a flooded stack on the base over that in air."""
    air, flooded = _flooded(density).states
    return flooded.footprints[0].force_n.nominal / air.footprints[0].force_n.nominal


def flooded_push(density: float) -> float:
    """Least push that moves a flooded stack over that in air."""
    air, flooded = _flooded(density).states
    return number(flooded.equilibrium.least_push_n) / number(air.equilibrium.least_push_n)


def flooded_tilt(density: float) -> float:
    """Critical tilt of a flooded stack, degrees."""
    return number(_flooded(density).states[1].equilibrium.critical_tilt_deg)


def floats_below() -> float:
    """Density under which a block floats off in water of 1000 kg/m3."""

    def stays(density: float) -> bool:
        laying = Laying(water="level_mm = 400\ntemperature_c = 4")
        laying.put("raft", box((400, 150, 0), (100, 100, 100)), f"density_kg_m3 = {density}")
        return laying.report((Filling.FLOODED,)).verdict == "stands (quick)"

    return edge(stays, 1011.0, 987.0, 4)


def taper_of_keystones() -> float:
    """Taper of a block between two fixed faces from which it stands, degrees; wider at its top: above 0."""

    def stands(taper_deg: float) -> bool:
        lean = 50.0 * float(np.tan(np.radians(taper_deg)))
        foot, top, low, high = 50 - lean, 50 + lean, 50, 150
        laying = Laying()
        fixed = "density_kg_m3 = 2700\nfixed = true"
        laying.put("west", prism([(300, low), (450 - foot, low), (450 - top, high), (300, high)], 130, 270), fixed)
        laying.put("east", prism([(450 + foot, low), (600, low), (600, high), (450 + top, high)], 130, 270), fixed)
        stone = [(450 - foot, low), (450 + foot, low), (450 + top, high), (450 - top, high)]
        laying.put("keystone", prism(stone, 150, 250))
        laying.rub("granite", "granite", 0.5)
        return laying.stands()

    return edge(stands, 0.23, -0.27, 4)


def squeeze_of_a_wedged_block(mu: float) -> float:
    """Least force on each of two panes that could hold a block between them, over its weight; it falls all the same."""
    laying = Laying(inner_mm=(PINNED_MM, 450, 450))
    laying.put("block", box((0, 150, 100), (PINNED_MM, 100, 100)))
    laying.rub("granite", "glass", mu)
    with laying.read() as scene:
        stage = set_stage(scene, place_pieces(scene))
        judgement = judge_laid(stage, "dry", waters_of(scene, stage.pieces)[0], quick=True)
    contacts = judgement.system.contacts
    one_pane = np.zeros((len(contacts.a), 3))
    one_pane[contacts.b == contacts.b.min(), 0] = 1.0
    loads = stage.loads_in(waters_of(scene, stage.pieces)[0])
    return bracket(judgement.system, loads, one_pane).least / float(loads.weight_n[0])


def _incline(width_mm: float, height_mm: float, mu: float, degrees: str) -> Row:
    what = f"tilt at which a block {width_mm:g} wide, {height_mm:g} high, friction {mu:g}, moves"
    how = partial(tips_at, width_mm, height_mm, mu)
    return Row(COULOMB, "tan a = min(mu, b/h)", what, "deg", degrees, ANGLE, COMPUTED, SCENE, how)


def _ladder(floor: float, wall: float, degrees: str) -> Row:
    what = f"angle from which a ladder stands, friction {floor:g} below, {wall:g} at the wall"
    how = partial(leans_from, floor, wall, float(degrees))
    return Row(COULOMB, "tan a = (1 - m1 m2) / 2 m1", what, "deg", degrees, ANGLE, COMPUTED, SCENE, how, 2)


def _harmonic(blocks: int, overhang: str) -> Row:
    what = f"greatest overhang of {blocks} block{'s' if blocks > 1 else ''} over an edge"
    return Row(
        MATHWORLD, "equations 1-8", what, "lengths", overhang, HALVED, PUBLISHED, SCENE,
        partial(harmonic_overhang, blocks), 4,
    )  # fmt: skip


def _tower(cubes: int, factor: str) -> Row:
    what = f"horizontal force over weight that {cubes} cubes one on another bear, friction 0.7"
    return Row(COULOMB, "min(mu, 1/n)", what, "1", factor, CONTACTS, COMPUTED, SCENE, partial(tower_factor, cubes))


def _submerged(density: float, part: str) -> tuple[Row, Row]:
    place = "1 - rho_w / rho_s"
    return (
        Row(
            ARCHIMEDES, place, f"force on the base flooded over in air, stone of {density:g} kg/m3", "1", part,
            ROUNDED, COMPUTED, SCENE, partial(flooded_force, density), 5,
        ),
        Row(
            ARCHIMEDES, place, f"push that moves it flooded over in air, stone of {density:g} kg/m3", "1", part,
            CONTACTS, COMPUTED, SCENE, partial(flooded_push, density), 5,
        ),
    )  # fmt: skip


BLOCKS = Subject(
    "Blocks, stacks and wedges",
    (
        _incline(100, 100, 0.5, "26.565"),
        _incline(100, 200, 0.8, "26.565"),
        _incline(100, 300, 0.2, "11.310"),
        _incline(50, 150, 0.7, "18.435"),
        Row(COULOMB, "P = W b / 2y", "push at its top that tips a block twice as high as wide, friction 0.8", "W",
            "0.25", CONTACTS, COMPUTED, SCENE, partial(pushed_by, 100, 200, 0.8), 4),
        _ladder(0.5, 0.5, "36.870"),
        _ladder(0.3, 0.3, "56.602"),
        _harmonic(1, "0.5"),
        _harmonic(2, "0.75"),
        _harmonic(3, "0.91667"),
        _harmonic(4, "1.04167"),
        Row(OVERHANG, "figure 2", "greatest overhang of three blocks as an inverted triangle", "lengths", "1.0",
            HALVED, PUBLISHED, SCENE, triangle_overhang, 4),
        _tower(2, "0.5"),
        _tower(3, "0.3333"),
        _tower(5, "0.2"),
        _tower(10, "0.1"),
        *_submerged(2700, "0.6296"),
        *_submerged(2650, "0.6226"),
        *_submerged(1200, "0.1667"),
        Row(ARCHIMEDES, "scale-free cones", "tilt of two cubes flooded, stone of 2700 kg/m3, as in air", "deg",
            "26.565", ANGLE, COMPUTED, SCENE, partial(flooded_tilt, 2700)),
        Row(ARCHIMEDES, "density of the water", "density under which a stone floats off at 4 C", "kg/m3", "1000",
            amount(2.0, "halved to 1.5 kg/m3"), COMPUTED, SCENE, floats_below),
        Row(ACARY, "iteration contracts for any taper above 0", "taper from which a keystone stands by loading alone",
            "deg", "0", amount(0.05, "halved to 0.03 degrees"), MEMORY, SCENE, taper_of_keystones, 2),
        Row(COULOMB, "N = W / 2 mu", "least squeeze of each pane that could hold a block, friction 0.5", "W", "1.0",
            CONTACTS, COMPUTED, SCENE, partial(squeeze_of_a_wedged_block, 0.5), 3),
        Row(COULOMB, "N = W / 2 mu", "least squeeze of each pane that could hold a block, friction 0.2", "W", "2.5",
            CONTACTS, COMPUTED, SCENE, partial(squeeze_of_a_wedged_block, 0.2), 3),
    ),
)  # fmt: skip
