"""Bending of plates against tables: short side and rigidity are 1, so that ours are the tables' coefficients."""

from __future__ import annotations

import functools
from functools import partial

import numpy as np
from numpy.typing import NDArray

from sim.base import BentPane, Pane, Patch, disc, rectangle
from sim.base.local import tip_on_glass
from sim.base.plate import Edge
from sim.materials import Status
from sim.materials.values import COMPUTED, MEMORY, PUBLISHED
from sim.published.row import FUNCTION, Row, Subject, share

Floats = NDArray[np.float64]
Edges = tuple[Edge, Edge, Edge, Edge]

TIMOSHENKO = "Timoshenko & Woinowsky-Krieger 1959, Theory of Plates and Shells, 2nd ed."
ROARK = "Young & Budynas 2002, Roark's Formulas for Stress and Strain, 7th ed."
IKE = "Ike 2018, Math. Modelling of Eng. Problems 5(2), 83-92"
WESTERGAARD = "Westergaard 1926, Stresses in concrete pavements, Public Roads 7(2)"
JOHNSON = "Johnson 1985, Contact Mechanics"

HELD: Edges = ("held", "held", "held", "held")
CLAMPED: Edges = ("clamped", "clamped", "clamped", "clamped")
FINE = share(5e-3, "elements and the last printed digit")
LAST_DIGIT = share(1e-2, "the printed value differs from the exact series in its last digit")
TEN_KG_N = 98.0665
POINT_M = 1e-3  # radius of a disc that stands for a point
POISSON = 0.3


def _pane(ratio: float, edges: Edges = HELD, bedding: float = 0.0, deep: bool = False) -> Pane:
    """Sides `ratio` and 1; deep: the other way round."""
    thickness = (12.0 * (1.0 - POISSON**2)) ** (1 / 3)
    sides = (1.0, ratio) if deep else (ratio, 1.0)
    return Pane(*sides, thickness, 1.0, POISSON, bedding, edges)


def _at(bent: BentPane, bending: Floats, x: float, y: float) -> tuple[float, float, float]:
    """Deflection, Mx and My at one point."""
    place = np.array([[x, y]])
    mx, my, _ = np.asarray(bent.moments_at(place) @ bending).ravel()
    return float((bent.deflection_at(place) @ bending)[0, 0]), float(mx), float(my)


@functools.cache
def _even(ratio: float, edges: Edges = HELD, bedding: float = 0.0) -> tuple[BentPane, Floats]:
    bent = BentPane(_pane(ratio, edges, bedding))
    return bent, bent.bent(bent.under_pressure())


def even_load(which: int, ratio: float, edges: Edges = HELD, bedding: float = 0.0) -> float:
    """Deflection (0), moment along (1) or across (2) in the middle, of an even load."""
    return _at(*_even(ratio, edges, bedding), ratio / 2.0, 0.5)[which]


def edge_moment(ratio: float) -> float:
    """Moment in the middle of the long clamped edge, of an even load."""
    return -_at(*_even(ratio, CLAMPED), ratio / 2.0, 0.0)[2]


def force_in_the_middle(ratio: float, edges: Edges = HELD) -> float:
    """Deflection under a force."""
    point = disc(np.array([ratio / 2.0, 0.5]), POINT_M, 1.0 / 60.0)
    bent = BentPane(_pane(ratio, edges), [point])
    return _at(bent, bent.bent(bent.pressed(point)), ratio / 2.0, 0.5)[0]


def patch_stress(ratio: float, along: float, across: float) -> float:
    """Stress times t^2 / W in the middle of a patch."""
    patch = rectangle((ratio / 2.0, 0.5), (along, across))
    bent = BentPane(_pane(ratio), [patch])
    return 6.0 * max(_at(bent, bent.bent(bent.pressed(patch)), ratio / 2.0, 0.5)[1:])


@functools.cache
def _rising(ratio: float) -> tuple[BentPane, Floats]:
    bent = BentPane(_pane(ratio, deep=True))
    return bent, bent.bent(bent.under_pressure(bent.places()[:, 0]))


def hydrostatic(which: int, ratio: float) -> float:
    """Deflection (0), moment along (1) or across (2) in the middle, of a load that rises along the side of 1."""
    return _at(*_rising(ratio), 0.5, ratio / 2.0)[which]


def _stress_mpa(plate: Pane, patch: Patch, x: float, y: float) -> float:
    bent = BentPane(plate, [patch])
    moments = np.asarray(bent.moments_at(np.array([[x, y]])) @ bent.bent(bent.pressed(patch))).reshape(1, 3)
    return float(plate.tension_pa(TEN_KG_N * moments)[0]) / 1e6


def disc_stress_mpa(radius_mm: float) -> float:
    """10 kg on a disc in the middle of 900 x 450 x 10 mm, nu 0.3."""
    return _stress_mpa(
        Pane(0.9, 0.45, 0.010, 70e9, POISSON), disc(np.array([0.45, 0.225]), radius_mm / 1e3, 0.0), 0.45, 0.225
    )


def on_mat_mpa(bedding: float, thickness_mm: float, radius_mm: float) -> float:
    """10 kg on a disc on a plate without end on a mat; it reaches eight characteristic lengths to each side."""
    rigidity = 70e9 * (thickness_mm / 1e3) ** 3 / 12.0 / (1.0 - 0.23**2)
    side = 16.0 * (rigidity / bedding) ** 0.25
    plate = Pane(side, side, thickness_mm / 1e3, 70e9, 0.23, bedding)
    return _stress_mpa(plate, disc(np.array([side / 2.0, side / 2.0]), radius_mm / 1e3, 0.0), side / 2.0, side / 2.0)


def tip(which: str) -> float:
    """50 N on a tip of 2 mm: contact radius mm, peak pressure MPa or tension at its edge MPa."""
    found = tip_on_glass(50.0, 2.0e-3, 60e9, 0.25)
    return {"radius": found.radius_m * 1e3, "peak": found.peak_pa / 1e6, "edge": found.edge_tension_pa / 1e6}[which]


def _table_8(ratio: float, w: str, across: str) -> tuple[Row, Row]:
    place, load = f"table 8, b/a = {ratio:g}", "even load, edges held"
    return (
        Row(TIMOSHENKO, place, f"deflection, {load}", "q a4/D", w, FINE, MEMORY, FUNCTION,
            partial(even_load, 0, ratio)),
        Row(TIMOSHENKO, place, f"moment along the short side, {load}", "q a2", across, FINE, MEMORY, FUNCTION,
            partial(even_load, 2, ratio)),
    )  # fmt: skip


def _roark_even(ratio: float, beta: str, alpha: str) -> tuple[Row, Row]:
    place, load = f"table 11.4 case 1a, a/b = {ratio:g}", "even load, edges held"
    return (
        Row(ROARK, place, f"stress, {load}", "q b2/t2", beta, FINE, PUBLISHED, FUNCTION,
            lambda: 6.0 * even_load(2, ratio)),
        Row(ROARK, place, f"deflection, {load}", "q b4/E t3", alpha, FINE, PUBLISHED, FUNCTION,
            lambda: 12.0 * (1.0 - POISSON**2) * even_load(0, ratio)),
    )  # fmt: skip


def _force(source: str, place: str, ratio: float, edges: Edges, alpha: str, status: Status, roark: bool) -> Row:
    what = f"deflection, force in the middle, edges {edges[0]}"
    factor = 12.0 * (1.0 - POISSON**2) if roark else 1.0
    unit = "W b2/E t3" if roark else "P a2/D"
    return Row(source, f"{place} = {ratio:g}", what, unit, alpha, FINE, status, FUNCTION,
               lambda: factor * force_in_the_middle(ratio, edges))  # fmt: skip


def _patch(ratio: float, along: float, across: float, beta: str) -> Row:
    return Row(ROARK, f"table 11.4 case 1c, a/b = {ratio:g}", f"stress under a patch {along:g} x {across:g} b",
               "W/t2", beta, FINE, COMPUTED, FUNCTION, partial(patch_stress, ratio, along, across))  # fmt: skip


def _clamped(ratio: float, w: str, moment: str) -> tuple[Row, Row]:
    place, load = f"table 35, b/a = {ratio:g}", "even load, edges clamped"
    return (
        Row(TIMOSHENKO, place, f"deflection, {load}", "q a4/D", w, LAST_DIGIT, MEMORY, FUNCTION,
            partial(even_load, 0, ratio, CLAMPED)),
        Row(TIMOSHENKO, place, f"moment at the long edge, {load}", "q a2", moment, FINE, MEMORY, FUNCTION,
            partial(edge_moment, ratio)),
    )  # fmt: skip


def _mat(stiffness: float, w: str) -> Row:
    return Row(IKE, f"series, k a4/D = {stiffness:g}", "deflection, even load, square plate on a mat", "q a4/D", w,
               FINE, COMPUTED, FUNCTION, partial(even_load, 0, 1.0, HELD, stiffness))  # fmt: skip


def _endless(bedding: float, thickness_mm: float, radius_mm: float, stress: str) -> Row:
    what = f"stress, 10 kg on a disc of radius {radius_mm:g} mm, {thickness_mm:g} mm glass, mat of {bedding:.1e} N/m3"
    return Row(WESTERGAARD, "interior load, exact integral", what, "MPa", stress, FINE, COMPUTED, FUNCTION,
               partial(on_mat_mpa, bedding, thickness_mm, radius_mm))  # fmt: skip


def _hertz(what: str, unit: str, number: str, which: str) -> Row:
    return Row(JOHNSON, "sections 3.4 and 4.2", f"{what}, 50 N on a stone's tip of 2 mm on glass", unit, number, FINE,
               MEMORY, FUNCTION, partial(tip, which))  # fmt: skip


PLATES = Subject(
    "Plates",
    (
        *_table_8(1.0, "0.00406", "0.0479"),
        *_table_8(1.5, "0.00772", "0.0812"),
        *_table_8(2.0, "0.01013", "0.1017"),
        *_roark_even(1.0, "0.2874", "0.0444"),
        *_roark_even(1.4, "0.4530", "0.0770"),
        *_roark_even(2.0, "0.6102", "0.1110"),
        _force(TIMOSHENKO, "table 23, b/a", 1.0, HELD, "0.01160", MEMORY, False),
        _force(TIMOSHENKO, "table 23, b/a", 2.0, HELD, "0.01651", MEMORY, False),
        _force(ROARK, "table 11.4 case 8b, a/b", 1.0, CLAMPED, "0.0611", PUBLISHED, True),
        _force(ROARK, "table 11.4 case 8b, a/b", 2.0, CLAMPED, "0.0788", PUBLISHED, True),
        _patch(1.0, 0.2, 0.2, "1.274"),
        _patch(2.0, 0.4, 0.2, "1.327"),
        Row(ROARK, "table 11.4 case 1b", "stress, 10 kg on a disc of radius 10 mm, 900 x 450 x 10 mm", "MPa", "2.491",
            FINE, PUBLISHED, FUNCTION, partial(disc_stress_mpa, 10.0)),
        *_clamped(1.0, "0.00126", "0.0513"),
        *_clamped(2.0, "0.00254", "0.0829"),
        Row(TIMOSHENKO, "table 18, b/a = 1", "deflection, water load on held edges", "q0 a4/D", "0.00203", FINE,
            MEMORY, FUNCTION, partial(hydrostatic, 0, 1.0)),
        Row(TIMOSHENKO, "table 18, b/a = 1", "moment in the middle, water load on held edges", "q0 a2", "0.0239",
            FINE, MEMORY, FUNCTION, partial(hydrostatic, 1, 1.0)),
        _mat(100.0, "0.003214"),
        _mat(1000.0, "0.001078"),
        _endless(5.0e8, 10.0, 10.0, "1.381"),
        _endless(5.0e8, 12.0, 30.0, "0.581"),
        _hertz("radius of contact", "mm", "0.130", "radius"),
        _hertz("peak pressure", "MPa", "1417", "peak"),
        _hertz("tension at the edge of contact", "MPa", "255", "edge"),
    ),
)  # fmt: skip
