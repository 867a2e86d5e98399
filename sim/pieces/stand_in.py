"""Stand-ins: a closed body from three caliper sizes, a weight and a rock.

Habit     what the stone looks most like; it sets how full a box of its sizes the stone can be
Fullness  0 to 1 within a habit, from gaunt to nearly the whole box; the weight decides it
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from trimesh.creation import icosphere

from sim.errors import StandInError
from sim.materials import ROCKS, WOODS, Rock, Wood
from sim.materials.values import look_up
from sim.pieces.body import Body, Floats
from sim.pieces.mass import make_body, mass_properties
from sim.units import MM_PER_M

SUBDIVISIONS = 4  # 5,120 triangles
BISECTIONS = 60
SMALLEST_MM, LARGEST_MM = 5.0, 2000.0
GRAIN = 0.018  # roughness as a share of the radius


@dataclass(frozen=True, slots=True)
class Habit:
    """How round a stone is across (plan) and upward (profile), and how it tapers.

    Exponents of a superellipsoid: 1 an octahedron, 2 a ball, 10 nearly a box.
    """

    plan: tuple[float, float]  # gaunt, full
    profile: tuple[float, float]
    chips: int  # flat scars
    chip_depth: float  # share of the radius that the deepest one takes
    taper: float  # share by which one end is narrower than the other


HABITS = {
    "slab": Habit(plan=(1.3, 120.0), profile=(4.0, 120.0), chips=16, chip_depth=0.20, taper=0.05),
    "block": Habit(plan=(1.5, 120.0), profile=(1.7, 120.0), chips=18, chip_depth=0.26, taper=0.08),
    "cobble": Habit(plan=(1.4, 4.0), profile=(1.4, 4.0), chips=7, chip_depth=0.10, taper=0.06),
    "shard": Habit(plan=(1.05, 7.0), profile=(1.05, 6.0), chips=14, chip_depth=0.30, taper=0.55),
}


def make_stand_in(
    size_mm: Sequence[float],
    mass_kg: float,
    material: Rock | Wood | str | None,
    habit: str = "block",
    seed: int = 1,
    density_kg_m3: float | None = None,
) -> Body:
    """Make a body with exactly the caliper sizes and exactly the volume that the weight asks for.

    Parameters
    ----------
    size_mm : three numbers, extents along x, y and z, mm
    mass_kg : weight of the dry piece, kg
    material : rock or wood, a row of its table or its name; None needs `density_kg_m3`
    habit : a key of `HABITS`
    seed : same seed, same stone
    density_kg_m3 : instead of the table's

    Raises
    ------
    StandInError
        When sizes, weight and density do not fit together, with the weights that would.
    """
    size_m = _checked_size(size_mm) / MM_PER_M
    density = _density(material, density_kg_m3)
    if not (np.isfinite(mass_kg) and mass_kg > 0.0):
        raise StandInError(f"stand-in: a weight of {mass_kg} kg is none. Give the weight on the scales in kg.")
    make = _Maker(_habit(habit), size_m, seed)
    wanted_m3 = mass_kg / density
    least_m3, most_m3 = make.volume_m3(0.0), make.volume_m3(1.0)
    if not least_m3 <= wanted_m3 <= most_m3:
        raise StandInError(_misfit(size_m, mass_kg, density, habit, least_m3, most_m3))
    low, high = 0.0, 1.0
    for _ in range(BISECTIONS):
        middle = (low + high) / 2.0
        low, high = (middle, high) if make.volume_m3(middle) < wanted_m3 else (low, middle)
    return make_body(make.vertices_m(high), make.faces)


def mass_range_kg(size_mm: Sequence[float], density_kg_m3: float, habit: str, seed: int = 1) -> tuple[float, float]:
    """Least and greatest weight, kg, that a stand-in of these sizes can have.

    Parameters
    ----------
    size_mm : three numbers, extents along x, y and z, mm
    density_kg_m3 : above 0, kg/m3
    habit : a key of `HABITS`
    seed : the range differs a little from stone to stone

    Raises
    ------
    StandInError
        When a size, the density or the habit is none.
    """
    density = _density(None, density_kg_m3)
    make = _Maker(_habit(habit), _checked_size(size_mm) / MM_PER_M, seed)
    return make.volume_m3(0.0) * density, make.volume_m3(1.0) * density


class _Maker:
    """A stone of one habit, size and seed at any fullness."""

    def __init__(self, habit: Habit, size_m: Floats, seed: int) -> None:
        rng = np.random.default_rng(seed)
        ball = icosphere(subdivisions=SUBDIVISIONS)
        self.habit, self.size_m = habit, size_m
        self.faces = np.asarray(ball.faces, dtype=np.int32)
        # turned a little, so that no row of triangles runs along an edge of the box
        turn = np.linalg.qr(rng.normal(size=(3, 3)))[0]
        self.way = np.asarray(ball.vertices) @ (turn * np.sign(np.linalg.det(turn))).T
        self.grain = 1.0 + GRAIN * _waves(self.way, rng, 24, 6.0) + 2.5 * GRAIN * _waves(self.way, rng, 6, 2.0)
        self.scars = _scars(rng, habit.chips)
        self.scar_depth = habit.chip_depth * rng.uniform(0.2, 1.0, habit.chips)
        self.long_axis = int(np.argmax(size_m))

    def vertices_m(self, fullness: float) -> Floats:
        """Vertices (n, 3), the box exactly filled."""
        gaunt, full = self.habit.plan
        plan = gaunt * (full / gaunt) ** fullness
        gaunt, full = self.habit.profile
        profile = gaunt * (full / gaunt) ** fullness
        across = (np.abs(self.way[:, 0]) ** plan + np.abs(self.way[:, 1]) ** plan) ** (1.0 / plan)
        radius = (across**profile + np.abs(self.way[:, 2]) ** profile) ** (-1.0 / profile)
        # every scar is a plane; it lies a little inside the outermost point in its direction
        for normal, depth in zip(self.scars, self.scar_depth, strict=True):
            toward = self.way @ normal
            reach = float((radius * toward).max()) * (1.0 - depth * (1.0 - fullness))
            radius = np.minimum(radius, reach / np.maximum(toward, 1e-9))
        points = self.way * (radius * (1.0 + (self.grain - 1.0) * (1.0 - fullness)))[:, None]
        along = points[:, self.long_axis] / np.abs(points[:, self.long_axis]).max()
        narrow = 1.0 - self.habit.taper * (1.0 - fullness) * (along + 1.0) / 2.0
        for axis in range(3):
            if axis != self.long_axis:
                points[:, axis] *= narrow
        low = points.min(axis=0)
        return np.asarray((points - low) / np.ptp(points, axis=0) * self.size_m)

    def volume_m3(self, fullness: float) -> float:
        """Volume at a fullness."""
        return mass_properties(self.vertices_m(fullness), self.faces).volume_m3


def _waves(points: Floats, rng: np.random.Generator, count: int, frequency: float) -> Floats:
    """A few random waves over the ball, together about 1 in size."""
    total = np.zeros(len(points))
    for _ in range(count):
        total += np.sin(points @ rng.normal(size=3) * frequency + rng.uniform(0.0, 2.0 * np.pi))
    return np.asarray(total / np.sqrt(count))


def _scars(rng: np.random.Generator, count: int) -> Floats:
    """Directions (count, 3) of flat scars: mostly along edges and corners, where stones chip."""
    ways = rng.normal(size=(count, 3))
    ways = np.sign(ways) * np.maximum(np.abs(ways), 0.35)
    return np.asarray(ways / np.linalg.norm(ways, axis=1, keepdims=True))


def _habit(name: str) -> Habit:
    if name not in HABITS:
        raise StandInError(f'stand-in: no habit is called "{name}". Choose one of {", ".join(HABITS)}.')
    return HABITS[name]


def _checked_size(size_mm: Sequence[float]) -> Floats:
    size = np.asarray(size_mm, dtype=np.float64)
    if size.shape != (3,) or not np.isfinite(size).all() or size.min() < SMALLEST_MM or size.max() > LARGEST_MM:
        raise StandInError(
            f"stand-in: {list(size_mm)} is no size. Give three caliper sizes from {SMALLEST_MM:.0f} to "
            f"{LARGEST_MM:.0f} mm, such as 120x80x35."
        )
    return size


def _density(material: Rock | Wood | str | None, density_kg_m3: float | None) -> float:
    if density_kg_m3 is not None:
        if not (np.isfinite(density_kg_m3) and density_kg_m3 > 0.0):
            raise StandInError(f"stand-in: a density of {density_kg_m3} kg/m3 is none. Give a number above zero.")
        return density_kg_m3
    if material is None:
        raise StandInError("stand-in: neither rock nor wood nor density is known. Give one of them.")
    if isinstance(material, str):
        either: dict[str, Rock | Wood] = {**ROCKS, **WOODS}
        material = look_up("rock or wood", material, either)
    return material.density_kg_m3.default


def _misfit(size_m: Floats, mass_kg: float, density: float, habit: str, least_m3: float, most_m3: float) -> str:
    sizes = " x ".join(f"{size * MM_PER_M:g}" for size in size_m)
    is_heavy = mass_kg > most_m3 * density
    likely = "Weigh it and measure it again" if is_heavy else "Weigh it again, choose another habit"
    # rounded inward, so that every weight and density named here is possible
    least_kg, most_kg = _rounded(least_m3 * density, math.ceil), _rounded(most_m3 * density, math.floor)
    least_kg_m3, most_kg_m3 = _rounded(mass_kg / most_m3, math.ceil), _rounded(mass_kg / least_m3, math.floor)
    return (
        f"stand-in: a {habit} of {sizes} mm and {density:.0f} kg/m3 weighs {least_kg} to {most_kg} kg, "
        f"not {mass_kg:g} kg. {likely}, or give another rock: {mass_kg:g} kg would need a density of "
        f"{least_kg_m3} to {most_kg_m3} kg/m3."
    )


def _rounded(value: float, way: Callable[[float], int]) -> str:
    """Four digits, rounded up or down and printed without an exponent."""
    places = 3 - math.floor(math.log10(value))
    return f"{way(value * 10.0**places) / 10.0**places:.{max(places, 0)}f}"
