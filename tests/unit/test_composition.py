"""Composition of silhouettes whose numbers are known beforehand, and the lines drawn over them."""

from __future__ import annotations

import numpy as np
import pytest

from sim.shot.composition import GOLDEN, Composition, Frame, composed, frame_of, runs_of
from sim.shot.contact_sheet import contact_sheet
from sim.shot.guides import GUIDES, guide_lines, with_guides

HEIGHT, WIDTH = 100, 200
WHOLE = Frame(0, 0, WIDTH, HEIGHT)


def two_towers() -> Composition:
    """A tower of 20 x 60 on the left, one of 30 x 20 on the right, on ground 10 high of which half lies in front."""
    mass, near = np.zeros((HEIGHT, WIDTH), bool), np.zeros((HEIGHT, WIDTH), bool)
    mass[30:90, 40:60] = True
    mass[70:90, 140:170] = True
    solid = mass.copy()
    solid[90:] = True
    near[95:] = True
    return composed(mass, solid, near, WHOLE)


def test_masses_left_and_right() -> None:
    shape = two_towers()
    assert shape.mass_share == pytest.approx(1800 / 20000)
    assert shape.left_share == pytest.approx(1200 / 1800)
    assert shape.right_share == pytest.approx(600 / 1800)
    assert shape.centre == pytest.approx(
        ((1200 * 50 + 600 * 155) / 1800 / WIDTH, (1200 * 60 + 600 * 80) / 1800 / HEIGHT)
    )


def test_a_middle_column_counts_for_both_sides() -> None:
    mass = np.ones((10, 5), bool)
    shape = composed(mass, mass, mass, Frame(0, 0, 5, 10))
    assert shape.left_share == shape.right_share == 0.5


def test_silhouette_and_peak() -> None:
    shape = two_towers()
    heights = np.array([np.nan if height is None else height for height in shape.silhouette])
    assert heights[40:60] == pytest.approx(0.7)
    assert heights[140:170] == pytest.approx(0.3)
    assert np.isnan(heights[[0, 39, 60, 139, 170, 199]]).all()
    assert shape.peak == pytest.approx((0.25, 0.3))
    assert shape.nearest_third == pytest.approx(1 / 3 - 0.25)
    assert shape.nearest_golden == pytest.approx(GOLDEN[0] - 0.25)


def test_foreground_and_open_space() -> None:
    shape = two_towers()
    assert shape.foreground_share == pytest.approx(0.05)
    assert shape.open_share == pytest.approx(1.0 - (1800 + 2000) / 20000)
    assert shape.open_run == pytest.approx((60 / WIDTH, 140 / WIDTH))


def test_triangle_from_foot_over_peak_to_foot() -> None:
    assert two_towers().triangle == ((0.2, 0.9), pytest.approx((0.25, 0.3)), (0.85, 0.9))


def test_an_empty_tank_has_no_mass() -> None:
    nothing = np.zeros((HEIGHT, WIDTH), bool)
    shape = composed(nothing, nothing, nothing, WHOLE)
    assert shape.mass_share == 0.0
    assert shape.left_share is shape.right_share is shape.centre is shape.peak is None
    assert shape.open_share == 1.0
    assert shape.open_run == (0.0, 1.0)
    assert set(guide_lines(GUIDES, shape)) == set(GUIDES)


def test_the_golden_section_divides_as_the_whole() -> None:
    # check values: .382 and .618
    assert pytest.approx((0.382, 0.618), abs=5e-4) == GOLDEN
    assert GOLDEN[1] / 1.0 == pytest.approx(GOLDEN[0] / GOLDEN[1])


def test_the_frame_is_the_opening() -> None:
    inside = np.zeros((50, 80), bool)
    inside[10:40, 5:70] = True
    frame = frame_of(inside)
    assert frame == Frame(5, 10, 70, 40)
    assert (frame.width, frame.height) == (65, 30)
    assert frame_of(np.zeros((50, 80), bool)) == Frame(0, 0, 80, 50)


def test_runs() -> None:
    assert runs_of(np.array([1, 1, 0, 0, 1, 0, 1], bool)) == [(0, 2), (4, 5), (6, 7)]
    assert runs_of(np.zeros(4, bool)) == []


def test_thirds_are_drawn_where_they_belong() -> None:
    shape = composed(*(np.zeros((HEIGHT, WIDTH), bool),) * 3, Frame(20, 10, 140, 70))
    lines = guide_lines(["thirds"], shape)["thirds"]
    assert [line[0][0] for line in lines[:2]] == pytest.approx([60.0, 100.0])
    assert [line[0][1] for line in lines[2:]] == pytest.approx([30.0, 50.0])
    grey = np.full((HEIGHT, WIDTH, 3), 90, np.uint8)
    changed = (with_guides(grey, ["thirds"], shape) != grey).any(axis=2)
    assert changed[15, 58:63].any()
    assert not changed[15, 70:90].any()
    assert not changed[:, :18].any()
    assert not changed[75:].any()


def test_contact_sheet_holds_every_picture() -> None:
    tones = [40, 120, 200]
    sheet = contact_sheet([(f"{tone} mm", np.full((60, 90, 3), tone, np.uint8)) for tone in tones], columns=2)
    for tone in tones:
        assert (sheet == tone).all(axis=2).sum() >= 60 * 90
    assert sheet.shape[0] > 2 * 60
    assert sheet.shape[1] > 2 * 90
