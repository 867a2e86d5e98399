"""Pages of the build sheet: what they say, that nothing leaves the paper, that none is empty."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from boxes import FLOOR_MM, HEAD, box_entry, scene_of
from sheets import SHOT_PX, bench_of, pages_of, sheet_of, silent, text_of

from sim.report.sheet import PAPERS, Measures, gather, html_text, make_sheet, pdf_bytes, pictures
from sim.report.sheet.blocks import Heading, Labels, Sheet, Table, Words
from sim.report.sheet.loads import pad_mm
from sim.report.sheet.stones import direction

EDGE_MM = 3.0  # nothing is printed nearer to the paper's edge
LEAST_INK = 0.002  # share of a page


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("bridge")


@pytest.fixture(autouse=True)
def _small_shot(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pictures, "SHOT_PX", SHOT_PX)


@pytest.fixture(scope="module")
def pdf(folder: Path) -> bytes:
    return pdf_bytes(sheet_of(folder), PAPERS["a4"])[0]


def ink_of(pdf: bytes, dots_per_mm: float = 2.0) -> list[np.ndarray]:
    """Of every page where it is not white."""
    document = pypdfium2.PdfDocument(pdf)
    pages = [page.render(scale=dots_per_mm * 25.4 / 72.0, grayscale=True).to_numpy() for page in document]
    document.close()
    return [page.reshape(page.shape[:2]) < 250 for page in pages]


@pytest.mark.parametrize(("paper", "inches"), [("a4", False), ("letter", True)])
def test_nothing_leaves_the_paper_and_no_page_is_empty(folder: Path, paper: str, inches: bool) -> None:
    made, count = pdf_bytes(sheet_of(folder, paper, inches), PAPERS[paper])
    shown = ink_of(made)
    assert len(shown) == count == len(pages_of(made))
    edge = int(EDGE_MM * 2.0)
    for ink in shown:
        for strip in (ink[:edge], ink[-edge:], ink[:, :edge], ink[:, -edge:]):
            assert not strip.any()
        body = ink[: -int(12 * 2.0)]  # without the footer
        assert body.mean() > LEAST_INK


def test_every_part_of_the_sheet_is_there(pdf: bytes) -> None:
    words = " ".join(text_of(pdf).split())
    for part in (
        "Stands (quick).", "Judged in haste", "Stones", "Plan and front", "Places", "Steps", "Glue to buy", "Schedule",
        "Base load plan and pads", "Filling", "Cautions", "Inputs assumed", "Costs", "Numbers to tape on",
        "Full-size templates",
    ):  # fmt: skip
        assert part in words, part
    for number in range(1, 5):
        assert f"Step {number} of 4" in words
    assert "This is an estimate and no certification" in words
    assert f"page 1 of {len(pages_of(pdf))}" in words


def test_numbers_follow_the_order_and_a_step_tells_all(folder: Path, pdf: bytes) -> None:
    bench = bench_of(folder)
    assert sorted(bench.numbers.values()) == [1, 2, 3, 4]
    set_in_turn = [name for step in bench.order.steps for name in step.pieces]
    assert [bench.numbers[name] for name in set_in_turn] == [1, 2, 3, 4]
    words = " ".join(text_of(pdf).split())
    arm = bench.numbers["arm"]
    step = next(step for step in bench.order.steps if step.unit == "arm")
    begin = words.index(f"Step {step.number} of 4: set {arm} arm")
    part = words[begin : begin + 900]
    assert "left side 70 mm from the left pane, front side 120 mm from the front pane" in part
    assert "lowest point 55 mm above the glass" in part
    assert f"{bench.numbers['foot_left']} foot_left, {bench.numbers['foot_right']} foot_right" in part
    assert "epoxy putty" in part
    assert "long side along the front" in part


def test_amounts_and_costs_are_those_of_the_report(folder: Path, pdf: bytes) -> None:
    report, words = bench_of(folder).report, " ".join(text_of(pdf).split())
    (glue,) = report.glue
    assert report.costs is not None
    packs = next(item.packs for item in report.costs.items if item.what == "epoxy putty")
    assert f"epoxy putty 1 {glue.volume_ml:.3g} {glue.mass_g:.3g} {packs}" in words
    assert f"in all {report.costs.total:.2f}" in words
    assert f"{report.total.mass_kg:.1f} kg" in words


def test_a_pad_carries_its_footprint_with_what_the_sheet_spreads(folder: Path) -> None:
    bench = bench_of(folder)
    longer, shorter = pad_mm(bench, "block")  # 80 x 40 mm on a sheet of 5 mm
    assert (longer, shorter) == (90.0, 50.0)
    assert direction(bench, "block") == "30°, right end back"


def test_the_web_page_says_the_same(folder: Path) -> None:
    sheet = sheet_of(folder)
    page = html_text(sheet, PAPERS["a4"])
    for block in sheet.blocks:
        if isinstance(block, Heading):
            assert f">{block.text}</h" in page
        elif isinstance(block, Words):
            assert block.text.replace("'", "&#x27;") in page
        elif isinstance(block, Table):
            assert all(f">{cell}</td>" in page for row in block.rows for cell in row if isinstance(cell, str))
    assert "http://" not in page.replace("http://www.w3.org/2000/svg", "")
    assert 'width="210mm" height="297mm"' in page
    assert page.count("data:image/jpeg;base64,") >= 1 + 4 + 2 * 4


def test_inches_stand_beside_millimetres() -> None:
    assert Measures(True).length(254.0, 12.7) == "254 × 13 mm (10.00 × 0.50 in)"
    assert Measures(True).bare(-0.001) == "0 (0.00)"
    assert Measures(False).length(254.4) == "254 mm"
    assert Measures(False).unit == "mm"


def test_the_same_sheet_gives_the_same_bytes(folder: Path, pdf: bytes) -> None:
    assert pdf_bytes(sheet_of(folder), PAPERS["a4"])[0] == pdf


def test_strange_words_do_no_harm() -> None:
    odd = "<b>& 石 Скала " + "w" * 200
    blocks = (
        Heading(odd, 0),
        Words(odd),
        Table(("a", "b"), ((odd, "x" * 64),), (0.9, 0.1), ("left", "right")),
        Labels(((str(10**6), "y" * 64),)),
    )
    made, _ = pdf_bytes(Sheet(odd, blocks), PAPERS["a4"])
    assert "<b>& ? Скала" in text_of(made)
    (ink,) = ink_of(made)
    assert not ink[:, -6:].any()
    assert "&lt;b&gt;&amp; 石" in html_text(Sheet(odd, blocks), PAPERS["a4"])


def test_long_tables_flow_over_pages_with_their_heads() -> None:
    rows = tuple((str(k), f"stone {k}") for k in range(300))
    made, count = pdf_bytes(
        Sheet("long", (Table(("no.", "name of it"), rows, (0.2, 0.8), ("right", "left")),)), PAPERS["a4"]
    )
    pages = [page.extract_text() for page in pages_of(made)]
    assert count > 3
    assert all("name of it" in page for page in pages)
    assert all(f"stone {k}" in "\n".join(pages) for k in range(300))


def test_a_stack_that_falls_says_so_first_and_has_no_steps(tmp_path: Path) -> None:
    scene = scene_of(
        tmp_path,
        box_entry(tmp_path, "lower", (60, 60, 60), (300, 200, FLOOR_MM)),
        box_entry(tmp_path, "upper", (60, 60, 60), (340, 200, FLOOR_MM + 60)),
        head=HEAD,
    )
    bench = gather(scene, PAPERS["a4"], Measures(), True, 5.0, silent)
    words = " ".join(text_of(pdf_bytes(make_sheet(bench, silent), PAPERS["a4"])[0]).split())
    assert words.index("DO NOT BUILD IT LIKE THIS. Falls: upper tips to the right.") < words.index("Stones")
    assert "Do not fill: the stack is judged 'falls'" in words
    assert "No order of setting" in words
    assert bench.numbers == {"lower": 1, "upper": 2}


def test_a_hold_and_the_module_that_saves_it(tmp_path: Path) -> None:
    """An arm that reaches far out over its foot: held until its glue has cured, or glued on a table."""
    scene = scene_of(
        tmp_path,
        box_entry(tmp_path, "foot", (140, 100, 60), (200, 200, FLOOR_MM)),
        box_entry(tmp_path, "arm", (200, 60, 20), (310, 200, FLOOR_MM + 60)),
        '[[joint]]\nbetween = ["arm", "foot"]\nglue = "epoxy putty"\n',
    )
    bench = gather(scene, PAPERS["a4"], Measures(), True, 5.0, silent)
    assert [hold.piece for hold in bench.order.steps[1].holds] == ["arm"]
    words = " ".join(text_of(pdf_bytes(make_sheet(bench, silent), PAPERS["a4"])[0]).split())
    assert re.search(r"Hold 2 arm.* N up.*, until the glue of 2 arm - 1 foot has cured", words)
    assert "It needs 1 hold" in words
    assert "All glue has cured on day 8: fill no earlier." in words
    (module,) = bench.proposals
    assert "Could be a module: 1 foot, 2 arm" in words
    assert f"Weight {module.check.answer.mass_kg:.2f} kg; recommended limit over this rim" in words
    point = ", ".join(f"{value:.0f}" for value in module.check.answer.lift_at_mm[0])
    assert f"Lift at x, y, z {point} mm" in words


def test_an_empty_scene_has_a_sheet(tmp_path: Path) -> None:
    bench = gather(scene_of(tmp_path), PAPERS["letter"], Measures(), True, 5.0, silent)
    made, count = pdf_bytes(make_sheet(bench, silent), PAPERS["letter"])
    assert count >= 1
    assert "there are no pieces in the scene" in " ".join(text_of(made).split())


def test_a_title_from_the_file_where_the_scene_has_none(folder: Path) -> None:
    bench = bench_of(folder)
    assert bench.title == "Boxes"
    untitled = replace(bench, scene=bench.scene.model_copy(update={"title": "  "}))
    assert untitled.title == "scene"
