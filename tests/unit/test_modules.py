"""Modules in the hand: hung from their points at 1.5 times their weight, and turned."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from boxes import FLOOR_MM, HEAD, box_entry, scene_of

from sim.glue import judge_module
from sim.joints import utilisation
from sim.materials import HANDLING_FACTOR
from sim.pieces.placing import place_pieces
from sim.states import ModuleAnswer, set_stage

DRY = HEAD.replace("level_mm = 300", "level_mm = 0")
G = 9.80665


def _module(
    folder: Path, more: str = "", glue: str = "epoxy putty", arm_mm: float = 160.0, fit: str = "sawn"
) -> ModuleAnswer:
    """A block with an arm glued to its top; the block is the heavier one."""
    block = box_entry(folder, "block", (100, 80, 60), (200, 200, FLOOR_MM))
    arm = box_entry(folder, "arm", (arm_mm, 60, 20), (200 - 30 + arm_mm / 2, 200, FLOOR_MM + 60))
    joint = f'[[joint]]\nbetween = ["block", "arm"]\nglue = "{glue}"\nfit = "{fit}"\n'
    module = f'[[module]]\nid = "both"\npieces = ["block", "arm"]\n{more}'
    scene = scene_of(folder, block, arm, joint, module, head=DRY)
    return judge_module(set_stage(scene, place_pieces(scene)), scene.module[0])


def test_weight_centre_and_size(tmp_path: Path) -> None:
    answer = _module(tmp_path)
    block, arm = 0.1 * 0.08 * 0.06, 0.16 * 0.06 * 0.02
    density = answer.mass_kg / (block + arm)
    assert 2400 < density < 3000
    assert answer.centre_mm[0] == pytest.approx((block * 200 + arm * 250) / (block + arm), abs=0.01)
    assert answer.size_mm == pytest.approx((180, 80, 80), abs=0.01)


def test_utilisation_upside_down_is_that_of_the_arm_alone(tmp_path: Path) -> None:
    """Statically determinate: the joint carries 1.5 times the arm's weight, at its lever."""
    answer = _module(tmp_path)
    scene_arm_kg = answer.mass_kg * (0.16 * 0.06 * 0.02) / (0.1 * 0.08 * 0.06 + 0.16 * 0.06 * 0.02)
    assert answer.turned.verdict == "holds"
    # the patch is the common face, 80 x 60 mm, its middle 40 mm left of the arm's; the worst attitude bends most
    load = HANDLING_FACTOR * scene_arm_kg * G
    block = box_entry(tmp_path, "block", (100, 80, 60), (200, 200, FLOOR_MM))
    arm = box_entry(tmp_path, "arm", (160, 60, 20), (250, 200, FLOOR_MM + 60))
    joint = '[[joint]]\nbetween = ["block", "arm"]\nglue = "epoxy putty"\nfit = "sawn"\n'
    scene = scene_of(tmp_path, block, arm, joint, head=DRY)
    (made,) = set_stage(scene, place_pieces(scene)).declared.joints
    lever = np.array([0.250, 0.200, 0.001 * (FLOOR_MM + 70)]) - made.patch.centroid_m
    shares = []
    for way in np.vstack([np.eye(3), -np.eye(3)]):
        force = load * way
        sign = 1.0 if made.a == 1 else -1.0
        wrench = sign * np.concatenate([made.patch.axes @ force, made.patch.axes @ np.cross(lever, force)])
        # order Vx, Vy, N, Mx, My, T; pull on a is tension
        shares.append(utilisation(wrench, made.patch, made.design_strength_pa))
    assert answer.turned.utilisation == pytest.approx(max(shares), rel=0.02)


def test_a_long_arm_breaks_off_in_the_hand(tmp_path: Path) -> None:
    answer = _module(tmp_path, glue="cement C1", arm_mm=400.0, fit="rough")
    assert answer.turned.verdict == "breaks"
    assert not answer.holds


def test_one_point_lets_it_swing_and_two_beside_the_centre_too(tmp_path: Path) -> None:
    assert _module(tmp_path, "lift_at_mm = [[240, 200, 85]]\n").lifted.verdict == "holds"
    assert _module(tmp_path, "lift_at_mm = [[180, 190, 85], [240, 190, 85]]\n").lifted.verdict == "holds"


def test_three_points_that_do_not_surround_the_centre_let_it_tip(tmp_path: Path) -> None:
    around = _module(tmp_path, "lift_at_mm = [[160, 170, 65], [160, 230, 65], [320, 200, 85]]\n")
    assert around.lifted.verdict == "holds"
    beside = _module(tmp_path, "lift_at_mm = [[250, 170, 85], [250, 230, 85], [320, 200, 85]]\n")
    assert beside.lifted.verdict == "tips"


def test_pieces_without_a_joint_fall_apart(tmp_path: Path) -> None:
    block = box_entry(tmp_path, "block", (100, 80, 60), (200, 200, FLOOR_MM))
    arm = box_entry(tmp_path, "arm", (100, 60, 20), (200, 200, FLOOR_MM + 60))
    module = '[[module]]\nid = "both"\npieces = ["block", "arm"]\n'
    scene = scene_of(tmp_path, block, arm, module, head=DRY)
    answer = judge_module(set_stage(scene, place_pieces(scene)), scene.module[0])
    assert answer.turned.verdict == "falls apart"
    assert "arm" in answer.turned.reason
