"""Suggested joints: the fewest, all needed, none where none helps."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from boxes import FLOOR_MM, HEAD, box_entry, scene_of

from sim.glue import Suggestion, Tilts, candidates_of, suggest
from sim.glue.tilting import tilted
from sim.joints.suiting import suiting
from sim.materials import ADHESIVES, ROCKS, WOODS
from sim.pieces.placing import place_pieces
from sim.report.joints import suggestion_text
from sim.scene import Scene
from sim.states import set_stage, waters_of
from sim.statics import weights

DRY = HEAD.replace("level_mm = 300", "level_mm = 0")


def _stairs(folder: Path, reach_mm: float, count: int = 3, foot_more: str = 'rock = "granite"') -> Scene:
    """Slabs, each `reach_mm` farther to the right than the one below, on a broad heavy foot."""
    entries = [box_entry(folder, "foot", (240, 120, 40), (250, 200, FLOOR_MM), foot_more)]
    for k in range(count):
        at = (300 + (k + 1) * reach_mm, 200, FLOOR_MM + 40 + 20 * k)
        entries.append(box_entry(folder, f"slab_{k + 1}", (100, 80, 20), at))
    return scene_of(folder, *entries, head=DRY)


def _between(answer: Suggestion) -> list[tuple[str, str]]:
    return [joint.entry.between for joint in answer.joints]


def test_what_stands_firmly_needs_no_joints(tmp_path: Path) -> None:
    answer = suggest(_stairs(tmp_path, 0.0))
    assert answer.verdict == "no joints needed"
    assert answer.stands_dry
    assert not answer.joints


def test_fewest_joints_of_an_overhang_against_all_choices(tmp_path: Path) -> None:
    """Every smaller choice of candidates was tried, and fails."""
    scene = _stairs(tmp_path, 32.0, 4)
    answer = suggest(scene)
    assert answer.verdict == "holds"
    assert not answer.stands_dry
    pieces = place_pieces(scene)
    stage = set_stage(scene, pieces)
    candidates = candidates_of(stage).candidates
    tilts = Tilts(stage, waters_of(scene, pieces), scene.check.tilt_wanted_deg, scene.check.azimuths)
    chosen = [c.joint for c in candidates if c.entry.between in _between(answer)]
    assert not tilts.failures(chosen)
    for fewer in range(len(answer.joints)):
        for some in combinations(candidates, fewer):
            assert tilts.failures([c.joint for c in some], 1), [c.entry.between for c in some]


def test_each_joint_says_what_moves_without_it(tmp_path: Path) -> None:
    answer = suggest(_stairs(tmp_path, 32.0))
    for joint in answer.joints:
        assert "moves first" in joint.without_it
        assert 0.0 < joint.utilisation <= 1.0
        assert joint.amount is not None
        assert joint.amount.mass_kg > 0.0


def test_a_tilt_that_no_joint_reaches_is_said_with_the_one_that_they_do(tmp_path: Path) -> None:
    """A slab on a narrow tall block: glued into one, it tips over its foot at atan(30 / height of the centre)."""
    block = box_entry(tmp_path, "block", (60, 60, 200), (300, 200, FLOOR_MM))
    slab = box_entry(tmp_path, "slab", (200, 60, 20), (350, 200, FLOOR_MM + 200))
    answer = suggest(scene_of(tmp_path, block, slab, head=DRY))
    # masses by volume: centre in the plane of the lean, from the block's middle
    block_l, slab_l = 0.72, 0.24
    x = slab_l * 50.0 / (block_l + slab_l)
    z = (block_l * 100.0 + slab_l * 210.0) / (block_l + slab_l)
    tips_deg = np.degrees(np.arctan((30.0 - x) / z))
    assert answer.verdict == "holds less"
    assert "as a whole" in answer.reason
    assert tips_deg - 0.5 <= answer.tilt_deg <= tips_deg
    assert _between(answer) == [("block", "slab")]


def test_what_slides_away_on_the_base_is_said(tmp_path: Path) -> None:
    """Friction 0.2 under a block is used up at atan(0.2), 11.3 degrees, whatever the joints above."""
    scene = _stairs(tmp_path, 32.0, foot_more='rock = "granite"\nfriction = 0.2')
    answer = suggest(scene)
    assert answer.verdict == "holds"
    assert answer.goes_at_deg == pytest.approx(np.degrees(np.arctan(0.2)), abs=0.1)
    assert "something goes at 11 degrees" in suggestion_text(answer)
    rough = suggest(_stairs(tmp_path, 32.0))
    assert rough.goes_at_deg is not None
    assert rough.goes_at_deg >= rough.tilt_wanted_deg
    assert "something goes" not in suggestion_text(rough)


def test_nothing_near_means_no_joint(tmp_path: Path) -> None:
    lone = box_entry(tmp_path, "lone", (60, 60, 30), (100, 200, FLOOR_MM + 100))
    foot = box_entry(tmp_path, "foot", (100, 100, 30), (400, 200, FLOOR_MM))
    answer = suggest(scene_of(tmp_path, foot, lone, head=DRY))
    assert answer.verdict == "no joints hold it"
    assert "lone" in answer.reason


def test_glue_too_weak_for_the_arm_is_no_answer(tmp_path: Path) -> None:
    """A cement for wide beds bears little: the arm's moment breaks it, and the answer says so."""
    foot = box_entry(tmp_path, "foot", (300, 200, 60), (155, 200, FLOOR_MM))
    post = box_entry(tmp_path, "post", (60, 60, 60), (250, 200, FLOOR_MM + 60))
    arm = box_entry(tmp_path, "arm", (300, 60, 60), (370, 200, FLOOR_MM + 120))
    scene = scene_of(tmp_path, foot, post, arm, head=DRY)
    answer = suggest(scene, glues=["cement C1"])
    assert answer.verdict == "no joints hold it"
    assert "glue breaks" in answer.reason


def test_wood_gets_ties_only_when_their_capacity_is_known(tmp_path: Path) -> None:
    foot = box_entry(tmp_path, "foot", (200, 150, 60), (250, 200, FLOOR_MM))
    beam = box_entry(tmp_path, "beam", (200, 40, 30), (340, 200, FLOOR_MM + 60), 'wood = "driftwood"')
    scene = scene_of(tmp_path, foot, beam)
    without = suggest(scene)
    assert not without.holds
    assert "rigid glue must not be the only hold of wood" in without.without[0][2]
    tied = suggest(scene, tie_n=40.0)
    assert tied.holds
    assert {joint.entry.kind for joint in tied.joints} == {"tie"}
    assert 2 <= len(tied.joints) <= 3


def test_joints_that_the_scene_has_are_kept(tmp_path: Path) -> None:
    scene = _stairs(tmp_path, 32.0)
    first = suggest(scene)
    kept = scene.model_copy(update={"joint": (first.joints[0].entry,)})
    answer = suggest(kept)
    assert answer.kept == 1
    assert answer.verdict == ("holds" if len(first.joints) > 1 else "no joints needed")
    assert len(answer.joints) == len(first.joints) - 1


def test_pieces_in_each_other_are_not_judged(tmp_path: Path) -> None:
    one = box_entry(tmp_path, "one", (60, 60, 30), (200, 200, FLOOR_MM))
    two = box_entry(tmp_path, "two", (60, 60, 30), (220, 200, FLOOR_MM + 10))
    assert suggest(scene_of(tmp_path, one, two, head=DRY)).verdict == "undetermined"


@pytest.mark.parametrize(("tilt_deg", "azimuth_deg"), [(10.0, 0.0), (25.0, 137.0)])
def test_a_tilted_load_keeps_its_size(tilt_deg: float, azimuth_deg: float) -> None:
    loads = weights(np.array([2.0]))
    force = tilted(loads, tilt_deg, azimuth_deg).force_n[0]
    assert np.linalg.norm(force) == pytest.approx(loads.weight_n[0])
    assert np.degrees(np.arctan2(force[1], force[0])) % 360.0 == pytest.approx(azimuth_deg)
    assert np.degrees(np.arctan2(np.hypot(force[0], force[1]), -force[2])) == pytest.approx(tilt_deg)


def test_which_glue_suits() -> None:
    granite, oak = ROCKS["granite"], next(iter(WOODS.values()))
    by_name = {one.glue.name: one for one in suiting(0.001, (granite, granite))}
    assert not by_name["cyanoacrylate gel"].suits  # fills up to 0.4 mm
    assert by_name["epoxy putty"].suits
    assert not by_name["neutral silicone"].suits
    wet = {one.glue.name: one for one in suiting(0.0, (granite, granite), wet=True)}
    assert not wet["cyanoacrylate gel"].suits
    assert wet["epoxy putty"].suits
    assert not any(one.suits for one in suiting(0.0, (granite, oak)))
    assert len(by_name) == len(ADHESIVES)
