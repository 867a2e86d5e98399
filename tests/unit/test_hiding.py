"""What would hide a back edge, for a box whose lines of sight can be worked out by hand."""

from __future__ import annotations

from pathlib import Path

import pytest
from boxes import box_entry, scene_of

from sim.pieces.placing import place_pieces
from sim.scene import Scene
from sim.shot.hiding import Remedy, remedies
from sim.shot.lens import lens_of
from sim.shot.shows import showing
from sim.shot.stage import set_stage

HEAD = """format = 1
[tank]
inner_mm = [600, 300, 300]
base_mm = 8
side_mm = 8
[camera]
position_mm = [300, -800, 150]
look_at_mm = [300, 150, 150]
focal_mm = 24
"""
FRONT_MM, HEIGHT_MM = 40.0, 150.0


def scene(folder: Path, x_mm: float = 85.0) -> Scene:
    """A box of 110 x 60 x 150 mm before the left back edge."""
    return scene_of(folder, box_entry(folder, "box", (110, 60, 150), (x_mm, FRONT_MM + 30, 0)), head=HEAD)


def found(one: Scene, flooded: bool) -> dict[str, Remedy]:
    lens = lens_of(one)
    stage = set_stage(one, place_pieces(one), lit=False)
    return {remedy.edge: remedy for remedy in remedies(one, stage, lens, flooded, lens.size_px(300))}


def test_the_rise_that_hides_the_edge(tmp_path: Path) -> None:
    """Dry. The line from the lens to the edge's top crosses the box's front at 150 + 150 x 840 / 1100 = 264.5 mm."""
    remedy = found(scene(tmp_path), flooded=False)["back left edge"]
    assert remedy.raised is not None
    assert remedy.raised.piece == "box"
    # steps of 5 mm; the glass moves a ray by a millimetre or so
    assert remedy.raised.by_mm == pytest.approx(150 + 150 * 840 / 1100 - HEIGHT_MM, abs=5.0)
    assert remedy.raised.share <= 0.005
    # level with the lens, the box covers the lower half
    assert remedy.share == pytest.approx(0.5, abs=0.01)


def test_a_box_elsewhere_hides_nothing(tmp_path: Path) -> None:
    remedy = found(scene(tmp_path, 300.0), flooded=False)
    assert set(remedy) == {"back left edge", "back right edge"}
    assert remedy["back left edge"].raised is None


def test_the_share_that_shows_over_a_box(tmp_path: Path) -> None:
    """Dry: the box ends level with the lens, so it covers the edge up to 150 of 300 mm."""
    one = scene(tmp_path)
    lens = lens_of(one)
    shown = showing(one, set_stage(one, place_pieces(one), lit=False), lens, False, lens.size_px(300))
    part = shown.part("back left edge")
    assert part.runs_mm == ((pytest.approx(150.0, abs=1.0), pytest.approx(300.0, abs=0.5)),)
    assert part.hidden_by == (("box", pytest.approx(0.5, abs=0.005)),)
    assert shown.part("back right edge").share == 1.0
