"""The tables of materials: coherent rows, names that are found, and formulas that refuse nonsense."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim import materials
from sim.errors import MaterialError
from sim.materials import Status, Value

TABLES = {
    "rock": materials.ROCKS,
    "wood": materials.WOODS,
    "glass": materials.GLASSES,
    "mat": materials.MATS,
    "adhesive": materials.ADHESIVES,
    "ground": materials.GROUNDS,
}


def values() -> Iterator[tuple[str, Value]]:
    for table, rows in TABLES.items():
        for name, row in rows.items():
            for field in dataclasses.fields(row):
                value = getattr(row, field.name)
                if isinstance(value, Value):
                    yield f"{table} {name} {field.name}", value
    for pair, (dry, wet) in materials.FRICTION.items():
        yield f"dry {sorted(pair)}", dry
        yield f"wet {sorted(pair)}", wet
    for name, value in {**materials.CONTACT_FRACTIONS, **materials.MEAN_GAPS_MM}.items():
        yield name, value
    yield "slope", materials.STEEPEST_FLOODED_SLOPE_DEG
    yield "waste", materials.WASTE_FACTOR


@pytest.mark.parametrize(("where", "value"), list(values()), ids=lambda each: each if isinstance(each, str) else "")
def test_every_value_has_range_source_and_status(where: str, value: Value) -> None:
    assert value.low <= value.default <= value.high, where
    assert value.low >= 0.0
    assert value.unit
    assert len(value.source) > 10
    assert value.status in get_args(Status)


@pytest.mark.parametrize("table", TABLES)
def test_rows_are_found_in_any_case(table: str) -> None:
    find = getattr(materials, table)
    for name, row in TABLES[table].items():
        assert row.name == name
        assert find(name.upper()) is row
        assert find(f"  {name.title()} ") is row


@pytest.mark.parametrize(
    ("table", "word", "nearest"),
    [
        ("rock", "granit", "granite"),
        ("rock", "Lime stone", "limestone"),
        ("wood", "mopani", "mopane"),
        ("glass", "tougened", "toughened"),
        ("mat", "EPS 22", "EPS22"),
        ("adhesive", "epoxy puty", "epoxy putty"),
        ("ground", "sands", "sand"),
    ],
)
def test_an_unknown_name_gets_the_nearest(table: str, word: str, nearest: str) -> None:
    with pytest.raises(MaterialError, match=f'"{word}".*Did you mean "{nearest}"'):
        getattr(materials, table)(word)


def test_a_name_like_no_other_gets_them_all() -> None:
    with pytest.raises(MaterialError, match=r"Known: granite, .*unknown rock") as caught:
        materials.rock("x" * 5000)
    assert "Did you mean" not in str(caught.value)
    assert len(str(caught.value)) < 500


def test_rows_cannot_be_changed() -> None:
    with pytest.raises(dataclasses.FrozenInstanceError):
        materials.rock("granite").note = "soft"  # type: ignore[misc]


@given(
    volume_m3=st.floats(1e-6, 0.1),
    density=st.floats(300.0, 8000.0),
    water=st.floats(990.0, 1030.0),
)
def test_two_weighings_give_the_density_back(volume_m3: float, density: float, water: float) -> None:
    """Archimedes: hung in water a body loses the weight of its own volume of water."""
    air_kg = density * volume_m3
    assert materials.density_from_weighings(air_kg, air_kg - water * volume_m3, water) == pytest.approx(
        density, rel=1e-9
    )


def test_two_weighings_by_hand() -> None:
    # a litre of stone of 2500 kg/m3 in water of 1000 kg/m3
    assert materials.density_from_weighings(2.5, 1.5, 1000.0) == pytest.approx(2500.0)
    # wood that floats is pulled under: its reading is below zero
    assert materials.density_from_weighings(0.6, -0.4, 1000.0) == pytest.approx(600.0)
    # fresh water of 20 C where nothing is given
    assert materials.density_from_weighings(2.5, 1.5) == pytest.approx(2.5 * 998.207, abs=0.01)


@pytest.mark.parametrize(
    ("air_kg", "water_kg"),
    [(0.0, 0.0), (-1.0, -2.0), (1.0, 1.0), (1.0, 1.2), (float("nan"), 0.1), (1.0, float("nan")), (float("inf"), 1.0),
     (1.0, -float("inf")), (1e-320, -1e300)],
)  # fmt: skip
def test_impossible_weighings(air_kg: float, water_kg: float) -> None:
    with pytest.raises(MaterialError, match="kg"):
        materials.density_from_weighings(air_kg, water_kg)


@pytest.mark.parametrize("water", [0.0, -1000.0, float("nan"), float("inf")])
def test_impossible_water(water: float) -> None:
    with pytest.raises(MaterialError, match="water"):
        materials.density_from_weighings(2.0, 1.0, water)


def test_a_density_out_of_range_names_both_numbers() -> None:
    warning = materials.density_warning(materials.rock("granite"), 1234.0)
    assert warning is not None
    assert "1234" in warning
    assert "2600 to 2700" in warning
    assert "below" in warning
    assert materials.density_warning("granite", 1234.0) == warning
    assert "above" in str(materials.density_warning("pine", 2650.0))
    assert materials.density_warning("Granite", 2600.0) is None
    with pytest.raises(MaterialError, match="granite"):
        materials.density_warning("granit", 2600.0)


NAMES = [
    *materials.SURFACES,
    *materials.ROCKS,
    *materials.WOODS,
    *materials.GLASSES,
    *materials.MATS,
    *materials.GROUNDS,
]


@given(one=st.sampled_from(NAMES), other=st.sampled_from(NAMES))
def test_friction_of_any_pair(one: str, other: str) -> None:
    dry, wet = materials.friction(one, other, wet=False), materials.friction(one, other, wet=True)
    assert dry == materials.friction(other, one, wet=False)
    assert wet == materials.friction(other.upper(), one, wet=True)
    assert 0.0 < wet.default <= dry.default <= 1.0


# stated defaults of the tool: (one, other, dry, wet); judgement
@pytest.mark.parametrize(
    ("one", "other", "dry", "wet"),
    [
        ("granite", "limestone", 0.55, 0.45),
        ("granite", "slate", 0.40, 0.30),
        ("algae-coated stone", "granite", 0.25, 0.25),
        ("granite", "annealed", 0.15, 0.15),
        ("granite", "plastic grid", 0.25, 0.25),
        ("granite", "soft PE foam", 0.60, 0.40),
        ("oak", "granite", 0.50, 0.30),
        ("granite", "sand", 0.53, 0.53),
        # pairs without a row take the lower
        ("slate", "rubber or foam", 0.40, 0.30),
        ("oak", "glass", 0.15, 0.15),
        ("algae-coated stone", "glass", 0.15, 0.15),
    ],
)
def test_friction_defaults(one: str, other: str, dry: float, wet: float) -> None:
    assert materials.friction(one, other, wet=False).default == dry
    assert materials.friction(one, other, wet=True).default == wet


def test_friction_of_an_unknown_name() -> None:
    with pytest.raises(MaterialError, match='Did you mean "wood"'):
        materials.friction("granite", "woood", wet=False)


def test_what_lies_under_stones_is_a_surface() -> None:
    assert set(materials.UNDER_STONES.values()) <= set(materials.SURFACES)


def test_toughened_glass_gets_no_limit() -> None:
    with pytest.raises(MaterialError, match="toughened"):
        materials.glass("toughened").limit_mpa()


@pytest.mark.parametrize("name", ["annealed", "unknown", "heat-strengthened"])
def test_other_glass_is_judged_as_annealed(name: str) -> None:
    kind = materials.glass(name)
    assert kind.judged_as == "annealed"
    assert [kind.limit_mpa("surface"), kind.limit_mpa("edge"), kind.limit_mpa("abraded")] == [5.0, 4.0, 3.2]


@given(basic=st.floats(0.05, 1.5), water=st.floats(990.0, 1030.0))
def test_soaked_wood_sinks(basic: float, water: float) -> None:
    assert materials.saturated_density_kg_m3(basic, water) > water


@given(air_dry=st.floats(100.0, 1400.0))
def test_basic_gravity_is_less_than_the_air_dry_one(air_dry: float) -> None:
    basic = materials.basic_gravity(air_dry)
    assert 0.0 < basic < air_dry / 1000.0
    # back again by the handbook's formula for 12 % moisture
    assert 1120.0 * basic / (1.0 - 0.265 * 0.6 * basic) == pytest.approx(air_dry)


@pytest.mark.parametrize("basic", [0.0, -0.5, 1.6, float("nan")])
def test_impossible_wood(basic: float) -> None:
    with pytest.raises(MaterialError, match="gravity"):
        materials.saturated_density_kg_m3(basic, 998.0)
    with pytest.raises(MaterialError, match="gravity"):
        materials.largest_moisture(basic)


@given(temperature_c=st.floats(0.0, 39.5), salinity_ppt=st.floats(0.0, 41.5))
def test_water_gets_heavier_with_salt_and_bends_light_more(temperature_c: float, salinity_ppt: float) -> None:
    saltier = salinity_ppt + 0.5
    for of in (materials.water_density_kg_m3, materials.water_index):
        assert of(temperature_c, saltier) > of(temperature_c, salinity_ppt)


@given(temperature_c=st.floats(0.0, 40.0))
def test_both_formulas_of_water_meet_at_no_salt(temperature_c: float) -> None:
    salted = materials.water_density_kg_m3(temperature_c, 1e-9)
    assert salted == pytest.approx(materials.water_density_kg_m3(temperature_c), abs=0.01)


@pytest.mark.parametrize(
    ("temperature_c", "salinity_ppt"), [(-0.1, 0), (40.1, 0), (20, -1), (20, 42.1), (float("nan"), 0)]
)
def test_water_out_of_range(temperature_c: float, salinity_ppt: float) -> None:
    for of in (materials.water_density_kg_m3, materials.water_index):
        with pytest.raises(MaterialError, match="give"):
            of(temperature_c, salinity_ppt)


@pytest.mark.parametrize("thickness_m", [0.0, -0.01, float("nan")])
def test_a_mat_without_thickness(thickness_m: float) -> None:
    with pytest.raises(MaterialError, match="EPS22 mat"):
        materials.mat("eps22").bedding_n_m3(thickness_m)


@pytest.mark.parametrize("hours", [0.0, -1.0, float("nan")])
def test_a_load_without_duration(hours: float) -> None:
    with pytest.raises(MaterialError, match="hours"):
        materials.duration_factor(hours)
