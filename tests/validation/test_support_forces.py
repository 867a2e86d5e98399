"""What all supports carry together: statics in newtons against weights, and against what was put into the tank.

Archimedes: forces of footprints and the water's pressure on the whole base add up to the dry masses and the water that
is really there, since what a stone loses in water presses on the base instead.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scan_stacks import STACKS, import_stones, pieces_of, settle_and_unprop

from sim.base import weights_of
from sim.pieces.placing import place_pieces
from sim.scene import Scene, read_scene
from sim.states import Filling, Stage, Water, judge_laid, set_stage, waters_of
from sim.statics import Judgement, Verdict
from sim.units import STANDARD_GRAVITY_M_S2

FOLDER = Path(__file__).resolve().parents[2] / "scenes"
SCENES = sorted(FOLDER.glob("*.toml"))
G = STANDARD_GRAVITY_M_S2


def upward_n(stage: Stage, judgement: Judgement) -> float:
    """Vertical forces of base, panes and fixed pieces on the pieces that are free, contacts alone, N."""
    system, total = judgement.system, 0.0
    contacts = system.contacts
    force = np.einsum("kc,kcx->kx", judgement.strict.forces_n, system.frame)[:, 2]
    free = np.append(~stage.dry.fixed, False)
    for a, b, up in zip(contacts.a, contacts.b, force, strict=True):
        a_free, b_free = bool(free[a]) if a >= 0 else False, bool(free[b]) if b >= 0 else False
        total += up * (a_free and not b_free) - up * (b_free and not a_free)
    return float(total)


def stands_in(scene: Scene) -> list[tuple[Stage, Water, Judgement]]:
    """All states of a scene as built in which it stands."""
    stage = set_stage(scene, place_pieces(scene))
    laid = "glued" if scene.joint else "dry"
    found = [(stage, water, judge_laid(stage, laid, water, quick=True)) for water in waters_of(scene, stage.pieces)]
    return [one for one in found if one[2].verdict is Verdict.STANDS]


def volume_m3(stage: Stage) -> float:
    """Of all pieces, by tetrahedra about the origin."""
    total = 0.0
    for piece in stage.pieces:
        a, b, c = piece.vertices_m()[piece.body.faces].transpose(1, 0, 2)
        total += float(np.einsum("ki,ki->", a, np.cross(b, c))) / 6.0
    return total


def hold_up(scene: Scene) -> int:
    """Assert that supports carry what the pieces weigh in every state that stands; how many states there were."""
    states = stands_in(scene)
    for stage, water, judgement in states:
        free = ~stage.dry.fixed
        weight = float(stage.loads_in(water).weight_n[free].sum())
        assert upward_n(stage, judgement) == pytest.approx(weight, rel=1e-6, abs=1e-6), water
    return len(states)


@pytest.mark.parametrize("file", SCENES, ids=lambda file: file.stem)
def test_supports_carry_the_weight_in_every_scene(file: Path) -> None:
    scene = read_scene(file)
    assert hold_up(scene) > 0 or (scene.expect is not None and scene.expect.verdict == "falls")


@pytest.mark.parametrize("file", SCENES, ids=lambda file: file.stem)
def test_archimedes_cancels_in_every_scene(file: Path) -> None:
    """Footprints and pressure on the base against dry masses and water, within 0.1 %."""
    scene = read_scene(file)
    for stage, water, judgement in stands_in(scene):
        if water.filling is not Filling.FLOODED:
            continue
        length_m, depth_m, _ = (side / 1000.0 for side in scene.tank.inner_mm)
        level_m = water.level_m or 0.0
        assert max(piece.vertices_m()[:, 2].max() for piece in stage.pieces) < level_m
        on_base = water.density_kg_m3 * G * level_m * length_m * depth_m
        put_in = float(stage.dry.mass_kg.sum()) + water.density_kg_m3 * (
            length_m * depth_m * level_m - volume_m3(stage)
        )
        assert upward_n(stage, judgement) + on_base == pytest.approx(put_in * G, rel=1e-3)
        full = weights_of(scene, stage.pieces, flooded=True)
        assert (full.pieces_kg + full.water_kg) == pytest.approx(put_in, rel=1e-6)


@pytest.mark.slow
@pytest.mark.parametrize("name", [stack.name for stack in STACKS if stack.verdict == "stands" and not stack.joints])
def test_supports_carry_stacks_of_scans(name: str, scans: Path, tmp_path: Path) -> None:
    """The same on settled scans, dry and, by a level of their own, flooded and drained."""
    (stack,) = [one for one in STACKS if one.name == name]
    settled = tmp_path / "settled.toml"
    text = pieces_of(stack, import_stones(scans, tmp_path, [stack])).replace("level_mm = 0", "level_mm = 380")
    settle_and_unprop(text, len(stack.props), tmp_path, settled)
    assert hold_up(read_scene(settled)) >= 3
