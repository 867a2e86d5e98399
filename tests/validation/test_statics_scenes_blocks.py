"""Single blocks, ladders, stacks and footings, from the scene file to the report.

Sources stand beside the values. Those of any statics textbook (Coulomb friction, rigid bodies) are tied to no
one source and were recomputed by hand. Stacks over an edge: MathWorld, "Book Stacking Problem", equations 1-8;
Paterson, M. & Zwick, U. (2009). Overhang. Amer. Math. Monthly 116(1), 19-44, figure 2.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq
from solids import Solid, Stack, beam_on_feet, box, feasible, prism, table_on_points

from sim.states import Report, StateAnswer
from sim.units import STANDARD_GRAVITY_M_S2

ANGLE_DEG = 0.1
SHARE = 0.01  # of a continuous value


def governing(report: Report) -> StateAnswer:
    """The first state, in air, of a scene that stands."""
    assert report.verdict == "stands (quick)", report.reason
    return report.states[0]


# A1, textbook: lambda = min(mu, b/h); it tips where mu is the larger, else slides
@pytest.mark.parametrize(
    ("width_mm", "height_mm", "mu", "degrees", "turns"),
    [
        (100.0, 100.0, 0.5, 26.565, False),
        (100.0, 200.0, 0.8, 26.565, True),
        (100.0, 300.0, 0.2, 11.310, False),
        (50.0, 150.0, 0.7, 18.435, True),
    ],
)
@pytest.mark.parametrize("ending", ["ply", "stl", "obj"])
def test_a_block_tips_or_slides(
    tmp_path: Path, width_mm: float, height_mm: float, mu: float, degrees: float, turns: bool, ending: str
) -> None:
    stack = Stack(tmp_path)
    block = box((400.0, 150.0, 0.0), (width_mm, width_mm, height_mm))
    stack.put("block", block, ending=ending, keys=f"friction = {mu}")
    state = governing(stack.report())
    assert state.equilibrium.critical_tilt_deg == pytest.approx(degrees, abs=ANGLE_DEG)
    assert state.equilibrium.sliding_tilt_deg == pytest.approx(np.degrees(np.arctan(mu)), abs=ANGLE_DEG)
    assert state.moving == ("block",)
    assert state.motions[0].turns == turns


# A1 and A2, textbook: what slides first still tips at b/h where its base holds it, and P = W b / (2 y) at its top
def test_a_block_that_slides_first(tmp_path: Path) -> None:
    stack = Stack(tmp_path)
    stack.put("block", box((400.0, 150.0, 0.0), (100.0, 100.0, 300.0)), keys="friction = 0.2")
    report = stack.report()
    state = governing(report)
    assert state.equilibrium.stack_tilt_deg == pytest.approx(18.435, abs=ANGLE_DEG)
    weight_n = report.total.mass_kg * STANDARD_GRAVITY_M_S2
    assert weight_n == pytest.approx(0.1 * 0.1 * 0.3 * 2700 * STANDARD_GRAVITY_M_S2, rel=1e-6)
    assert state.equilibrium.least_push_n == pytest.approx(weight_n * 100.0 / (2.0 * 300.0), rel=SHARE)
    assert state.equilibrium.least_push_piece == "block"


# A3, textbook: a uniform ladder stands from tan(theta) = (1 - mu1 mu2) / (2 mu1), whatever its length
@pytest.mark.parametrize(
    ("floor", "wall", "degrees"), [(0.5, 0.5, 36.870), (0.5, 0.0, 45.000), (0.3, 0.3, 56.602), (0.6, 0.2, 36.254)]
)
@pytest.mark.parametrize("length_mm", [150.0, 400.0])
def test_a_ladder_stands_from_its_angle(
    tmp_path: Path, floor: float, wall: float, degrees: float, length_mm: float
) -> None:
    # thickest in its middle, so that its centre lies on the line between its two ends
    ladder = prism([(0.0, 0.0), (length_mm / 2, -8.0), (length_mm, 0.0), (length_mm / 2, 8.0)], 0.0, 40.0)
    stood = []
    for above in (ANGLE_DEG, -ANGLE_DEG):
        stack = Stack(tmp_path)
        angle = np.radians(degrees + above)
        top_x = 200.0 + length_mm * float(np.cos(angle))
        stack.put("ladder", ladder, at_mm=(200.0, 200.0, 0.0), turn_deg=-(degrees + above))
        stack.put("wall", box((top_x, 100.0, 0.0), (40.0, 250.0, 420.0)), keys="fixed = true")
        stack.rub("ladder", "glass", floor)
        stack.rub("ladder", "wall", wall)
        report = stack.report()
        assert report.misplaced == ()
        stood.append((feasible(report), report.verdict))
    assert stood == [(True, "stands (quick)"), (False, "falls")]


# A8, Archimedes: flooding leaves tilts alone and scales pushes and forces on the base by 1 - rho_w / rho_s
@pytest.mark.parametrize(("density", "share"), [(2700.0, 0.6296), (2650.0, 0.6226), (1200.0, 0.1667)])
def test_flooding_scales_forces_and_leaves_tilts(tmp_path: Path, density: float, share: float) -> None:
    stack = Stack(tmp_path, water="level_mm = 400\ntemperature_c = 4")  # water of 1000 kg/m3
    for name, height in (("low", 0.0), ("high", 100.0)):
        stack.put(name, box((400.0, 150.0, height), (100.0, 100.0, 100.0)), keys=f"density_kg_m3 = {density}")
    for other in ("granite", "glass"):
        stack.rub("granite", other, 0.7)
    report = stack.report()
    states = {state.water: state for state in report.states}
    assert list(states) == ["air", "partial", "flooded", "drained"]
    air, flooded = states["air"], states["flooded"]
    assert flooded.equilibrium.critical_tilt_deg == pytest.approx(air.equilibrium.critical_tilt_deg, abs=0.01)
    assert flooded.equilibrium.critical_tilt_deg == pytest.approx(26.565, abs=ANGLE_DEG)
    assert air.equilibrium.least_push_n is not None
    assert air.footprints[0].force_n.nominal == pytest.approx(report.total.mass_kg * STANDARD_GRAVITY_M_S2, rel=1e-6)
    assert flooded.equilibrium.least_push_n == pytest.approx(share * air.equilibrium.least_push_n, rel=SHARE)
    assert flooded.footprints[0].force_n.nominal == pytest.approx(share * air.footprints[0].force_n.nominal, rel=SHARE)


# A8: lighter than water, it floats
def test_what_is_lighter_than_water_floats(tmp_path: Path) -> None:
    stack = Stack(tmp_path, water="level_mm = 400\ntemperature_c = 4")
    stack.put("raft", box((400.0, 150.0, 0.0), (100.0, 100.0, 100.0)), keys="density_kg_m3 = 950")
    report = stack.report()
    found = {state.water: (state.verdict, state.equilibrium.feasible) for state in report.states}
    assert found["air"] == ("stands (quick)", True)
    assert found["flooded"] == ("falls", False)
    assert report.verdict == "falls"
    assert "raft floats" in report.reason


# B1, MathWorld, "Book Stacking Problem": overhang 1/2, 3/4, 11/12, 25/24, 137/120, 49/40 of a block's length
@pytest.mark.parametrize(
    ("blocks", "overhang"), [(1, 1 / 2), (2, 3 / 4), (3, 0.91667), (4, 1.04167), (5, 1.14167), (6, 1.225)]
)
def test_harmonic_stack(tmp_path: Path, blocks: int, overhang: float) -> None:
    length = 96.0
    over = np.array([sum(0.5 / k for k in range(m, blocks + 1)) for m in range(blocks, 0, -1)])  # lowest first
    assert over[-1] == pytest.approx(overhang, abs=1e-5)
    found = []
    for share in (0.99, 0.999, 1.001, 1.01):
        stack = Stack(tmp_path)
        stack.put("table", box((100.0, 150.0, 0.0), (300.0, 80.0, 40.0)), keys="fixed = true")
        for k, right in enumerate(over * share * length + 400.0):
            block = box((float(right) - length, 170.0, 40.0 + 30.0 * k), (length, 40.0, 30.0))
            stack.put(f"block_{k + 1}", block)
        report = stack.report()
        assert report.misplaced == ()
        found.append(feasible(report))
        assert (report.verdict == "falls") == (share > 1.0)
    assert found == [True, True, False, False]


# B1 with the table's edge alone at its limit, 1/(2n): the whole stack goes over as one
@pytest.mark.parametrize("blocks", [2, 4, 6])
def test_the_edge_of_the_table_under_a_stack_that_holds_in_itself(tmp_path: Path, blocks: int) -> None:
    length = 96.0
    offset = [0.0]
    for k in range(blocks - 1, 0, -1):  # each over the next by 0.8 of its limit
        offset.append(offset[-1] + 0.8 * 0.5 / k * length)
    middle = float(np.mean(offset)) - length / 2.0  # of the stack, from the right end of the lowest block
    found = []
    for beyond in (-0.01 * length, 0.01 * length):
        stack = Stack(tmp_path)
        stack.put("table", box((100.0, 150.0, 0.0), (300.0, 80.0, 40.0)), keys="fixed = true")
        for k, x in enumerate(offset):
            left = 400.0 + x - middle - length + beyond
            stack.put(f"block_{k + 1}", box((left, 170.0, 40.0 + 30.0 * k), (length, 40.0, 30.0)))
        report = stack.report()
        found.append((feasible(report), report.verdict))
    assert found == [(True, "stands (quick)"), (False, "falls")]
    assert set(report.states[0].moving) == {f"block_{k + 1}" for k in range(blocks)}


# B2, Paterson & Zwick (2009), figure 2: three blocks as an inverted triangle hang over by a whole length
@pytest.mark.parametrize(("shift", "balanced"), [(-0.01, True), (-1e-3, True), (1e-3, False), (0.01, False)])
def test_inverted_triangle(tmp_path: Path, shift: float, balanced: bool) -> None:
    length = 96.0
    stack = Stack(tmp_path)
    stack.put("table", box((100.0, 150.0, 0.0), (300.0, 80.0, 40.0)), keys="fixed = true")
    for name, left, level in (("a", -0.5, 0), ("b", -1.0, 1), ("c", 0.0, 1)):
        low = (400.0 + (left + shift) * length, 170.0, 40.0 + 30.0 * level)
        stack.put(name, box(low, (length, 40.0, 30.0)))
    report = stack.report()
    assert report.misplaced == ()
    assert feasible(report) is balanced
    if not balanced:
        assert report.verdict == "falls"
        assert "a" in report.states[0].moving


# B6, textbook: a tower of n unit cubes, mu 0.7, bears lambda = min(0.7, 1/n)
@pytest.mark.parametrize(("cubes", "factor"), [(1, 0.7), (2, 0.5), (3, 0.3333), (5, 0.2), (10, 0.1)])
def test_a_tower_of_cubes(tmp_path: Path, cubes: int, factor: float) -> None:
    stack = Stack(tmp_path, inner_mm=(900.0, 450.0, 650.0))
    for k in range(cubes):
        stack.put(f"cube_{k + 1}", box((400.0, 200.0, 60.0 * k), (60.0, 60.0, 60.0)), keys="friction = 0.7")
    state = governing(stack.report())
    tilt = state.equilibrium.critical_tilt_deg
    assert tilt is not None
    assert np.tan(np.radians(tilt)) == pytest.approx(factor, rel=SHARE)


def _footprints(stack: Stack) -> dict[tuple[int, int], tuple[float, float, float]]:
    """Nominal, least and most of every footprint as shares of the weight, by its place in mm."""
    report = stack.report()
    governing(report)
    weight_n = report.total.mass_kg * STANDARD_GRAVITY_M_S2
    found = {}
    for one in report.footprints:
        x, y, _ = one.centre_mm
        assert one.force_n.least is not None
        assert one.force_n.most is not None
        shares = (one.force_n.nominal / weight_n, one.force_n.least / weight_n, one.force_n.most / weight_n)
        found[(round(x), round(y))] = shares
    return found


def _table(centre_x: float) -> Solid:
    """A slab on four points of a square of 100 mm, longer on its right so that its centre lies at `centre_x`."""
    feet = [(400.0, 150.0), (500.0, 150.0), (500.0, 250.0), (400.0, 250.0)]

    def made(right: float) -> Solid:
        return table_on_points([390.0, 410.0, 490.0, right], [140.0, 160.0, 240.0, 260.0], feet)

    return made(float(brentq(lambda right: made(right).centre_mm()[0] - centre_x, 500.0, 640.0, xtol=1e-12)))


# E1 and E2, recomputed by hand: equal compliance gives least squares, two moments and a sum give the range
@pytest.mark.parametrize(
    ("centre_x", "expected"),
    [
        (450.0, [(0.25, 0.0, 0.5)] * 4),
        (460.0, [(0.2, 0.0, 0.4), (0.3, 0.1, 0.5), (0.3, 0.1, 0.5), (0.2, 0.0, 0.4)]),
    ],
)
def test_four_feet(tmp_path: Path, centre_x: float, expected: list[tuple[float, float, float]]) -> None:
    stack = Stack(tmp_path)
    stack.put("table", _table(centre_x))
    found = _footprints(stack)
    corners = [(400, 150), (500, 150), (500, 250), (400, 250)]
    assert set(found) == set(corners)
    for corner, shares in zip(corners, expected, strict=True):
        assert found[corner] == pytest.approx(shares, rel=SHARE, abs=2e-3)


# E4, recomputed by hand: a rigid beam on three equal supports; a third each, the middle 0 to W, the ends 0 to W/2
def test_a_rigid_beam_on_three_supports(tmp_path: Path) -> None:
    stack = Stack(tmp_path)
    # toes of 6 mm on a span of 700 mm widen the range of the ends by 0.9 %
    stack.put("beam", beam_on_feet([100.0, 450.0, 800.0], 6.0, 15.0, 20.0, 40.0), at_mm=(0.0, 100.0, 0.0))
    found = _footprints(stack)
    assert set(found) == {(100, 120), (450, 120), (800, 120)}
    third = 1.0 / 3.0
    assert found[(100, 120)] == pytest.approx((third, 0.0, 0.5), rel=SHARE, abs=2e-3)
    assert found[(450, 120)] == pytest.approx((third, 0.0, 1.0), rel=SHARE, abs=2e-3)
    assert found[(800, 120)] == pytest.approx((third, 0.0, 0.5), rel=SHARE, abs=2e-3)


def test_a_narrow_foot_is_one_footprint(tmp_path: Path) -> None:
    stack = Stack(tmp_path)
    stack.put("beam", beam_on_feet([100.0, 450.0, 800.0], 4.0, 15.0, 20.0, 40.0), at_mm=(0.0, 100.0, 0.0))
    report = stack.report()
    governing(report)
    assert [one.area_mm2 for one in report.footprints] == pytest.approx([160.0] * 3, rel=SHARE)
