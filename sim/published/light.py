"""Light in glass and water, and what a lens takes in."""

from __future__ import annotations

import functools
import math
from functools import partial
from pathlib import Path

import numpy as np

from sim.materials import AIR_INDEX, GLASS_INDEX, water_index
from sim.materials.optics import SENSORS, critical_angle_rad, face_reflectance, mirror_limit, slab_reflectance
from sim.materials.values import COMPUTED, MEMORY, PUBLISHED
from sim.published.row import BY_HAND, FUNCTION, SCENE, Row, Subject, amount, share
from sim.scene import Scene, parse_scene
from sim.shot import project, ray
from sim.shot.framing import depth_of_field_m, hyperfocal_m
from sim.shot.lens import lens_of

IAPWS = "IAPWS R9-97, Release on the refractive index of ordinary water substance"
REFRACTOMETER = "Refractometer scale, 589 nm, relative to air"
SEAWATER = "Refractometer scale for sea water, relative to air"
FRESNEL = "Born & Wolf, Principles of Optics"
SNELL = f"{BY_HAND}Snell's law at a flat face"
FLAT = "Agrawal, Ramalingam, Taguchi & Chari 2012, Multi-layer flat refractive geometry, CVPR"
VIEW = "Published photographic tables of angles of view, 36 x 24 mm"
FIELD = "Published worked example of depth of field, eumat.sourceforge.net"
DIAGONALS = f"{BY_HAND}crop factors from the sensors' diagonals"

TABLE = amount(0.1, "printed tables agree with each other to a tenth of a degree")
INDEX = amount(1.5e-5, "fit of the release, and the index of air")
FAR_MM = 20_000.0  # the farthest that a scene file may focus
WATER = 1.333
SIZE_PX = (36_000, 24_000)  # a pixel is a micrometre
MIDDLE_MM = (750.0, 250.0)  # of the front pane


@functools.cache
def _scene(focal_mm: float, focus_mm: float = FAR_MM, aperture: float = 8.0) -> Scene:
    """A filled tank of 1500 x 600 x 500 mm, and a camera square-on before its middle."""
    x, z = MIDDLE_MM
    text = (
        "format = 1\n[tank]\ninner_mm = [1500, 600, 500]\nbase_mm = 12\nside_mm = 12\n"
        f"[water]\nlevel_mm = 500\ntemperature_c = 20\n[camera]\nposition_mm = [{x}, -1112, {z}]\n"
        f"focal_mm = {focal_mm!r}\nfocus_mm = {focus_mm!r}\naperture = {aperture!r}\n"
    )
    return parse_scene(text, Path("shot.toml"))


def _drawn_out(focal_mm: float) -> Scene:
    """A lens whose image distance, focused as far as a scene allows, is that of the table's lens at infinity."""
    return _scene(focal_mm * FAR_MM / (FAR_MM + focal_mm))


def angle_of_view(focal_mm: float, which: int) -> float:
    """Across (0), up (1) or over the diagonal (2), degrees."""
    return math.degrees(lens_of(_drawn_out(focal_mm)).angles_of_view_rad()[which])


def width_in_water(focal_mm: float) -> float:
    """Angle between the rays of the left and the right end of the picture, behind pane and water, degrees."""
    ends = np.array([[0.0, SIZE_PX[1] / 2.0], [SIZE_PX[0], SIZE_PX[1] / 2.0]])
    _, (left, right) = ray(_drawn_out(focal_mm), ends, True, SIZE_PX)
    return math.degrees(math.acos(float(left @ right)))


def apparent_depth() -> float:
    """How deep the filled tank looks straight ahead, over how deep it is."""
    scene = _scene(24.0)
    x, z = (value / 1000.0 for value in MIDDLE_MM)
    points = np.array([[x + 1e-4, 0.0, z], [x + 1e-4, 0.6, z]])
    off = project(scene, points, True, SIZE_PX)[:, 0] - SIZE_PX[0] / 2.0
    seems = lens_of(scene).focal_px(SIZE_PX) * 1e-4 / off
    return float(seems[1] - seems[0]) / 0.6


def seen_through_pane_and_water() -> float:
    """Picture's offset, mm on the sensor, of a point of the back pane 500 mm to the side."""
    scene = _drawn_out(24.0)
    x, z = (value / 1000.0 for value in MIDDLE_MM)
    off = project(scene, np.array([[x + 0.5, 0.6, z]]), True, SIZE_PX)[0, 0] - SIZE_PX[0] / 2.0
    return float(off) / 1000.0


def sharp_from_to(focal_mm: float, which: int) -> float:
    """Nearest (0) or farthest (1) distance that looks sharp, focused at 4 m, f/8, by the lens of a scene, m."""
    lens = lens_of(_scene(focal_mm, 4000.0))
    return depth_of_field_m(lens.focal_m, lens.aperture, lens.circle_m, lens.focus_m)[which]


def _view(focal_mm: float, which: int, degrees: str) -> Row:
    what = f"angle of view {('across', 'up and down', 'over the diagonal')[which]}, {focal_mm:g} mm"
    return Row(VIEW, f"{focal_mm:g} mm", what, "deg", degrees, TABLE, PUBLISHED, SCENE,
               partial(angle_of_view, focal_mm, which))  # fmt: skip


def _in_water(focal_mm: float, degrees: str) -> Row:
    return Row(SNELL, "2 asin(sin(H/2) / 1.333)", f"angle across in water behind the pane, {focal_mm:g} mm", "deg",
               degrees, TABLE, COMPUTED, SCENE, partial(width_in_water, focal_mm))  # fmt: skip


def _sharp(focal_mm: float, which: int, metres: str) -> Row:
    what = f"{('nearest', 'farthest')[which]} sharp distance, {focal_mm:g} mm, f/8, at 4 m"
    return Row(FIELD, "reference/dof", what, "m", metres, share(2e-5, "rounding of the printed number"), PUBLISHED,
               SCENE, partial(sharp_from_to, focal_mm, which))  # fmt: skip


def _index(temperature_c: float, index: str) -> Row:
    return Row(IAPWS, "equation 1, over the index of air", f"index of water, {temperature_c:g} C", "1", index, INDEX,
               COMPUTED, FUNCTION, partial(water_index, temperature_c))  # fmt: skip


def _crop(number: int, factor: str) -> Row:
    sensor = SENSORS[number]
    what = f"crop factor of {sensor.width_mm:g} x {sensor.height_mm:g} mm"
    return Row(DIAGONALS, "ratio to 43.27 mm", what, "1", factor, amount(3e-3, "rounding of the printed number"),
               COMPUTED, FUNCTION, lambda: sensor.crop_factor)  # fmt: skip


LIGHT = Subject(
    "Light and lens",
    (
        Row(REFRACTOMETER, "20 C", "index of water", "1", "1.33299", INDEX, PUBLISHED, FUNCTION,
            partial(water_index, 20.0)),
        Row(IAPWS, "table, 20 C, relative to vacuum", "index of water", "1", "1.33335", INDEX, PUBLISHED, FUNCTION,
            lambda: water_index(20.0) * AIR_INDEX),
        _index(24.0, "1.33261"),
        _index(30.0, "1.33194"),
        Row(SEAWATER, "35 g/kg, 20 C", "index of sea water", "1", "1.3394",
            amount(1e-4, "rounding of the remembered number"), MEMORY, FUNCTION, partial(water_index, 20.0, 35.0)),
        Row(SNELL, "asin(1/n)", "angle of total reflection in water", "deg", "48.61",
            amount(0.01, "rounding of the printed number"), COMPUTED, FUNCTION,
            lambda: math.degrees(critical_angle_rad(WATER))),
        Row(SNELL, "asin sqrt(n2 - 1)", "angle in air up to which a side pane mirrors", "deg", "61.8",
            amount(0.05, "rounding of the printed number"), COMPUTED, FUNCTION,
            lambda: math.degrees(math.asin(mirror_limit(WATER)))),
        Row(FRESNEL, "section 1.5", "light thrown back by one face of glass, straight on", "1", "0.0426",
            amount(1e-4, "rounding of the printed number"), MEMORY, FUNCTION,
            lambda: float(face_reflectance(1.0, 1.0, GLASS_INDEX))),
        Row(FRESNEL, "section 1.5, both faces summed", "light thrown back by a dry pane, straight on", "1", "0.082",
            amount(5e-4, "rounding of the printed number"), COMPUTED, FUNCTION,
            lambda: float(slab_reflectance(1.0, 1.0, GLASS_INDEX, 1.0))),
        Row(FRESNEL, "section 1.5, both faces summed", "light thrown back by a flooded back pane, straight on", "1",
            "0.0465", amount(1e-4, "rounding of the printed number"), COMPUTED, FUNCTION,
            lambda: float(slab_reflectance(1.0, WATER, GLASS_INDEX, 1.0))),
        Row(SNELL, "h / n, n = 4/3: 10 m of water look 7.5 m deep", "how deep a filled tank looks over how deep it is",
            "1", "0.75", share(1e-3, "water of 20 C has n = 1.333"), PUBLISHED, SCENE, apparent_depth, 4),
        Row(FLAT, "D tan a + d tan b + L tan c = r, by bisection",
            "place in the picture of a point 500 mm off the axis on the back pane, 24 mm", "mm", "7.753",
            share(1e-4, "rounding of the printed number"), COMPUTED, SCENE, seen_through_pane_and_water),
        _view(14.0, 0, "104.25"),
        _view(14.0, 2, "114.18"),
        _view(24.0, 0, "73.74"),
        _view(24.0, 1, "53.13"),
        _view(50.0, 0, "39.60"),
        _view(50.0, 2, "46.79"),
        _in_water(14.0, "72.6"),
        _in_water(24.0, "53.5"),
        _in_water(50.0, "29.4"),
        _sharp(28.0, 0, "1.80512"),
        _sharp(35.0, 1, "17.9225"),
        _sharp(50.0, 0, "2.90023"),
        _sharp(50.0, 1, "6.4433"),
        _sharp(85.0, 1, "4.59796"),
        Row(FIELD, "f2 / N c + f", "hyperfocal distance, 50 mm, f/8, circle 0.03 mm", "m", "10.467",
            amount(1e-3, "rounding of the printed number"), COMPUTED, FUNCTION,
            lambda: hyperfocal_m(0.050, 8.0, 0.03e-3)),
        _crop(1, "1.534"),
        _crop(4, "2.73"),
    ),
)  # fmt: skip
