"""Water, wood that floats in it, and what a tank weighs."""

from __future__ import annotations

import functools
from functools import partial

from sim.materials import (
    FLOOR_LOAD_KPA,
    FLOOR_POINT_KN,
    NEVER_ALONE_KG,
    US_LIVING_KPA,
    density_from_weighings,
    frequency_multiplier,
    largest_moisture,
    recommended_weight_kg,
    saturated_density_kg_m3,
    water_density_kg_m3,
)
from sim.materials.lifting import Coupling
from sim.materials.values import COMPUTED, MEMORY, PUBLISHED
from sim.published.blocks import ARCHIMEDES
from sim.published.laying import Laying, box
from sim.published.row import FUNCTION, SCENE, Row, Subject, amount, share
from sim.states import Filling, Report

TANAKA = "Tanaka, Girard, Davis, Peuto & Bignell 2001, Density of water, Metrologia 38, 301-309"
MILLERO = "Millero & Poisson 1981, Equation of state of seawater, Deep-Sea Research 28A, 625-629"
WOOD = "USDA Forest Products Laboratory, Wood Handbook"
BULK = "Published tables of bulk densities, secondary copies"
EN_572 = "EN 572-1, Glass in building, data sheet of a processor"
NIOSH = "Waters, Putz-Anderson & Garg 1994, Revised NIOSH lifting equation, DHHS (NIOSH) 94-110"
EN_1991 = "EN 1991-1-1:2002, Actions on structures"
ASCE = "ASCE 7 / IRC R301.5, secondary copy"
ISO_11228 = "ISO 11228-1:2021, Manual handling"

LB_KG, CM_PER_IN = 0.45359237, 2.54
TRACE_PPT = 1e-9  # enough to choose the formula of salt water, too little to weigh anything
EXACT = share(1e-3, "rounding of the printed number")
OWN = amount(0.0, "a number of our table")
POUNDS = share(0.035, "the manual's rounded constants in pounds and inches against its metric ones")
THIRD_DECIMAL = amount(6e-4, "rounding of the printed number")


@functools.cache
def _full_tank() -> Report:
    """900 x 450 mm with 430 mm of water of 20 C, and a pebble of 1 ml in it."""
    laying = Laying(inner_mm=(900, 450, 500), water="level_mm = 430\ntemperature_c = 20")
    laying.put("pebble", box((445, 220, 0), (10, 10, 10)), "density_kg_m3 = 2700")
    return laying.report((Filling.FLOODED,))


@functools.cache
def _glass_and_gravel() -> Report:
    """600 x 400 x 400 mm, all of 8 mm, with 20 to 40 mm of gravel, dry."""
    laying = Laying(inner_mm=(600, 400, 400), base_mm=8, side_mm=8)
    laying.sections.append('[ground]\nlayers = [{ material = "gravel", front_mm = 20, back_mm = 40 }]\n')
    laying.put("pebble", box((295, 195, 0), (10, 10, 60)), "density_kg_m3 = 2700")
    return laying.report((Filling.AIR,))


@functools.cache
def _raft() -> Report:
    """A litre of wood of 600 kg/m3, covered by water of 20 C."""
    laying = Laying(water="level_mm = 400\ntemperature_c = 20")
    laying.put("raft", box((400, 150, 0), (100, 100, 100)), "density_kg_m3 = 600", rock='wood = "oak"')
    return laying.report((Filling.FLOODED,))


def floating(which: str) -> float:
    """Lift of the raft, N, or the stone that holds it, kg."""
    ballast = _raft().ballast
    if ballast is None:
        return float("nan")
    return ballast.lift_n if which == "lift" else ballast.needed_kg


@functools.cache
def _lifted() -> Report:
    """A tank 450 mm high on a stand of 750 mm, with a stone at its front pane and one behind the middle."""
    laying = Laying(inner_mm=(900, 600, 450))
    laying.tank = "stand = { height_mm = 750 }"
    laying.put("near", box((200, 0, 50), (100, 100, 100)))
    laying.put("far", box((500, 350, 50), (100, 100, 100)))
    return laying.report((Filling.AIR,))


def limit_kg(number: int) -> float:
    """Recommended weight limit of a stone's lift over the rim."""
    return _lifted().pieces[number].lift.rwl_kg


def limit_lb(reach_in: float, height_in: float, travel_in: float, rate: float, grip: Coupling) -> float:
    """Recommended weight limit from inches, in pounds."""
    reach, height, travel = (value * CM_PER_IN for value in (reach_in, height_in, travel_in))
    return recommended_weight_kg(reach, height, travel, 0.0, rate, "1 h", grip) / LB_KG


def _fresh(temperature_c: float, density: str) -> Row:
    return Row(TANAKA, "equation 1", f"density of fresh water, {temperature_c:g} C", "kg/m3", density, THIRD_DECIMAL,
               COMPUTED, FUNCTION, partial(water_density_kg_m3, temperature_c))  # fmt: skip


def _salt(salinity_ppt: float, temperature_c: float, density: str) -> Row:
    what = f"density of water with {salinity_ppt:.0f} g/kg of salt, {temperature_c:g} C"
    return Row(MILLERO, "check values in UNESCO Technical Paper 44", what, "kg/m3", density,
               amount(1e-5, "rounding of the printed number"), PUBLISHED, FUNCTION,
               partial(water_density_kg_m3, temperature_c, salinity_ppt))  # fmt: skip


def _soaked(basic: float, density: str, moisture: str) -> tuple[Row, Row]:
    return (
        Row(WOOD, "chapter 4, cell walls of 1530 kg/m3", f"soaked density, basic gravity {basic:g}", "kg/m3", density,
            amount(1.0, "rounding of the printed number"), MEMORY, FUNCTION,
            lambda: saturated_density_kg_m3(basic, water_density_kg_m3(20.0))),
        Row(WOOD, "chapter 4, largest moisture content", f"most water it takes, basic gravity {basic:g}", "%",
            moisture, amount(0.6, "rounding of the printed number"), MEMORY, FUNCTION,
            lambda: 100.0 * largest_moisture(basic)),
    )  # fmt: skip


def _example(place: str, what: str, pounds: str, h: float, v: float, d: float, rate: float, grip: Coupling) -> Row:
    status = MEMORY if "example 1" in place else PUBLISHED
    return Row(NIOSH, place, what, "lb", pounds, POUNDS, status, FUNCTION,
               partial(limit_lb, h, v, d, rate, grip))  # fmt: skip


WATERS = Subject(
    "Water and wood",
    (
        _fresh(4.0, "999.975"),
        _fresh(20.0, "998.207"),
        _fresh(25.0, "997.047"),
        _fresh(30.0, "995.649"),
        _salt(35.0, 5.0, "1027.67547"),
        _salt(35.0, 25.0, "1023.34306"),
        _salt(TRACE_PPT, 25.0, "997.04796"),
        Row(TANAKA, "equation 1, times 0.9 x 0.45 x 0.43 m less 1 ml", "water in a tank filled to 430 mm at 20 C",
            "kg", "173.84", share(1e-4, "rounding of the printed number"), COMPUTED, SCENE,
            lambda: _full_tank().weights.water_kg),
        Row(ARCHIMEDES, "(rho_w - rho) V g", "lift of a litre of wood of 600 kg/m3", "N", "3.905", EXACT, COMPUTED,
            SCENE, partial(floating, "lift")),
        Row(ARCHIMEDES, "1.5 V (rho_w - rho) / (1 - rho_w / 2600)", "stone that holds it down 1.5-fold", "kg",
            "0.970", EXACT, COMPUTED, SCENE, partial(floating, "stone")),
        Row(ARCHIMEDES, "m rho_w / (m - m_w)", "density of 2.65 kg that weigh 1.652 kg in water of 20 C", "kg/m3",
            "2651", EXACT, COMPUTED, FUNCTION, partial(density_from_weighings, 2.65, 1.652)),
        *_soaked(0.35, "1119", "221"),
        *_soaked(0.6, "1206", "102"),
        *_soaked(1.0, "1344", "35"),
    ),
)  # fmt: skip

WEIGHTS = Subject(
    "Weights, floors and lifting",
    (
        Row(EN_572, "density 2500 kg/m3, times the panes' volume", "glass of a tank of 600 x 400 x 400 mm, 8 mm", "kg",
            "21.38", EXACT, PUBLISHED, SCENE, lambda: _glass_and_gravel().weights.glass_kg),
        Row(BULK, "gravel, dry, 1680 kg/m3", "20 to 40 mm of gravel in it", "kg", "12.10", EXACT, PUBLISHED, SCENE,
            lambda: _glass_and_gravel().weights.ground_kg),
        Row(NIOSH, "equation; H 25, V 86, D 46 cm, poor grip", "limit of a lift over the rim to the front pane", "kg",
            "18.37", EXACT, COMPUTED, SCENE, partial(limit_kg, 0)),
        Row(NIOSH, "equation; H 60, V 86, D 46 cm, poor grip", "limit of a lift over the rim, 400 mm in", "kg",
            "7.655", EXACT, COMPUTED, SCENE, partial(limit_kg, 1)),
        _example("example 4, pp. 44-46", "limit at the origin, package inspection", "34.81", 10, 22, 37, 3, "fair"),
        _example("example 4, pp. 44-46", "limit at the destination, package inspection", "15.25", 20, 59, 37, 3,
                 "good"),
        _example("example 1, pp. 33-37", "limit at the origin, punch press stock", "16.03", 23, 15, 48, 0.2, "fair"),
        _example("example 1, pp. 33-37", "limit at the destination, punch press stock", "14.31", 23, 63, 48, 0.2,
                 "good"),
        Row(NIOSH, "table 5, 3 lifts a minute, 1 h", "multiplier of frequency", "1", "0.88", OWN, PUBLISHED, FUNCTION,
            partial(frequency_multiplier, 3.0, "1 h", 74.0)),
        Row(NIOSH, "all multipliers 1", "load constant", "kg", "23", EXACT, PUBLISHED, FUNCTION,
            partial(recommended_weight_kg, 25.0, 75.0, 25.0, coupling="good")),
        Row(EN_1991, "table 6.2, category A", "even load of a floor at home", "kPa", "2.0", OWN, MEMORY, FUNCTION,
            lambda: FLOOR_LOAD_KPA.default),
        Row(EN_1991, "table 6.2, category A", "single load of a floor at home", "kN", "2.0", OWN, MEMORY, FUNCTION,
            lambda: FLOOR_POINT_KN.default),
        Row(ASCE, "40 psf", "even load of a living room floor", "kPa", "1.92", OWN, PUBLISHED, FUNCTION,
            lambda: US_LIVING_KPA.default),
        Row(ISO_11228, "reference mass", "what nobody lifts alone", "kg", "25", OWN, MEMORY, FUNCTION,
            lambda: NEVER_ALONE_KG.default),
    ),
)  # fmt: skip
