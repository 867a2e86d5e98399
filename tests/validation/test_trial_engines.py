"""The dynamic trial against closed forms, in each engine.

Block on a tilted plane: tips at atan(b/h) (textbook), 18.435 degrees for 5 x 15 cm. Engines are held to
18.0 to 18.6 degrees; the stack, the mass ratio and the pinned blocks are known failures of engines'
default settings, their bounds our own judgement of what a trial may get wrong.

Pinned block: Coulomb friction needs a normal force that nothing supplies, so it falls whatever the friction.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
import trimesh

from sim.trial import TrialBody, TrialBox, TrialSetup, engine, engines_installed, run
from sim.units import STANDARD_GRAVITY_M_S2

ENGINES = [
    pytest.param(
        name, marks=pytest.mark.skipif(name not in engines_installed(), reason=f"{name} is not installed here")
    )
    for name in ("mujoco", "bullet")
]
pytestmark = pytest.mark.parametrize("name", ENGINES)

MM = 0.001
BASE = TrialBox("base", np.array([-1.0, -1.0, -0.05]), np.array([1.0, 1.0, 0.0]), (2, 1))


def block(name: str, size_m: Sequence[float], at_m: Sequence[float], seam: bool = False) -> TrialBody:
    """A block of stone, upright; with a seam it is two convex parts."""
    size = np.array(size_m)
    mass_kg = 2700.0 * float(size.prod())
    halves = [trimesh.creation.box(size)]
    if seam:
        quarter = np.array([0.0, size[1] / 4.0, 0.0])
        half = size * [1.0, 0.5, 1.0]
        halves = [trimesh.creation.box(half).apply_translation(way * quarter) for way in (-1.0, 1.0)]
    parts = tuple((np.array(half.vertices), np.array(half.faces, dtype=np.int32)) for half in halves)
    inertia = mass_kg / 12.0 * np.diag((size**2).sum() - size**2)
    return TrialBody(name, parts, mass_kg, inertia, np.eye(3), np.array(at_m, dtype=np.float64))


def setup(
    bodies: Sequence[TrialBody], boxes: Sequence[TrialBox] = (BASE,), friction: float = 0.7, tilt_deg: float = 0.0
) -> TrialSetup:
    count, tilt = len(bodies), np.radians(tilt_deg)
    return TrialSetup(
        bodies=tuple(bodies),
        boxes=tuple(boxes),
        friction=np.full((count, count + len(boxes)), friction),
        gravity_m_s2=STANDARD_GRAVITY_M_S2 * np.array([np.sin(tilt), 0.0, -np.cos(tilt)]),
    )


def walls(gap_m: float) -> tuple[TrialBox, ...]:
    """Two walls beside a cube of 100 mm at the origin, with a gap on each side, and a base far below."""
    inner, outer = 0.05 + gap_m, 0.15 + gap_m
    return (
        TrialBox("base", np.array([-1.0, -1.0, -1.05]), np.array([1.0, 1.0, -1.0]), (2, 1)),
        TrialBox("left wall", np.array([-outer, -0.2, -0.2]), np.array([-inner, 0.2, 0.2])),
        TrialBox("right wall", np.array([inner, -0.2, -0.2]), np.array([outer, 0.2, 0.2])),
    )


def test_a_slender_block_tips_where_its_corner_passes_under_its_centre(name: str) -> None:
    """Bisection of the onset, atan(5/15) = 18.435 degrees."""
    stands_deg, falls_deg = 16.0, 21.0
    while falls_deg - stands_deg > 0.05:
        middle = (stands_deg + falls_deg) / 2.0
        result = run(engine(name), setup([block("block", (0.05, 0.05, 0.15), (0, 0, 0.075))], tilt_deg=middle))
        assert result.undetermined is None
        stands_deg, falls_deg = (middle, falls_deg) if result.survived else (stands_deg, middle)
    assert stands_deg >= 18.0
    assert falls_deg <= 18.6


@pytest.mark.slow
@pytest.mark.parametrize("seam", [False, True], ids=["whole", "in two parts"])
def test_twenty_cubes_stand_for_half_a_minute(name: str, seam: bool) -> None:
    """MuJoCo runs all of it; pybullet, which takes a second for a second, until its rest would last that long."""
    if seam and name == "bullet":
        pytest.skip("half a minute of computing; in the benchmark")
    cubes = [block(f"cube_{i}", (0.1, 0.1, 0.1), (0.0, 0.0, 0.05 + 0.1 * i), seam) for i in range(20)]
    length_s = 6.0 if seam else 30.0  # with loose settings, cubes in two parts creep by 0.2 mm a second
    result = run(engine(name), setup(cubes), duration_s=length_s, early_stop=name == "bullet")
    assert result.survived
    assert result.drift_m.max() < 1.0 * MM
    weight_n = 20 * 2.7 * STANDARD_GRAVITY_M_S2
    assert result.base_force_n.sum(axis=0) == pytest.approx([0.0, 0.0, -weight_n], abs=0.003 * weight_n)
    assert result.base_force_n[1:] == pytest.approx(0.0)


def test_a_heavy_stone_does_not_sink_into_a_light_one(name: str) -> None:
    """A cube of 150 mm on one of 20 mm: 422 times its mass."""
    result = run(
        engine(name), setup([block("light", [0.02] * 3, (0, 0, 0.01)), block("heavy", [0.15] * 3, (0, 0, 0.095))])
    )
    assert result.survived
    assert result.settled_m.max() < 0.2 * MM
    assert result.drift_m.max() < 0.01 * MM


@pytest.mark.parametrize("gap_m", [0.001, 0.0])
def test_a_pinned_block_falls(name: str, gap_m: float) -> None:
    result = run(engine(name), setup([block("block", [0.1] * 3, (0, 0, 0))], walls(gap_m)))
    assert not result.survived
    assert result.undetermined is None
    assert result.reason == "block fell at once"


def test_a_block_held_by_overlap_alone_is_not_called_standing(name: str) -> None:
    """10 um too wide for the space between the walls: an engine would hold it for ever."""
    result = run(engine(name), setup([block("block", [0.1] * 3, (0, 0, 0))], walls(-5.0e-6)))
    assert not result.survived
    assert result.undetermined is not None
    assert "wedged" in result.undetermined


def test_sliding_starts_at_the_friction_angle(name: str) -> None:
    """tan(tilt) = mu; 0.4 is 21.801 degrees."""
    for tilt_deg, stays in either_side(21.801, 0.4):
        result = run(
            engine(name), setup([block("slab", (0.1, 0.1, 0.02), (0, 0, 0.01))], friction=0.4, tilt_deg=tilt_deg)
        )
        assert result.survived is stays


def either_side(angle_deg: float, by_deg: float) -> tuple[tuple[float, bool], tuple[float, bool]]:
    return (angle_deg - by_deg, True), (angle_deg + by_deg, False)
