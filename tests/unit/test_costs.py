"""Prices, packs and what is left of a budget."""

from __future__ import annotations

from pathlib import Path

import pytest
from boxes import FLOOR_MM, HEAD, box_entry, scene_of

from sim.base.costs import costs_of, packs_needed
from sim.check import check
from sim.materials import adhesive
from sim.pieces.placing import place_pieces
from sim.scene import Pack

PRICES = """[prices]
currency = "EUR"
per_kg = { granite = 2.5, sand = 1.0 }
packs = { "epoxy putty" = { price = 6.0, g = 50 } }
[budget]
total = 100.0
[ground]
layers = [{ material = "sand", front_mm = 10, back_mm = 30 }]
"""


def test_a_bill(tmp_path: Path) -> None:
    """Two granite stones of 0.2 kg, limestone without a price, sand 20 mm deep, 120 g of putty in packs of 50."""
    entries = [
        box_entry(tmp_path, name, (60, 60, 20), (x, 200, FLOOR_MM), f'rock = "{rock}"\nmass_kg = 0.2')
        for name, x, rock in (("a", 100, "granite"), ("b", 300, "granite"), ("c", 500, "limestone"))
    ]
    scene = scene_of(tmp_path, PRICES, *entries)
    bill = costs_of(scene, place_pieces(scene), {"epoxy putty": 120.0})
    assert bill is not None
    lines = {item.what: item for item in bill.items}
    sand_kg = 0.6 * 0.4 * 0.020 * 1555
    assert lines["granite"].price == pytest.approx(0.4 * 2.5)
    assert lines["sand"].amount == pytest.approx(sand_kg)
    assert lines["epoxy putty"].packs == 3
    assert lines["epoxy putty"].price == pytest.approx(18.0)
    assert bill.without_price == ("limestone",)
    assert bill.total == pytest.approx(1.0 + sand_kg + 18.0)
    assert bill.left == pytest.approx(100.0 - bill.total)
    assert bill.currency == "EUR"


def test_the_report_has_the_bill(tmp_path: Path) -> None:
    stone = box_entry(tmp_path, "a", (60, 60, 20), (300, 200, FLOOR_MM))
    report = check(scene_of(tmp_path, PRICES.replace("total = 100.0", "total = 1.0"), stone), quick=True)
    assert report.costs is not None
    assert report.costs.left is not None
    assert report.costs.left < 0.0
    assert check(scene_of(tmp_path, stone, head=HEAD), quick=True).costs is None


@pytest.mark.parametrize(("mass_g", "packs"), [(0.0, 0), (49.9, 1), (50.0, 1), (50.1, 2)])
def test_whole_packs(mass_g: float, packs: int) -> None:
    assert packs_needed(Pack(price=1.0, g=50.0), "epoxy putty", mass_g) == packs


def test_packs_in_ml_go_by_the_density_of_the_glue() -> None:
    """20 ml of glue weigh as much as its density says."""
    content_g = 20e-6 * adhesive("epoxy putty").density_kg_m3.default * 1000.0
    assert packs_needed(Pack(price=1.0, ml=20.0), "epoxy putty", content_g) == 1
    assert packs_needed(Pack(price=1.0, ml=20.0), "epoxy putty", content_g * 1.01) == 2
