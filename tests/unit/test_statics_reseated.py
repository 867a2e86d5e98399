"""A settled stack that is turned or mirrored, and settled anew, is judged as before."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from sim.contact import Assembly, Poses, Rest, assemble, find_contacts, tank_planes
from sim.contact.settling import settle_in_order
from sim.pieces.body import Body
from sim.pieces.generate import generate
from sim.pieces.mass import make_body
from sim.pieces.rest import rest_poses
from sim.statics import Judgement, Reason, Verdict, judge, robust, shaken, weights

Floats = NDArray[np.float64]

DENSITY_KG_M3 = 2600.0
FRICTION = 0.6
MIDDLE_M = np.array([0.3, 0.3, 0.0])
MIRROR = np.diag([-1.0, 1.0, 1.0])
ABOUT_Z = Rotation.from_euler("z", 37.0, degrees=True).as_matrix()
CHANGES = {"turned": ABOUT_Z, "mirrored": MIRROR}
MARGIN_DEG = 0.5
NEXT_TO_NOTHING_DEG = 1.0  # copies with less make a stack doubtful
# shapes, step to the side per course in metres, seed
STACKS = ((("slab", "block"), 0.012, 1), (("slab", "block"), 0.02, 2), (("slab", "slab"), 0.004, 1))
FALLING = ((("slab", "slab", "slab"), 0.027, 5), (("slab", "slab", "slab"), 0.027, 13))
SIZES_MM = {"slab": ((120, 100, 30), (110, 90, 28), (100, 80, 26)), "block": ((70, 60, 45),) * 3}


def stones_of(shapes: tuple[str, ...]) -> list[Body]:
    return [generate(shape, k + 1, SIZES_MM[shape][k], faces=1500) for k, shape in enumerate(shapes)]


def placed(bodies: list[Body], step_m: float, seed: int) -> Poses:
    """Each on its broad side over the one before, a step farther along."""
    rng = np.random.default_rng([seed, 5])
    yaw = [Rotation.from_euler("z", rng.uniform(0.0, 360.0), degrees=True).as_matrix() for _ in bodies]
    rotation = np.array([turn @ rest_poses(body)[0].rotation for turn, body in zip(yaw, bodies, strict=True)])
    heading = rng.uniform(0.0, 2.0 * np.pi)
    course = np.arange(len(bodies))[:, None]
    along = np.array([np.cos(heading), np.sin(heading), 0.0])
    return Poses(rotation, MIDDLE_M + step_m * course * along + [0.0, 0.0, 0.05] * (1 + course))


def settled(bodies: list[Body], start: Poses) -> tuple[Assembly, Poses]:
    mass = np.array([DENSITY_KG_M3 * body.volume_m3 for body in bodies])
    friction = np.full((len(bodies), len(bodies) + 5), FRICTION)
    assembly = assemble(bodies, mass, friction, tank_planes(np.array([0.6, 0.6, 0.5])))
    outcome = settle_in_order(assembly, start, [str(k) for k in range(len(bodies))])
    assert all(piece.rest is Rest.AT_REST for piece in outcome.pieces)
    return assembly, outcome.poses


def judged(assembly: Assembly, poses: Poses) -> Judgement:
    return judge(assembly, poses, find_contacts(assembly, poses), weights(assembly.mass_kg), quick=True)


def changed(bodies: list[Body], poses: Poses, change: Floats) -> tuple[list[Body], Poses]:
    """The stack turned or mirrored about the middle of the tank."""
    position = MIDDLE_M + (poses.position_m - MIDDLE_M) @ change.T
    if np.linalg.det(change) > 0.0:
        return bodies, Poses(change @ poses.rotation, position)
    other = [make_body(body.vertices_m @ change.T, np.ascontiguousarray(body.faces[:, ::-1])) for body in bodies]
    return other, Poses(change @ poses.rotation @ change, position)


@lru_cache
def first(shapes: tuple[str, ...], step_m: float, seed: int) -> tuple[list[Body], Assembly, Poses, Judgement]:
    bodies = stones_of(shapes)
    assembly, poses = settled(bodies, placed(bodies, step_m, seed))
    return bodies, assembly, poses, judged(assembly, poses)


@pytest.mark.parametrize("stack", STACKS, ids=lambda stack: f"{stack[0][-1]}-{stack[2]}")
@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_margins_of_a_settled_stack(stack: tuple[tuple[str, ...], float, int], change: Floats) -> None:
    bodies, _, poses, before = first(*stack)
    again = judged(*settled(*changed(bodies, poses, change)))
    assert before.verdict is again.verdict is Verdict.STANDS
    assert before.margins is not None
    assert again.margins is not None
    assert again.margins.critical_tilt_deg == pytest.approx(before.margins.critical_tilt_deg, abs=MARGIN_DEG)


@pytest.mark.parametrize("stack", STACKS, ids=lambda stack: f"{stack[0][-1]}-{stack[2]}")
def test_these_stacks_are_not_doubtful(stack: tuple[tuple[str, ...], float, int]) -> None:
    _, assembly, poses, _ = first(*stack)
    found = robust(shaken(assembly, poses), assembly, poses, lambda _: weights(assembly.mass_kg))
    assert found.least_tilt_deg > NEXT_TO_NOTHING_DEG


@pytest.mark.parametrize("stack", FALLING, ids=lambda stack: f"{stack[0][-1]}-{stack[2]}")
@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_what_comes_down_still_does(stack: tuple[tuple[str, ...], float, int], change: Floats) -> None:
    bodies, _, poses, before = first(*stack)
    again = judged(*settled(*changed(bodies, poses, change)))
    assert before.verdict is again.verdict is Verdict.FALLS
    assert before.reason is again.reason is Reason.COMES_DOWN
    assert {motion.piece for motion in again.moving} == {motion.piece for motion in before.moving}
