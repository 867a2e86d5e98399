"""Where a point is in the picture, and what hides it: pieces, ground, the water's surface, the edge of the frame."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from shots import scene_with

import sim.shot
from sim.pieces.placing import place_pieces
from sim.scene import Scene
from sim.shot.lens import lens_of
from sim.shot.refraction import tank_of
from sim.shot.where import Place, where

Floats = NDArray[np.float64]

BLOCK = """
[[piece]]
id = "{id}"
generate = {{ shape = "block", seed = 1, size_mm = [{size}] }}
rock = "basalt"
at_mm = [{at}]
"""
NEAR = BLOCK.format(id="near", size="200, 80, 200", at="400, 150, 0")
FAR = BLOCK.format(id="far", size="200, 80, 200", at="400, 450, 0")


def places(scene: Scene, points_m: list[list[float]], flooded: bool = True) -> list[Place]:
    return where(scene, place_pieces(scene), np.array(points_m), lens_of(scene), tank_of(scene, flooded))


def test_the_nearer_piece_hides_the_farther_one_and_what_lies_behind() -> None:
    scene = scene_with("position_mm = [400, -1000, 100]", rest=NEAR + FAR)
    behind_both, between, before, beside = places(
        scene, [[0.4, 0.55, 0.1], [0.4, 0.3, 0.1], [0.4, 0.05, 0.1], [0.9, 0.5, 0.1]]
    )
    assert (behind_both.visible, behind_both.hidden_by) == (False, "near")
    assert (between.visible, between.hidden_by) == (False, "near")
    assert (before.visible, before.hidden_by) == (True, None)
    assert beside.visible


def test_pixels_are_those_of_project() -> None:
    scene = scene_with("position_mm = [400, -1000, 100]", rest=NEAR)
    points = [[0.4, 0.55, 0.1], [0.9, 0.5, 0.1]]
    for flooded in (False, True):
        wanted = sim.shot.project(scene, points, flooded)
        assert [place.px for place in places(scene, points, flooded)] == [pytest.approx(tuple(px)) for px in wanted]


def test_a_point_on_a_stone_is_not_hidden_by_it() -> None:
    scene = scene_with("position_mm = [400, -1000, 100]", rest=NEAR)
    piece = place_pieces(scene)[0]
    vertices = piece.vertices_m()
    front = vertices[np.argmin(vertices[:, 1])]
    back = vertices[np.argmax(vertices[:, 1])]
    seen, unseen = where(scene, [piece], np.stack([front, back]), lens_of(scene), tank_of(scene, True))
    assert seen.visible
    assert unseen.hidden_by == "near"


def test_water_shows_what_is_hidden_dry() -> None:
    """Refraction flattens rays: a point behind the edge of a stone comes into view, at a place found by bisection."""
    scene = scene_with("position_mm = [750, -700, 100]\nfocal_mm = 20", rest=NEAR)
    line = [[x, 0.55, 0.05] for x in np.linspace(0.05, 0.4, 701)]
    hidden = {
        flooded: [place.hidden_by == "near" for place in places(scene, line, flooded)] for flooded in (False, True)
    }
    assert any(hidden[False])
    assert any(hidden[True])
    edges = {flooded: line[hidden[flooded].index(True)][0] for flooded in (False, True)}
    assert edges[True] > edges[False] + 0.02


def test_ground_hides_what_lies_in_it_and_behind_its_crest() -> None:
    crest = "[[0, 0], [200, 200], [0, 0]]"
    scene = scene_with(
        "position_mm = [750, -1000, 150]",
        rest=f'[ground]\nlayers = [{{ material = "gravel", height_map_mm = {crest} }}]',
    )
    inside, behind, above, front = places(
        scene, [[0.75, 0.3, 0.1], [0.75, 0.55, 0.06], [0.75, 0.55, 0.4], [0.75, 0.1, 0.0667]]
    )
    assert inside.hidden_by == "ground"
    assert behind.hidden_by == "ground"
    assert above.visible
    assert front.visible


def test_the_surface_hides_what_stands_above_it_from_below() -> None:
    scene = scene_with("position_mm = [750, -1000, 250]", 300)
    low, high = places(scene, [[0.75, 0.5, 0.31], [0.75, 0.5, 0.48]])
    assert low.hidden_by == "water surface"
    assert high.visible
    assert all(place.visible for place in places(scene, [[0.75, 0.5, 0.31], [0.75, 0.5, 0.48]], flooded=False))


def test_a_stone_can_hide_it_above_the_water_too() -> None:
    """Seen down through the surface: a stone that stands out of the water, between rim and surface."""
    scene = scene_with(
        "position_mm = [400, -900, 900]\nlook_at_mm = [400, 200, 200]",
        150,
        rest=NEAR.replace("200, 80, 200", "200, 80, 400"),
    )
    place, free = places(scene, [[0.4, 0.5, 0.14], [0.9, 0.5, 0.14]])
    assert place.way == free.way == "surface"
    assert place.hidden_by == "near"
    assert free.visible


def test_outside_the_frame() -> None:
    scene = scene_with("position_mm = [750, -500, 250]\nfocal_mm = 50")
    inside, outside = places(scene, [[0.75, 0.3, 0.25], [0.05, 0.05, 0.05]])
    assert inside.in_frame
    assert (outside.in_frame, outside.visible, outside.hidden_by) == (False, False, "frame")
    assert outside.px is not None
    assert outside.px[0] < 0.0


def test_behind_the_camera() -> None:
    scene = scene_with("position_mm = [750, -1000, 250]\nlook_at_mm = [750, -2000, 250]")
    (place,) = places(scene, [[0.75, 0.3, 0.25]])
    assert place.px is None
    assert not place.visible


@pytest.mark.parametrize("film", [False, True])
def test_film_on_a_side_pane_hides_what_would_show_through_it(film: bool) -> None:
    scene = scene_with("position_mm = [-900, -300, 250]\nlook_at_mm = [300, 300, 250]\nfocal_mm = 20", 500)
    filmed = scene.model_copy(
        update={"tank": scene.tank.model_copy(update={"film": ("left",) if film else ("right",)})}
    )
    (place,) = places(filmed, [[0.1, 0.5, 0.25]])
    assert place.way == "side"
    assert place.hidden_by == ("film" if film else None)
