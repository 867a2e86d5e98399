"""The scene that teaches to look at the flooded picture before the water goes in."""

from __future__ import annotations

from pathlib import Path

import pytest

from sim.pieces.placing import place_pieces
from sim.scene import read_scene
from sim.shot.account import account
from sim.shot.lens import lens_of
from sim.shot.stage import set_stage

SCENE = Path(__file__).resolve().parents[2] / "scenes" / "edges_that_water_uncovers.toml"


def test_back_edges_are_hidden_dry_and_show_flooded() -> None:
    scene = read_scene(SCENE)
    lens = lens_of(scene)
    stage = set_stage(scene, place_pieces(scene), lit=False)
    dry, flooded = account(scene, stage, lens, (False, True), lens.size_px(300)).states
    for side in ("left", "right"):
        assert dry.showing.part(f"back {side} edge").share == pytest.approx(0.0, abs=0.01)
        assert dict(dry.showing.part(f"back {side} edge").hidden_by)[side] > 0.98
        assert flooded.showing.part(f"back {side} edge").share > 0.9
    assert dry.remedies == ()
    # the camera must go to the other side of an edge for the stone to cover it again
    assert {remedy.edge: remedy.shift.towards for remedy in flooded.remedies if remedy.shift} == {
        "back left edge": "right",
        "back right edge": "left",
    }
