"""Stand-ins have the sizes and the weight that were measured, or say why they cannot."""

from __future__ import annotations

import re

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from sim import materials
from sim.errors import StandInError
from sim.pieces.crossings import crossing_pairs
from sim.pieces.stand_in import HABITS, make_stand_in, mass_range_kg

sizes = st.tuples(*[st.floats(20.0, 400.0)] * 3)
habits = st.sampled_from(sorted(HABITS))


@settings(max_examples=25)
@given(sizes, habits, st.integers(0, 1000), st.floats(0.02, 0.98))
def test_sizes_and_weight_are_exact(size_mm: tuple[float, ...], habit: str, seed: int, share: float) -> None:
    low, high = mass_range_kg(size_mm, 2600.0, habit, seed)
    mass_kg = low + share * (high - low)
    body = make_stand_in(size_mm, mass_kg, None, habit, seed, 2600.0)
    assert np.ptp(body.vertices_m, axis=0) * 1000.0 == pytest.approx(size_mm, abs=1e-6)
    assert body.volume_m3 * 2600.0 == pytest.approx(mass_kg, rel=1e-6)


@settings(max_examples=15)
@given(sizes, habits, st.integers(0, 1000), st.sampled_from([0.5, 0.999, 1.001, 3.0]))
def test_impossible_weights_are_refused(size_mm: tuple[float, ...], habit: str, seed: int, factor: float) -> None:
    low, high = mass_range_kg(size_mm, 2600.0, habit, seed)
    mass_kg = (low if factor < 1.0 else high) * factor
    with pytest.raises(StandInError, match=r"weighs .* to .* kg, not .* would need a density of"):
        make_stand_in(size_mm, mass_kg, None, habit, seed, 2600.0)


@pytest.mark.parametrize("habit", sorted(HABITS))
@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize("share", [0.05, 0.5, 0.95])
def test_closed_and_not_cutting_through_itself(habit: str, seed: int, share: float) -> None:
    low, high = mass_range_kg((120, 80, 45), 2600.0, habit, seed)
    body = make_stand_in((120, 80, 45), low + share * (high - low), None, habit, seed, 2600.0)
    mesh = trimesh.Trimesh(body.vertices_m, body.faces, process=False)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert crossing_pairs(body.vertices_m, body.faces) == 0


def test_same_seed_same_bytes_and_another_seed_another_stone() -> None:
    one, two, other = (make_stand_in((120, 80, 35), 0.6, "slate", "slab", seed) for seed in (4, 4, 5))
    assert one.content_hash() == two.content_hash() != other.content_hash()


@pytest.mark.parametrize(
    ("size", "mass", "rock", "habit", "match"),
    [
        ((120, 80), 0.9, "slate", "slab", "no size"),
        ((120, -80, 35), 0.9, "slate", "slab", "no size"),
        ((120, float("nan"), 35), 0.9, "slate", "slab", "no size"),
        ((120, 80, 35), -1.0, "slate", "slab", "weight"),
        ((120, 80, 35), float("inf"), "slate", "slab", "weight"),
        ((120, 80, 35), 0.9, None, "slab", "density"),
        ((120, 80, 35), 0.9, "slate", "lump", "habit"),
    ],
)
def test_nonsense_is_named(size: tuple[float, ...], mass: float, rock: str | None, habit: str, match: str) -> None:
    with pytest.raises(StandInError, match=match):
        make_stand_in(size, mass, rock, habit)


def test_wood_goes_by_its_name_too() -> None:
    by_name, by_row = (make_stand_in((200, 60, 50), 0.25, wood, "shard") for wood in ("Oak", materials.wood("oak")))
    assert by_name.content_hash() == by_row.content_hash()
    assert by_name.volume_m3 * materials.wood("oak").density_kg_m3.default == pytest.approx(0.25, rel=1e-6)


@pytest.mark.parametrize(("density", "habit", "match"), [(2600.0, "lump", "habit"), (-1.0, "slab", "density")])
def test_no_range_of_nonsense(density: float, habit: str, match: str) -> None:
    with pytest.raises(StandInError, match=match):
        mass_range_kg((120, 80, 35), density, habit)


@settings(max_examples=6)
@given(sizes, habits, st.sampled_from([0.1, 10.0]))
def test_the_weights_and_densities_that_a_refusal_names_are_possible(
    size_mm: tuple[float, ...], habit: str, factor: float
) -> None:
    mass_kg = mass_range_kg(size_mm, 2600.0, habit)[0 if factor < 1.0 else 1] * factor
    with pytest.raises(StandInError) as refusal:
        make_stand_in(size_mm, mass_kg, None, habit, 1, 2600.0)
    named = re.search(r"weighs (\S+) to (\S+) kg, .* density of (\S+) to (\S+) kg/m3", str(refusal.value))
    assert named is not None
    least_kg, most_kg, least_kg_m3, most_kg_m3 = (float(number) for number in named.groups())
    for kg in (least_kg, most_kg):
        make_stand_in(size_mm, kg, None, habit, 1, 2600.0)
    for kg_m3 in (least_kg_m3, most_kg_m3):
        make_stand_in(size_mm, mass_kg, None, habit, 1, kg_m3)
