"""Wood that floats, and the stone that holds it."""

from __future__ import annotations

from pathlib import Path

import pytest
from boxes import FLOOR_MM, HEAD, box_entry, scene_of

from sim.base.ballast import net_lift_n
from sim.check import check
from sim.materials import water_density_kg_m3
from sim.materials.ballast import stone_to_hold_kg
from sim.scene import read_scene
from sim.states import Report
from sim.states.report import BallastReport

G = 9.80665
SCENES = Path(__file__).resolve().parents[2] / "scenes"


def ballast(report: Report) -> BallastReport:
    assert report.ballast is not None
    return report.ballast


def test_a_litre_of_dry_wood_lifts_with_3_9_newtons() -> None:
    """Wood of 600 kg/m3 in water of 1000, recomputed: 400 kg/m3 x 1 l x g."""
    assert net_lift_n(1e-3, 600.0, 1000.0) == pytest.approx(3.9, abs=0.03)
    assert net_lift_n(1e-3, 1100.0, 1000.0) == 0.0


def test_the_formula() -> None:
    """m_stone = SF V (rho_w - rho_wood) / (1 - rho_w / rho_stone), recomputed by hand."""
    lift = net_lift_n(1e-3, 600.0, 1000.0)
    assert stone_to_hold_kg(lift, 2650.0, 1000.0, 1.0) == pytest.approx(0.4 / (1 - 1000 / 2650))
    assert stone_to_hold_kg(lift, 2650.0, 1000.0) == pytest.approx(1.5 * 0.4 / (1 - 1000 / 2650))
    assert stone_to_hold_kg(lift, 900.0, 1000.0) == float("inf")


WOOD = 'wood = "driftwood"\ndensity_kg_m3 = 600'


def under_a_slab(folder: Path, slab_kg: float) -> Report:
    """A litre of wood, 100 x 100 x 100 mm, with a slab on it."""
    wood = box_entry(folder, "root", (100, 100, 100), (300, 200, FLOOR_MM), WOOD)
    slab = box_entry(
        folder, "slab", (100, 100, 40), (300, 200, FLOOR_MM + 100), f'rock = "granite"\nmass_kg = {slab_kg}'
    )
    return check(scene_of(folder, wood, slab), quick=True)


def test_a_slab_on_wood_holds_by_its_weight_in_water(tmp_path: Path) -> None:
    """The lift may grow until it equals the weight of the slab in water."""
    rho = water_density_kg_m3(24.0)
    found = ballast(under_a_slab(tmp_path, 1.2))
    lift, there = (rho - 600.0) * 1e-3 * G, (1.2 - rho * 4e-4) * G
    assert found.wood == ("root",)
    assert found.stones == ("slab",)
    assert found.lift_n == pytest.approx(lift, rel=1e-6)
    assert found.there_n == pytest.approx(there, rel=1e-6)
    assert found.factor == pytest.approx(there / lift, rel=1e-4)
    assert found.verdict == "held"
    assert found.needed_kg == pytest.approx(1.5 * lift / G / (1.0 - rho / 3000.0), rel=1e-6)


def test_too_little_on_it_and_nothing_on_it(tmp_path: Path) -> None:
    little = ballast(under_a_slab(tmp_path, 0.95))
    assert little.verdict == "held, by too little"
    assert little.factor is not None
    assert 1.0 < little.factor < 1.5
    alone = check(
        scene_of(tmp_path, box_entry(tmp_path, "root", (100, 100, 100), (300, 200, FLOOR_MM), WOOD)), quick=True
    )
    assert ballast(alone).verdict == "floats off"
    assert ballast(alone).stones == ()
    assert alone.verdict == "falls"


def test_no_word_of_ballast_where_nothing_floats(tmp_path: Path) -> None:
    stone = box_entry(tmp_path, "stone", (60, 60, 20), (300, 200, FLOOR_MM))
    assert check(scene_of(tmp_path, stone), quick=True).ballast is None
    dry = HEAD.replace("level_mm = 300", "level_mm = 0")
    root = box_entry(tmp_path, "root", (100, 100, 100), (300, 200, FLOOR_MM), WOOD)
    assert check(scene_of(tmp_path, root, head=dry), quick=True).ballast is None


def test_the_two_roots_of_the_scenes() -> None:
    """One floats off; the other is tied to a slab that is heavier under water than the root is light."""
    loose = ballast(check(read_scene(SCENES / "driftwood_floats.toml"), quick=True))
    tied = ballast(check(read_scene(SCENES / "driftwood_held.toml"), quick=True))
    assert loose.verdict == "floats off"
    assert tied.verdict.startswith("held")
    assert tied.stones == ("plate",)
    assert tied.there_n > tied.lift_n
    assert tied.factor is None or tied.factor <= tied.there_n / tied.lift_n * 1.001
