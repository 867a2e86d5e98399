"""Units, calipers and weights: what size a scan becomes."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st

from sim import materials
from sim.errors import BedjointError, MeshError, UnitsQuestion
from sim.pieces.importing import ImportedPiece, ImportOptions, import_piece, piece_id
from sim.pieces.saving import load_body
from sim.pieces.scale import caliper_length, choose_units, scale_by_weight
from sim.units import METRES_PER_UNIT


@pytest.mark.parametrize(
    ("longest", "candidates"),
    [
        (28.5, {"mm": 28.5, "cm": 285.0, "in": 723.9}),
        (16.0, {"mm": 16.0, "cm": 160.0, "in": 406.4}),
        (0.5, {"m": 500.0, "in": 12.7}),
        (1.59, {"cm": 15.9, "in": 40.386}),
        (60.0, {"mm": 60.0, "cm": 600.0}),
    ],
)
def test_more_than_one_possible_unit_is_a_question(longest: float, candidates: dict[str, float]) -> None:
    with pytest.raises(UnitsQuestion, match="which of these is it") as question:
        choose_units(longest)
    assert question.value.candidates == pytest.approx(candidates)
    for unit in candidates:
        assert f"--units {unit}" in str(question.value)


@pytest.mark.parametrize(("longest", "unit"), [(0.11, "m"), (0.206, "m"), (150.0, "mm"), (999.0, "mm")])
def test_one_possible_unit_is_taken_and_told(longest: float, unit: str) -> None:
    units = choose_units(longest)
    assert units.name == unit
    assert "only units" in units.because


@given(st.floats(1e-6, 1e6))
def test_units_taken_without_being_told_leave_no_other(longest: float) -> None:
    possible = [unit for unit, metres in METRES_PER_UNIT.items() if 0.01 <= longest * metres <= 1.0]
    try:
        assert [choose_units(longest).name] == possible
    except UnitsQuestion as question:
        asked = question.candidates
        assert len(possible) != 1
        assert sorted(asked) == sorted(possible)


def test_units_given_win_unless_they_make_no_stone() -> None:
    assert choose_units(28.0, given="cm").name == "cm"
    with pytest.raises(MeshError, match="inconsistent units: as metres its longest side is 28 m"):
        choose_units(28.0, given="m")
    assert choose_units(28.0, given="m", scale=0.01).name == "m"


def test_declared_units_are_used_where_they_make_a_stone() -> None:
    assert choose_units(0.5, declared="m").name == "m"
    with pytest.raises(UnitsQuestion, match="which declares metres: 28 m is no piece"):
        choose_units(28.0, declared="m")
    assert choose_units(28.0, declared="m", given="cm").name == "cm"


def test_the_weight_chooses_between_units() -> None:
    # 28 x 22 x 9 cm, 2.6 litres of stone
    scale = scale_by_weight(28.5, 2598.0, 6.75, 2600.0, None)
    assert (scale.units, scale.metres) == ("cm", 0.01)
    scale = scale_by_weight(28.5, 2598.0, 0.00675, 2600.0, None)
    assert (scale.units, scale.metres) == ("mm", 0.001)


def test_the_weight_sets_the_scale_where_no_units_fit() -> None:
    scale = scale_by_weight(2.0, 1.0, 2.6, 2600.0, None)
    assert scale.units == "none"
    assert scale.metres == pytest.approx(0.1)
    assert scale.warnings
    with pytest.raises(MeshError, match="inconsistent weight"):
        scale_by_weight(2.0, 1.0, 2.6e6, 2600.0, None)


@given(st.integers(0, 2**32 - 1))
def test_calipers_read_the_same_however_the_scan_is_turned(seed: int) -> None:
    mesh = trimesh.creation.box((120.0, 80.0, 35.0))
    turn, _ = np.linalg.qr(np.random.default_rng(seed).normal(size=(3, 3)))
    turn[0] *= np.linalg.det(turn)
    vertices = np.asarray(mesh.vertices) @ turn.T
    assert caliper_length(vertices, np.asarray(mesh.faces, dtype=np.int32)) == pytest.approx(120.0, rel=1e-6)


@pytest.fixture
def brick(tmp_path: Path) -> Path:
    """A brick of 120 x 80 x 35, 336 ml if millimetres."""
    file = tmp_path / "my brick (2).stl"
    trimesh.creation.box((120.0, 80.0, 35.0)).export(file)
    return file


def imported(file: Path, **known: float | str) -> ImportedPiece:
    return import_piece(file, ImportOptions(**known))  # type: ignore[arg-type]


def test_one_caliper_length_sets_the_scale(brick: Path) -> None:
    piece = imported(brick, longest_mm=240.0)
    assert piece.volume_ml == pytest.approx(336.0 * 8.0)
    assert piece.sizes_mm == pytest.approx((240.0, 160.0, 70.0))


def test_scale_multiplies_the_units(brick: Path) -> None:
    assert imported(brick, units="mm", scale=0.5).volume_ml == pytest.approx(336.0 / 8.0)
    assert imported(brick, units="cm", scale=0.1).volume_ml == pytest.approx(336.0)


def test_density_by_mass(brick: Path) -> None:
    piece = imported(brick, units="mm", mass_kg=0.9, rock="limestone")
    assert piece.density_kg_m3 == pytest.approx(0.9 / 336.0e-6)
    assert piece.mass_kg == 0.9


def test_mass_by_the_table(brick: Path) -> None:
    piece = imported(brick, rock="slate")
    assert piece.density_kg_m3 == materials.rock("slate").density_kg_m3.default
    assert piece.mass_kg == pytest.approx(piece.density_kg_m3 * 336.0e-6)
    assert imported(brick).mass_kg is None


def test_a_density_out_of_range_warns_with_both_numbers(brick: Path) -> None:
    piece = imported(brick, units="mm", mass_kg=1.8, rock="limestone")
    (warning,) = piece.warnings
    assert "5357" in warning.replace(",", "").replace(" ", "")
    assert "limestone" in warning


def test_two_weighings_give_the_density(brick: Path) -> None:
    # 0.9 kg that lose 0.336 kg in water of about 998 kg/m3
    piece = imported(brick, units="mm", mass_kg=0.9, mass_in_water_kg=0.564)
    assert piece.density_kg_m3 == pytest.approx(0.9 / 0.336 * 998.0, rel=0.003)
    assert not piece.warnings
    (warning,) = imported(brick, units="mm", mass_kg=0.9, mass_in_water_kg=0.4).warnings
    assert "336 ml" in warning


@pytest.mark.parametrize(
    ("known", "message"),
    [
        ({"units": "ell"}, "--units ell"),
        ({"scale": 0.0}, "--scale 0"),
        ({"scale": float("nan")}, "--scale nan"),
        ({"longest_mm": -5.0}, "--longest-mm -5"),
        ({"mass_kg": 0.0}, "--mass-kg 0"),
        ({"rock": "slate", "wood": "oak"}, "one of them"),
        ({"scale": 2.0, "longest_mm": 100.0}, "both set the size"),
        ({"mass_in_water_kg": 0.4}, "needs --mass-kg"),
        ({"rock": "cheese"}, "cheese"),
        ({"mass_kg": 0.4, "mass_in_water_kg": 0.5}, "0.5"),
        ({"units": "m"}, "inconsistent units"),
    ],
)
def test_options_that_contradict_each_other(brick: Path, known: dict[str, float | str], message: str) -> None:
    with pytest.raises(BedjointError, match=message):
        imported(brick, **known)


def test_ids_are_made_of_letters_digits_and_strokes(brick: Path) -> None:
    assert piece_id(brick) == "my_brick_2"
    assert piece_id("stone-07.b.ply") == "stone-07_b"
    assert piece_id("石.ply") == "piece"


def test_a_body_loads_in_its_units(brick: Path) -> None:
    body = load_body(brick, units="cm", scale=0.1)
    assert body.volume_m3 == pytest.approx(336.0e-6)
    np.testing.assert_allclose(np.ptp(body.vertices_m, axis=0), [0.12, 0.08, 0.035])
    with pytest.raises(MeshError, match="units 'ell'"):
        load_body(brick, units="ell")
