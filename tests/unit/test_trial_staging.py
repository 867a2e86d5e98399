"""From a scene's pieces to a trial: weights, floor, water, glue, rules, and scenes that allow no answer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trimesh

from sim.contact import Poses, find_contacts
from sim.contact.settling import stand_up
from sim.pieces.mass import make_body
from sim.pieces.placing import PlacedPiece
from sim.scene import Scene, parse_scene
from sim.statics import loads_at
from sim.trial import Push, Staged, TrialRun, engine, engines_installed, lifts, rules_of, run, spread_of, stage, trial
from sim.units import STANDARD_GRAVITY_M_S2

MM = 0.001
WATER_KG_M3 = 998.0
each_engine = pytest.mark.parametrize(
    "name",
    [
        pytest.param(
            name, marks=pytest.mark.skipif(name not in engines_installed(), reason=f"{name} is not installed here")
        )
        for name in ("mujoco", "bullet")
    ],
)


def scene_of(more: str = "", under: str = "") -> Scene:
    tank = "format = 1\n[tank]\ninner_mm = [600, 300, 300]\nbase_mm = 10\nside_mm = 8\n"
    return parse_scene(tank + under + more, Path("staging.toml"))


def cuboid(name: str, size_m: Sequence[float], at_m: Sequence[float], density_kg_m3: float = 2700.0) -> PlacedPiece:
    """A stone with its centre at `at_m` from the middle of the tank's base."""
    box = trimesh.creation.box(np.array(size_m))
    body = make_body(np.asarray(box.vertices), np.asarray(box.faces))
    at = np.array([0.3, 0.15, 0.0]) + at_m
    return PlacedPiece(name, body, None, density_kg_m3, density_kg_m3 * body.volume_m3, np.eye(3), at)


def cradle(name: str) -> PlacedPiece:
    """A plate with two upright ones, open above and in front."""
    plates = [((0.06, 0.04, 0.006), (0, 0, 0.003))]
    plates += [((0.006, 0.04, 0.034), (side * 0.027, 0, 0.023)) for side in (-1.0, 1.0)]
    solids = [trimesh.creation.box(size).apply_translation(at) for size, at in plates]
    whole = trimesh.boolean.union(solids, engine="manifold")
    body = make_body(np.asarray(whole.vertices), np.asarray(whole.faces))
    at = np.array([0.3, 0.15, -float(body.vertices_m[:, 2].min())])
    return PlacedPiece(name, body, None, 2700.0, 2700.0 * body.volume_m3, np.eye(3), at)


def tried(
    name: str,
    scene: Scene,
    pieces: list[PlacedPiece],
    friction: float = 0.6,
    forces: Sequence[Push | None] | None = None,
) -> TrialRun:
    staged = stage(scene, pieces, np.full((len(pieces), len(pieces) + 5), friction), forces=forces)
    return run(engine(name), staged.setup)


def under_water(pieces: list[PlacedPiece]) -> tuple[Push | None, ...]:
    poses = Poses(np.array([one.rotation for one in pieces]), np.array([one.position_m for one in pieces]))
    masses = np.array([one.mass_kg for one in pieces])
    loads = loads_at([one.body for one in pieces], poses, masses, 0.28, WATER_KG_M3)
    return lifts(pieces, loads.lift_n, loads.lift_arm_m)


def test_a_staged_piece_has_the_weight_of_its_true_body() -> None:
    """Heavier than its parts' volume would say, and with the body's own inertia."""
    one = cradle("cradle")
    staged = stage(scene_of(), [one], np.full((1, 6), 0.6))
    body = staged.setup.bodies[0]
    assert body.mass_kg == one.mass_kg
    # a plate of 60 x 40 x 6 mm and two of 34 x 40 x 6 mm
    assert body.mass_kg == pytest.approx(2700.0 * 0.04 * 0.006 * (0.06 + 2 * 0.034), rel=1e-5)
    assert body.inertia_kg_m2 == pytest.approx(2700.0 * one.body.inertia_m5, rel=1e-12)
    assert np.array_equal(body.position_m, one.position_m)
    assert staged.parts == len(body.parts) > 1
    assert staged.worst_piece == "cradle"
    assert 0.0 <= staged.worst_error_mm < 2.0


@each_engine
def test_stones_stand_on_the_grid_and_not_on_the_glass(name: str) -> None:
    under = 'under_stones = { kind = "grid", thickness_mm = 8 }\n'
    cube = cuboid("cube", [0.08] * 3, (0, 0, 0.048))
    on_it = tried(name, scene_of(under=under), [cube])
    assert on_it.survived
    assert on_it.settled_m[0] < 0.1 * MM
    assert on_it.base_force_n[0, 2] == pytest.approx(-cube.mass_kg * STANDARD_GRAVITY_M_S2, rel=0.003)
    assert tried(name, scene_of(), [cube]).settled_m[0] == pytest.approx(8 * MM, abs=0.2 * MM)


@each_engine
def test_wood_lighter_than_water_floats_off_and_heavier_stays(name: str) -> None:
    for density, stays in ((500.0, False), (990.0, False), (1010.0, True)):
        pieces = [cuboid("wood", (0.2, 0.05, 0.05), (0, 0, 0.025), density)]
        result = tried(name, scene_of(), pieces, forces=under_water(pieces))
        assert result.survived is stays, density
        assert result.undetermined is None
        if not stays:
            assert result.reason.startswith("wood")
            assert "float" in result.reason or "moved" in result.reason


@each_engine
def test_weightless_wood_is_refused_in_words(name: str) -> None:
    wood = replace(cuboid("wood", (0.2, 0.05, 0.05), (0, 0, 0.025)), mass_kg=0.0, density_kg_m3=0.0)
    result = tried(name, scene_of(), [wood])
    assert not result.survived
    assert result.undetermined is not None
    assert "wood" in result.undetermined


@each_engine
def test_a_stone_holds_wood_down_that_it_outweighs(name: str) -> None:
    """Lift of the log 1.96 N; the stone weighs 0.8 or 1.2 of that in water."""
    for share, stays in ((0.8, False), (1.2, True)):
        log = cuboid("log", (0.16, 0.05, 0.05), (0, 0, 0.025), 500.0)
        lift_kg = (WATER_KG_M3 - 500.0) * log.volume_m3
        side_m = (share * lift_kg / (2700.0 - WATER_KG_M3)) ** (1.0 / 3.0)
        pieces = [log, cuboid("stone", [side_m] * 3, (0, 0, 0.05 + side_m / 2.0))]
        assert tried(name, scene_of(), pieces, forces=under_water(pieces)).survived is stays


def test_lifts_act_where_the_water_does_in_a_turned_frame() -> None:
    """Half under water: the lift acts at the middle of the lower half, wherever the body's axes point."""
    turn = np.array([[0.0, 0.0, 1.0], [0.0, 1.0, 0.0], [-1.0, 0.0, 0.0]])
    post = replace(cuboid("post", (0.2, 0.05, 0.05), (0, 0, 0.1)), rotation=turn)
    poses = Poses(turn[None], post.position_m[None])
    loads = loads_at([post.body], poses, np.array([post.mass_kg]), 0.1, WATER_KG_M3)
    (push,) = lifts([post], loads.lift_n, loads.lift_arm_m)
    assert push is not None
    assert turn @ push.at_m == pytest.approx([0.0, 0.0, -0.05], abs=1e-9)
    assert push.force_n == pytest.approx([0.0, 0.0, WATER_KG_M3 * STANDARD_GRAVITY_M_S2 * post.volume_m3 / 2.0])
    assert lifts([post], np.zeros(1), np.zeros((1, 3))) == (None,)


@each_engine
def test_without_friction_what_stands_flat_stays_and_what_leans_does_not(name: str) -> None:
    cube, turn = cuboid("cube", [0.06] * 3, (0, 0, 0.03)), np.radians(30.0)
    assert tried(name, scene_of(), [cube], friction=0.0).survived
    across = np.array([[np.cos(turn), 0, np.sin(turn)], [0, 1, 0], [-np.sin(turn), 0, np.cos(turn)]])
    rod = replace(cuboid("rod", (0.02, 0.02, 0.16), (0.06, 0, 0)), rotation=across)
    low = (rod.body.vertices_m @ across.T).min(axis=0)
    # its lower corner on the base, its upper end against the left pane
    rod = replace(rod, position_m=np.array([-low[0], 0.15, -low[2]]))
    assert not tried(name, scene_of(), [rod], friction=0.0).survived


@each_engine
def test_an_empty_scene_has_nothing_that_could_fall(name: str) -> None:
    staged = stage(scene_of(), [], np.zeros((0, 5)))
    assert (staged.worst_error_mm, staged.worst_piece, staged.parts) == (0.0, None, 0)
    result = run(engine(name), staged.setup)
    assert result.survived
    assert result.reason == "nothing is free to move"


@each_engine
@pytest.mark.parametrize("at_m", [(0.4, 0, 0.03), (0, -0.2, 0.03), (0, 0, -0.06)])
def test_a_piece_outside_the_tank_has_no_answer(name: str, at_m: Sequence[float]) -> None:
    result = tried(name, scene_of(), [cuboid("inside", [0.06] * 3, (0, 0, 0.03)), cuboid("lost", [0.06] * 3, at_m)])
    assert not result.survived
    assert result.undetermined == "lost lies outside the tank"


@each_engine
@pytest.mark.parametrize("size_m", [0.012, 0.05])
def test_two_pieces_in_one_place_have_no_answer(name: str, size_m: float) -> None:
    one = cuboid("one", [size_m] * 3, (0, 0, size_m / 2.0))
    result = tried(name, scene_of(), [one, replace(one, id="two")])
    assert not result.survived
    assert result.undetermined is not None
    assert "one and two" in result.undetermined


@each_engine
def test_two_hollow_pieces_in_one_place_have_no_answer(name: str) -> None:
    """Shifted by the thickness of their plates they would stand in each other: nobody put them like that."""
    result = tried(name, scene_of(), [cradle("one"), cradle("two")])
    assert not result.survived
    assert result.undetermined is not None
    assert "one and two" in result.undetermined


@each_engine
def test_glued_pairs_hold_and_a_pane_may_be_one_of_them(name: str) -> None:
    pieces = [cuboid("block", [0.08] * 3, (0, 0, 0.04)), cuboid("slab", (0.1, 0.06, 0.02), (0.07, 0, 0.09))]
    mu = np.full((2, 7), 0.6)
    assert not run(engine(name), stage(scene_of(), pieces, mu).setup).survived
    assert run(engine(name), stage(scene_of(), pieces, mu, glued=[(1, 0)]).setup).survived
    shelf = [cuboid("shelf", [0.08] * 3, (-0.26, 0, 0.2))]
    assert run(engine(name), stage(scene_of(), shelf, np.full((1, 6), 0.6), glued=[(0, 2)]).setup).survived


def test_what_does_not_fit_together_is_refused() -> None:
    pieces = [cuboid("cube", [0.06] * 3, (0, 0, 0.03))]
    with pytest.raises(ValueError, match="friction"):
        stage(scene_of(), pieces, np.zeros((1, 5)))
    with pytest.raises(ValueError, match="forces"):
        stage(scene_of(), pieces, np.zeros((1, 6)), forces=[])
    for pair in ((0, 0), (0, 6), (-1, 0), (1, 2)):
        with pytest.raises(ValueError, match="glued"):
            stage(scene_of(), pieces, np.zeros((1, 6)), glued=[pair])


def test_rules_and_spread_come_from_the_scene() -> None:
    scene = scene_of(
        "[check]\ndrift_mm = 2.0\nshift_mm = 0.4\nturn_deg = 0.1\nfriction_spread = 0.2\ndensity_spread = 0.05\n"
    )
    assert rules_of(scene).drift_limit_m == pytest.approx(2 * MM)
    assert spread_of(scene).shift_m == pytest.approx(0.4 * MM)
    spread = spread_of(scene)
    assert (spread.turn_deg, spread.friction, spread.density) == (0.1, 0.2, 0.05)
    assert rules_of(scene_of()).drift_limit_m == pytest.approx(3 * MM)


def test_progress_counts_bodies_and_equal_ones_are_split_once() -> None:
    cube = cuboid("one", [0.06] * 3, (0, 0, 0.03))
    seen: list[tuple[int, int]] = []
    staged = stage(
        scene_of(),
        [cube, replace(cube, id="two", position_m=cube.position_m + np.array([0.1, 0, 0]))],
        np.full((2, 7), 0.6),
        progress=lambda *counts: seen.append(counts),
    )
    assert seen == [(2, 2)]
    assert staged.worst_error_mm < 0.1
    made = trial(staged.setup, repeats=2, engines=["mujoco"])
    assert made[0].survived


def on_contacts(scene: Scene, pieces: list[PlacedPiece], friction: float = 0.6) -> Staged:
    """Staged on pads where the pieces touch in truth."""
    mu = np.full((len(pieces), len(pieces) + 5), friction)
    assembly, poses = stand_up(scene, pieces)
    return stage(scene, pieces, mu, contacts=find_contacts(assembly, poses))


@each_engine
def test_on_pads_a_slab_tips_where_its_centre_leaves_the_block(name: str) -> None:
    """A slab of 100 mm on a block of 80 mm: its centre 2 mm inside the edge stands, 2 mm outside falls."""
    for beyond_m, stays in ((-0.002, True), (0.002, False)):
        pieces = [
            cuboid("block", [0.08] * 3, (0, 0, 0.04)),
            cuboid("slab", (0.1, 0.06, 0.02), (0.04 + beyond_m, 0, 0.09)),
        ]
        result = run(engine(name), on_contacts(scene_of(), pieces).setup)
        assert result.survived is stays, beyond_m
        assert result.undetermined is None


@each_engine
def test_on_pads_what_stands_does_not_settle(name: str) -> None:
    """Two plates with upright ones, the upper on the rims of the lower: nothing moves by a tenth of a millimetre."""
    lower = cradle("lower")
    upper = replace(cradle("upper"), position_m=lower.position_m + np.array([0.0, 0.0, 0.04]))
    staged = on_contacts(scene_of(), [lower, upper])
    result = run(engine(name), staged.setup)
    assert result.survived
    assert result.settled_m.max() < 0.1 * MM
    assert result.drift_m.max() < 0.1 * MM


@each_engine
def test_on_pads_what_hovers_falls(name: str) -> None:
    """Five millimetres above the block: less than convex parts may settle, but no contact is there."""
    pieces = [cuboid("block", [0.08] * 3, (0, 0, 0.04)), cuboid("slab", (0.1, 0.06, 0.02), (0, 0, 0.095))]
    result = run(engine(name), on_contacts(scene_of(), pieces).setup)
    assert not result.survived
    assert result.reason == "slab fell at once"


@each_engine
def test_on_pads_a_stone_wedged_between_the_panes_falls(name: str) -> None:
    """Contact on both sides, nothing below: forces that balance exist, but none arise."""
    stone = cuboid("stone", (0.6 - 2.0e-5, 0.05, 0.05), (0, 0, 0.15))
    result = run(engine(name), on_contacts(scene_of(), [stone]).setup)
    assert not result.survived
    assert result.undetermined is None
