"""Joints that a scene declares: which patch, which strength, and what cannot be judged."""

from __future__ import annotations

from pathlib import Path

import pytest
from boxes import FLOOR_MM, box_entry, scene_of

from sim.contact.settling import stand_up
from sim.joints import Declared, declared_joints
from sim.materials import ADHESIVES, CONTACT_FRACTIONS, ROCKS, STONE_DIVISOR
from sim.pieces.placing import place_pieces


def _declared(folder: Path, joint: str, gap_mm: float = 0.0, rock: str = 'rock = "granite"') -> Declared:
    lower = box_entry(folder, "lower", (80, 60, 40), (300, 200, FLOOR_MM), rock)
    upper = box_entry(folder, "upper", (60, 50, 30), (300, 200, FLOOR_MM + 40 + gap_mm), rock)
    scene = scene_of(folder, lower, upper, f'[[joint]]\nbetween = ["lower", "upper"]\n{joint}\n')
    pieces = place_pieces(scene)
    return declared_joints(scene, pieces, *stand_up(scene, pieces))


def test_two_boxes_are_glued_over_their_common_face(tmp_path: Path) -> None:
    declared = _declared(tmp_path, 'glue = "epoxy putty"\nfit = "sawn"')
    (joint,) = declared.joints
    assert not declared.unusable
    assert joint.patch.contact_fraction == pytest.approx(CONTACT_FRACTIONS["sawn"].default, rel=1e-3)
    assert joint.patch.area_m2 == pytest.approx(0.060 * 0.050 * CONTACT_FRACTIONS["sawn"].default, rel=1e-3)
    assert joint.design_strength_pa == pytest.approx(ADHESIVES["epoxy putty"].permanent_mpa.default * 1e6)
    assert joint.patch.centroid_m == pytest.approx([0.3, 0.2, 0.001 * (FLOOR_MM + 40)], abs=1e-4)


def test_a_gap_that_the_glue_fills_and_one_that_it_does_not(tmp_path: Path) -> None:
    assert len(_declared(tmp_path, 'glue = "epoxy putty"', gap_mm=8.0).joints) == 1
    declared = _declared(tmp_path, 'glue = "cyanoacrylate gel"', gap_mm=2.0)
    assert not declared.joints
    assert "2.0 mm apart" in declared.unusable[0].reason
    assert "0.4 mm" in declared.unusable[0].reason


def test_thicker_glue_gives_more(tmp_path: Path) -> None:
    thin = _declared(tmp_path, 'glue = "epoxy putty"\ngap_mm = 2.0').joints[0]
    thick = _declared(tmp_path, 'glue = "epoxy putty"\ngap_mm = 8.0').joints[0]
    assert thin.stiffness_pa_m == pytest.approx(4.0 * thick.stiffness_pa_m)


def test_a_declared_area_counts(tmp_path: Path) -> None:
    joint = _declared(tmp_path, 'glue = "epoxy putty"\narea_mm2 = 400').joints[0]
    assert joint.patch.area_m2 == pytest.approx(400e-6 * CONTACT_FRACTIONS["rough"].default, rel=1e-3)
    placed = _declared(tmp_path, 'glue = "epoxy putty"\narea_mm2 = 400\nat_mm = [310, 195, 45]').joints[0]
    assert placed.patch.centroid_m == pytest.approx([0.310, 0.195, 0.045])
    assert placed.patch.area_m2 == pytest.approx(400e-6 * CONTACT_FRACTIONS["rough"].default)


def test_weak_stone_caps_the_joint(tmp_path: Path) -> None:
    weak = min(ROCKS.values(), key=lambda rock: rock.tensile_mpa.default)
    joint = _declared(tmp_path, 'glue = "epoxy putty"', rock=f'rock = "{weak.name}"').joints[0]
    assert joint.design_strength_pa == pytest.approx(
        min(ADHESIVES["epoxy putty"].permanent_mpa.default, weak.tensile_mpa.default / STONE_DIVISOR) * 1e6
    )


def test_a_tie_carries_its_capacity_or_is_not_judged(tmp_path: Path) -> None:
    joint = _declared(tmp_path, 'kind = "tie"\ncapacity_n = 50').joints[0]
    assert joint.design_strength_pa * joint.patch.area_m2 == pytest.approx(50.0)
    declared = _declared(tmp_path, 'kind = "tie"')
    assert "capacity_n" in declared.unusable[0].reason
