"""From meshes through contacts to a judgement."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from sim.contact import Poses, assemble, find_contacts, tank_planes
from sim.pieces.body import Body
from sim.pieces.mass import make_body
from sim.statics import Reason, Verdict, highest_points, judge, loads_at


def _box(x: float, y: float, z: float) -> Body:
    mesh = trimesh.creation.box((x, y, z))
    return make_body(mesh.vertices, mesh.faces)


def _two_boxes(shift_m: float, level_m: float | None = None):  # type: ignore[no-untyped-def]
    bodies = [_box(0.06, 0.06, 0.04), _box(0.06, 0.06, 0.04)]
    poses = Poses(np.tile(np.eye(3), (2, 1, 1)), np.array([[0.2, 0.2, 0.02], [0.2 + shift_m, 0.2, 0.06]]))
    mass = np.array([2600.0 * body.volume_m3 for body in bodies])
    friction = np.full((2, 2 + 5), 0.6)
    assembly = assemble(bodies, mass, friction, tank_planes(np.array([0.9, 0.45, 0.45])))
    contacts = find_contacts(assembly, poses)
    loads = loads_at(bodies, poses, mass, level_m, 998.0)
    return judge(assembly, poses, contacts, loads), assembly, poses


def test_a_box_on_a_box() -> None:
    judged, assembly, poses = _two_boxes(0.0)
    assert judged.verdict is Verdict.STANDS
    assert judged.margins is not None
    assert judged.margins.critical_tilt_deg == pytest.approx(np.degrees(np.arctan(0.6)), abs=0.1)
    # the upper slides at 0.6 W, before it tips (0.75 W) or both do (2 W 0.03 / 0.08 = 0.75 W)
    weight = assembly.mass_kg[0] * 9.80665
    assert judged.margins.least_push_n == pytest.approx(0.6 * weight, rel=1e-3)
    assert judged.margins.least_push_piece == 1
    assert highest_points(assembly, poses)[:, 2] == pytest.approx([0.04, 0.08])


def test_flooded_it_tilts_as_far_and_is_pushed_with_less() -> None:
    dry, _, _ = _two_boxes(0.005)
    flooded, _, _ = _two_boxes(0.005, 0.4)
    assert dry.margins is not None
    assert flooded.margins is not None
    assert flooded.margins.critical_tilt_deg == pytest.approx(dry.margins.critical_tilt_deg, rel=1e-4)
    assert flooded.margins.least_push_n / dry.margins.least_push_n == pytest.approx(1 - 998 / 2600, rel=1e-3)


def test_a_box_over_the_edge_comes_down() -> None:
    judged, _, _ = _two_boxes(0.032)
    assert (judged.verdict, judged.reason, judged.pieces) == (Verdict.FALLS, Reason.COMES_DOWN, (1,))
    (moving,) = judged.moving
    assert moving.turns
    assert moving.hinge_m[[0, 2]] == pytest.approx([0.23, 0.04], abs=1e-4)
