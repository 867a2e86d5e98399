"""`bedjoint vary` from the command line."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from boxes import FLOOR_MM, box_entry
from click.testing import CliRunner, Result
from orders import write_dry
from solids import Stack, box, ring_sector

from sim.cli import command


def _vary(*arguments: str) -> Result:
    return CliRunner().invoke(command, ["vary", *arguments])


@pytest.fixture
def arch(tmp_path: Path) -> str:
    """Five voussoirs on fixed springings."""
    inner, outer, spring = 90.0, 130.0, 30.0
    middle = (300.0, 100.0, spring)
    stack = Stack(tmp_path, inner_mm=(600.0, 300.0, 400.0))
    for name, left in (("west", middle[0] - outer - 5.0), ("east", middle[0] + inner - 5.0)):
        springing = box((left, middle[1] - 10.0, 0.0), (outer - inner + 10.0, 80.0, spring))
        stack.put(name, springing, keys="fixed = true")
    for k in range(5):
        sector = ring_sector(inner, outer, 36.0, 60.0, 8)
        stack.put(f"v{k + 1}", sector, at_mm=middle, turn_deg=-90.0 + 36.0 * (k + 0.5))
    return str(stack.write())


def test_without_its_keystone_an_arch_falls(arch: str) -> None:
    result = _vary(arch, "--remove", "v3", "--json")
    assert result.exit_code == 1, result.output
    plain = json.loads(result.output)
    assert plain["before"]["verdict"] == "stands (quick)"
    assert plain["after"]["verdict"] == "falls"
    assert plain["verdict_changes"] is True
    assert {"v2", "v4"} <= set(plain["after"]["states"][0]["moving"])
    assert plain["after"]["mass_kg"] == pytest.approx(plain["before"]["mass_kg"] * 0.8, rel=0.2)


def test_smooth_stones_make_an_arch_fall(arch: str) -> None:
    """Below 0.309 no semicircular arch stands: Cocchetti & Rizzi 2020, table 3."""
    result = _vary(arch, "--friction", "0.25")
    assert result.exit_code == 1, result.output
    assert "The verdict changes from 'stands (quick)' to 'falls'." in result.output
    assert "friction 0.25 everywhere" in result.output


def _column(folder: Path) -> str:
    return write_dry(
        folder,
        box_entry(folder, "foot", (100, 100, 40), (300, 200, FLOOR_MM)),
        box_entry(folder, "wide", (80, 80, 30), (300, 200, FLOOR_MM + 40)),
        box_entry(folder, "top", (40, 40, 40), (300, 200, FLOOR_MM + 70)),
    )


def test_a_moved_piece_takes_what_rests_on_it_along_the_way_down(tmp_path: Path) -> None:
    """The block is put beside the foot: it and what lay on it end on what is beneath them there."""
    result = _vary(_column(tmp_path), "--move", "top", "25,0,0", "--json")
    assert result.exit_code == 0, result.output
    plain = json.loads(result.output)
    assert [one["piece"] for one in plain["set_down_anew"]] == ["top"]
    assert plain["set_down_anew"][0]["rests"] is True
    tilt = [plain[side]["states"][0]["critical_tilt_deg"] for side in ("before", "after")]
    assert tilt[1] < tilt[0]


def test_moved_too_far_it_finds_no_rest_there(tmp_path: Path) -> None:
    result = _vary(_column(tmp_path), "--move", "top", "45,0,0")
    assert result.exit_code == 1, result.output
    assert "finds no rest" in result.output


def test_two_pieces_change_over(tmp_path: Path) -> None:
    """The small cube under the broad slab: everything above is set down on what is now there."""
    result = _vary(_column(tmp_path), "--swap", "wide,top", "--json")
    plain = json.loads(result.output)
    assert {one["piece"] for one in plain["set_down_anew"]} == {"wide", "top"}
    assert plain["after"]["misplaced"] == []
    # a cube of 40 on the foot, 80 high in all; the slab tips over the cube's edge
    tilt = [plain[side]["states"][0]["critical_tilt_deg"] for side in ("before", "after")]
    assert result.exit_code == 0
    assert tilt[1] < tilt[0]


def test_nothing_and_nonsense_are_refused(tmp_path: Path) -> None:
    file = _column(tmp_path)
    assert _vary(file).exit_code == 2
    assert _vary(file, "--swap", "top").exit_code == 2
    assert _vary(file, "--move", "top", "1,2").exit_code == 2
    unknown = _vary(file, "--remove", "roof")
    assert unknown.exit_code != 0
    assert "roof" in str(unknown.exception) + unknown.output
