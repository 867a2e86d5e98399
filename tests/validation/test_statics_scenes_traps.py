"""Statically admissible, and falls all the same: from the scene file to the report.

Sources: rigid-block equilibrium against coupled analysis, sample 'model H' of the compas_cra repository (block
geometry; its rigid-block solve finds a compression of W/mu, its coupled solve finds nothing); the block pinned
between two walls that motivates the same paper; keystones by the iteration of Acary, V., Cadoux, F., Lemarechal,
C. & Malick, J. (2011), ZAMM 91(2), 155-175, recomputed here. What rigid-body engines hold up by an overlap of
10 um, or across a gap of 1 mm, was seen by our own runs of two engines.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from solids import Stack, box, feasible, prism

from sim.states import Report

STANDING = ("stands", "stands (quick)")


def _pinned(folder: Path, mu: float, width_mm: float, walls: str) -> Stack:
    """A block 100 mm above the base, in the 100 mm between two fixed walls or two panes."""
    left, other = 450.0, "wall"
    stack = Stack(folder)
    if walls == "fixed pieces":
        stack.put("west", box((left - 40.0, 100.0, 0.0), (40.0, 250.0, 300.0)), keys="fixed = true")
        stack.put("east", box((left + 100.0, 100.0, 0.0), (40.0, 250.0, 300.0)), keys="fixed = true")
        other = "granite"
    else:
        left, other, stack.inner_mm = 0.0, "glass", (100.0, 450.0, 450.0)
    stack.put("block", box((left + (100.0 - width_mm) / 2.0, 150.0, 100.0), (width_mm, 100.0, 100.0)))
    stack.rub("granite", other, mu)
    return stack


def _wedged(report: Report, piece: str) -> None:
    """Forces exist that hold it, and it falls: nothing would make them arise."""
    assert feasible(report) is True
    state = report.states[0]
    assert (state.strict.verdict, state.verdict, report.verdict) == ("falls", "falls", "falls")
    assert f"{piece} is held by wedging alone" in report.reason
    assert state.moving == (piece,)
    assert state.motions[0].direction == pytest.approx([0.0, 0.0, -1.0], abs=1e-3)
    assert report.footprints == ()


# D1, the paper's motivation: exactly touching, admissible for any friction, and falls
@pytest.mark.parametrize("mu", [0.2, 0.5, 1.5])
@pytest.mark.parametrize("walls", ["fixed pieces", "panes"])
def test_a_block_pinned_between_walls_falls(tmp_path: Path, mu: float, walls: str) -> None:
    report = _pinned(tmp_path, mu, 100.0, walls).report()
    assert report.misplaced == ()
    _wedged(report, "block")


# D3, sample 'model H' at 100 mm to its unit: columns x +-[0.9, 1.1], z [-1, 1.4]; bar x +-0.9, z [-0.2, 0.6], depth 1
@pytest.mark.parametrize("mu", [0.84, 0.2])
def test_model_h_is_admissible_and_falls(tmp_path: Path, mu: float) -> None:
    stack = Stack(tmp_path)
    for name, left in (("west", -110.0), ("east", 90.0)):
        stack.put(name, box((450.0 + left, 150.0, 0.0), (20.0, 100.0, 240.0)), keys="fixed = true")
    stack.put("bar", box((360.0, 150.0, 80.0), (180.0, 100.0, 80.0)), keys="density_kg_m3 = 1000")
    stack.rub("granite", "granite", mu)
    report = stack.report()
    assert report.misplaced == ()
    assert report.pieces[2].mass_kg == pytest.approx(1.44, rel=1e-9)
    _wedged(report, "bar")


def _keystone(folder: Path, mu: float, taper_deg: float) -> Report:
    """A block between two fixed faces; wider at its top where the taper is positive."""
    lean = 50.0 * float(np.tan(np.radians(taper_deg)))
    foot, top, low, high = 50.0 - lean, 50.0 + lean, 50.0, 150.0
    stack = Stack(folder)
    west = [(300.0, low), (450.0 - foot, low), (450.0 - top, high), (300.0, high)]
    east = [(450.0 + foot, low), (600.0, low), (600.0, high), (450.0 + top, high)]
    stone = [(450.0 - foot, low), (450.0 + foot, low), (450.0 + top, high), (450.0 - top, high)]
    stack.put("west", prism(west, 130.0, 270.0), keys="fixed = true")
    stack.put("east", prism(east, 130.0, 270.0), keys="fixed = true")
    stack.put("keystone", prism(stone, 150.0, 250.0), ending="obj")
    stack.rub("granite", "granite", mu)
    report = stack.report()
    assert report.misplaced == ()
    return report


# D5: any positive taper stands
@pytest.mark.parametrize("mu", [0.5, 0.84])
@pytest.mark.parametrize("taper_deg", [5.0, 1.0, 0.2])
def test_a_keystone_stands(tmp_path: Path, mu: float, taper_deg: float) -> None:
    report = _keystone(tmp_path, mu, taper_deg)
    assert feasible(report) is True
    assert report.states[0].strict.verdict == "stands"
    assert report.verdict == "stands (quick)"


# D5 the other way round: as admissible as before, and falls
@pytest.mark.parametrize("mu", [0.5, 0.84])
@pytest.mark.parametrize("taper_deg", [-0.2, -1.0, -5.0])
def test_an_inverted_keystone_falls(tmp_path: Path, mu: float, taper_deg: float) -> None:
    report = _keystone(tmp_path, mu, taper_deg)
    assert feasible(report) is True
    assert (report.states[0].strict.verdict, report.verdict) == ("falls", "falls")


# D7: an engine holds a block for ever that is 10 um into each wall; 15 um to either side of that, too
@pytest.mark.parametrize("quick", [True, False])
@pytest.mark.parametrize("walls", ["fixed pieces", "panes"])
@pytest.mark.parametrize("overlap_mm", [-0.010, 0.005, 0.010, 0.025])
def test_a_small_overlap_with_both_walls_holds_nothing(
    tmp_path: Path, overlap_mm: float, walls: str, quick: bool
) -> None:
    report = _pinned(tmp_path, 0.5, 100.0 + 2.0 * overlap_mm, walls).report(quick)
    assert report.verdict not in STANDING
    _wedged(report, "block")


def test_a_larger_overlap_is_no_place_for_a_stone(tmp_path: Path) -> None:
    report = _pinned(tmp_path, 0.5, 100.0 + 2.0 * 0.1, "fixed pieces").report(quick=False)
    assert report.verdict == "undetermined"
    assert {(fault.fault, round(fault.by_mm, 3)) for fault in report.misplaced} == {("overlaps", 0.1)}


# D8: an engine with its usual margin holds the block across a gap of 1 mm on each side
@pytest.mark.parametrize("quick", [True, False])
@pytest.mark.parametrize("walls", ["fixed pieces", "panes"])
@pytest.mark.parametrize("gap_mm", [1.0, 0.03])
def test_a_gap_at_both_walls_holds_nothing(tmp_path: Path, gap_mm: float, walls: str, quick: bool) -> None:
    report = _pinned(tmp_path, 0.5, 100.0 - 2.0 * gap_mm, walls).report(quick)
    assert feasible(report) is False
    assert report.verdict == "falls"
    assert report.reason == "block touches nothing"
    (fault,) = report.misplaced
    assert (fault.piece, fault.fault) == ("block", "hovers")
    assert fault.by_mm == pytest.approx(gap_mm, abs=1e-3)


# D1 and D7 with company: neither a load on the pinned block nor a stone beside it makes it stand
@pytest.mark.parametrize("overlap_mm", [0.0, 0.010])
def test_two_blocks_pinned_side_by_side_with_one_on_top_fall(tmp_path: Path, overlap_mm: float) -> None:
    stack = _pinned(tmp_path, 0.5, 100.0 + 2.0 * overlap_mm, "fixed pieces")
    del stack.entries[-1]
    half = 50.0 + overlap_mm
    stack.put("one", box((450.0 - overlap_mm, 150.0, 100.0), (half, 100.0, 100.0)))
    stack.put("two", box((500.0, 150.0, 100.0), (half, 100.0, 100.0)))
    stack.put("top", box((480.0, 160.0, 200.0), (40.0, 40.0, 40.0)))
    report = stack.report(quick=False)
    assert report.verdict == "falls"
    assert feasible(report) is True
    assert set(report.states[0].moving) == {"one", "two", "top"}
