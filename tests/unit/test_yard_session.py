"""Everything that hands can do at the yard, without a screen."""

from __future__ import annotations

import re
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh
from yards import small_scene

from sim.contact import Rest, find_contacts
from sim.errors import BedjointError, SceneError
from sim.joints import declared_joints
from sim.scene import parse_scene, read_scene
from sim.states import hovering, misplaced, set_stage
from sim.yard import bench
from sim.yard.commands import OldVersion, carry_out
from sim.yard.comparing import compared
from sim.yard.journal import journal_path
from sim.yard.protocol import PoseTo, SetCamera, State, VerdictTold
from sim.yard.session import Session
from sim.yard.shooting import ShotSettings
from sim.yard.touching import Touching
from sim.yard.wire import read_command


@pytest.fixture
def session(tmp_path: Path) -> Iterator[Session]:
    made = Session(small_scene(tmp_path), judged=False)
    yield made
    made.close()


def at_mm(session: Session, piece: str) -> tuple[float, float, float]:
    return session.laid.scene.piece_named(piece).at_mm


def words(session: Session) -> list[tuple[str, str, str]]:
    return [(fault.piece, fault.other, fault.fault) for fault in session.faults]


ACTIONS: dict[str, Callable[[Session], object]] = {
    "place": lambda s: s.place([PoseTo("high", at_mm=(250.0, 180.0, 90.0), turn_deg=(0.0, 0.0, 30.0))]),
    "move": lambda s: s.move(["high", "low"], (3.0, -2.0, 1.0)),
    "turn": lambda s: s.turn(["high"], "x", 20.0),
    "turn together": lambda s: s.turn(["low", "beside"], "z", 15.0, together=True),
    "set down": lambda s: s.set_down(["high"]),
    "level": lambda s: (s.turn(["high"], "x", 20.0), s.level(["high"])),
    "snap": lambda s: s.snap("beside", "right pane"),
    "duplicate": lambda s: s.duplicate(["beside"]),
    "delete": lambda s: s.delete(["high"]),
    "hide": lambda s: s.hide(["low"]),
    "lock": lambda s: s.lock_pieces(["low"]),
    "fix": lambda s: s.fix(["low"]),
    "group": lambda s: s.group(["low", "high"], "pair"),
    "stand-in": lambda s: s.take(s.add_stand_in("kerb", (150, 60, 50), 1.1, rock="granite")),
    "join": lambda s: s.join(["low", "high"], "epoxy putty"),
    "camera": lambda s: s.set_camera(SetCamera(position_mm=(300.0, -900.0, 200.0), focal_mm=50.0)),
    "water": lambda s: s.set_water(0.0),
}


@pytest.mark.parametrize("name", ACTIONS)
def test_undo_brings_back_every_byte_and_redo_does_it_again(session: Session, name: str) -> None:
    text, desk = session.text, session.desk
    ACTIONS[name](session)
    after = (session.text, session.desk)
    assert after != (text, desk), "it changed nothing"
    assert "# high, from the shore" in session.text or name == "delete"
    parse_scene(session.text)
    steps = 0
    while session.state().undo is not None:
        session.undo()
        steps += 1
    assert (session.text, session.desk) == (text, desk)
    for _ in range(steps):
        session.redo()
    assert (session.text, session.desk) == after
    with pytest.raises(BedjointError, match="nothing to redo"):
        session.redo()


def test_all_actions_one_after_another_and_all_the_way_back(session: Session) -> None:
    text = session.text
    for name, action in ACTIONS.items():
        if name not in ("delete", "lock", "fix"):  # what is gone, locked or fixed takes no part in the others
            action(session)
    while session.state().undo is not None:
        session.undo()
        parse_scene(session.text)
    assert session.text == text
    assert session.keeping.saved


def test_a_move_changes_two_numbers_and_nothing_else(session: Session) -> None:
    before = session.text
    session.move(["high"], (5.0, 0.0, -2.5))
    assert session.text == before.replace("[210, 205, 60]", "[215, 205, 57.5]")


def test_a_turn_keeps_its_form(session: Session) -> None:
    session.turn(["high"], "z", 30.0)
    assert "turn_deg = [0, 0, 30]" in session.text
    session.place([PoseTo("low", at_mm=at_mm(session, "low"), quaternion=(1.0, 0.0, 0.0, 0.0))])
    assert "quaternion" not in session.text


def test_a_place_by_its_centre_is_the_same_place(session: Session) -> None:
    piece = session.state().pieces[2]
    session.place([PoseTo("high", position_mm=piece.position_mm, quaternion=piece.quaternion)])
    np.testing.assert_allclose(at_mm(session, "high"), (210, 205, 60), atol=1e-4)


def test_what_hovers_and_what_overlaps_is_told_at_once(session: Session) -> None:
    assert words(session) == [("high", "low", "hovers")]
    hovers = session.faults[0].by_mm
    assert 14.0 < hovers < 17.0  # 60 - 5 - 40 mm over a slab whose top is nearly level
    session.move(["high"], (0.0, 0.0, -30.0))
    assert words(session) == [("low", "high", "overlaps")]
    session.place([PoseTo("high", at_mm=(-80.0, 200.0, 60.0))])
    assert words(session) == [("high", "left pane", "outside")]


@pytest.mark.parametrize("lift", [-30.0, -14.0, 0.0, 40.0])
def test_faults_are_those_that_the_judges_find(session: Session, lift: float) -> None:
    """Looked for pair by pair they are the same as in a whole check."""
    session.move(["high"], (35.0, 12.0, lift))
    stage = set_stage(session.laid.scene, session.laid.pieces)
    expected = {(frozenset((one.piece, one.other)), one.fault) for one in (*misplaced(stage), *hovering(stage))}
    assert {(frozenset((one.piece, one.other)), one.fault) for one in session.faults} == expected


def test_contacts_and_joints_are_those_that_the_judges_find(session: Session) -> None:
    session.set_down(["low", "beside", "high"])
    session.join(["low", "high"], "epoxy putty")
    touching, laid = Touching(), session.laid
    for _ in range(2):  # found, and remembered
        contacts, declared = touching.contacts(laid), touching.declared(laid)
        whole = find_contacts(laid.dry, laid.poses, laid.scene.check.contact_mm / 1000.0)
        order = np.lexsort(contacts.point_m.T), np.lexsort(whole.point_m.T)
        for key in ("a", "b", "point_m", "normal", "area_m2", "mu"):
            one, other = getattr(contacts, key)[order[0]], getattr(whole, key)[order[1]]
            np.testing.assert_allclose(one, other, rtol=1e-12, atol=1e-15)
        assert len(contacts.patches.a) == contacts.patch.max() + 1
        expected = declared_joints(laid.scene, laid.pieces, laid.dry, laid.poses)
        assert [(joint.a, joint.b) for joint in declared.joints] == [(joint.a, joint.b) for joint in expected.joints]
        assert declared.joints[0].patch.area_m2 == pytest.approx(expected.joints[0].patch.area_m2, rel=1e-9)


def test_a_slab_is_set_down_on_what_lies_below(session: Session) -> None:
    assert session.set_down(["high"]) == {"high": Rest.AT_REST}
    assert session.faults == () or "high" not in {fault.piece for fault in session.faults}
    assert 43.0 < at_mm(session, "high")[2] < 46.0


def test_a_slab_in_another_one_is_nudged_free_first(session: Session) -> None:
    session.place([PoseTo("beside", at_mm=(312.0, 200.0, 5.0))])  # its end is 8 mm inside the end of the first
    assert ("low", "beside", "overlaps") in words(session)
    assert session.set_down(["beside"]) == {"beside": Rest.AT_REST}
    x, _, z = at_mm(session, "beside")
    assert 318.0 < x < 335.0
    assert z < 6.0, "it is beside the other one, not on top of it"
    assert "overlaps" not in {fault.fault for fault in session.faults}


def test_a_slab_in_a_pane_comes_back_into_the_tank(session: Session) -> None:
    session.place([PoseTo("beside", at_mm=(560.0, 200.0, 5.0))])
    session.set_down(["beside"])
    assert at_mm(session, "beside")[0] <= 540.0 + 1e-3
    assert "overlaps" not in {fault.fault for fault in session.faults}


def test_what_finds_no_rest_stays_where_it_was_and_says_so(session: Session) -> None:
    session.set_down(["low"])
    session.place([PoseTo("high", at_mm=(265.0, 200.0, 60.0))])
    before = session.text
    rest = session.set_down(["high"])["high"]
    assert rest is not Rest.AT_REST
    assert session.text == before


def test_level_turns_the_least_way(session: Session) -> None:
    session.turn(["high"], "x", 25.0)
    session.turn(["high"], "z", 40.0)
    session.level(["high"])
    up = session.laid.pieces[2].rotation[:, 2]
    np.testing.assert_allclose(up, [0.0, 0.0, 1.0], atol=1e-8)
    turned = session.state().pieces[2].turn_deg
    assert turned[2] == pytest.approx(40.0, abs=0.5)


@pytest.mark.parametrize(
    ("to", "axis", "side", "place"),
    [
        ("left pane", 0, 0, 0.0),
        ("right pane", 0, 1, 600.0),
        ("front pane", 1, 0, 0.0),
        ("back pane", 1, 1, 400.0),
        ("base", 2, 0, 5.0),
    ],
)
def test_snap_brings_a_piece_to_a_pane(session: Session, to: str, axis: int, side: int, place: float) -> None:
    session.turn(["high"], "z", 20.0)
    session.snap("high", to)
    low, high = session.laid.boxes[2]
    assert (low, high)[side][axis] * 1000.0 == pytest.approx(place, abs=1e-4)


def test_snap_onto_a_top(session: Session) -> None:
    session.snap("high", "top", "beside")
    x, y, z = at_mm(session, "high")
    assert (x, y) == pytest.approx((420.0, 200.0), abs=0.5)
    assert 43.0 < z < 46.0
    assert "overlaps" not in {fault.fault for fault in session.faults}
    with pytest.raises(BedjointError, match="whose top"):
        session.snap("high", "top")


def test_a_copy_has_its_own_name_and_place(session: Session) -> None:
    assert session.duplicate(["beside"]) == ["beside_2"]
    assert session.duplicate(["beside_2"]) == ["beside_3"]
    assert at_mm(session, "beside_2") == pytest.approx((294.0, 200.0, 5.0), abs=0.5)
    assert session.laid.pieces[3].body is session.laid.pieces[1].body


def test_what_is_deleted_lies_on_the_shelf_and_can_be_taken_again(session: Session) -> None:
    session.join(["low", "high"], "epoxy putty")
    session.delete(["high"])
    assert [entry.id for entry in session.laid.scene.piece] == ["low", "beside"]
    assert session.laid.scene.joint == ()
    shelf = {item.item: item for item in session.state().shelf}
    assert shelf["high"].used_by == ("low", "beside")  # the same stand-in
    assert session.take("high") == "high"
    assert session.laid.scene.piece_named("high").stand_in == session.laid.scene.piece_named("low").stand_in
    assert session.desk.shelf == ()
    with pytest.raises(BedjointError, match="not on the shelf"):
        session.take("high")


def test_what_is_discarded_comes_back_by_undo(session: Session) -> None:
    session.delete(["high"])
    session.discard("high")
    assert session.desk.shelf == ()
    session.undo()
    assert [one.item for one in session.desk.shelf] == ["high"]


def test_a_stand_in_that_cannot_be_is_refused_in_words(session: Session) -> None:
    with pytest.raises(BedjointError):
        session.add_stand_in("lead", (50, 50, 50), 90.0, rock="slate")
    with pytest.raises(BedjointError, match="rock"):
        session.add_stand_in("cheese", (50, 50, 50), 0.3, rock="gorgonzola")
    assert session.desk.shelf == ()


@pytest.mark.parametrize("name", ["../../etc/passwd", "<img src=x onerror=alert(1)>", "a\x00b", "é" * 300, "", "CON"])
def test_hostile_names_become_plain_ones(session: Session, name: str) -> None:
    item = session.add_stand_in(name, (150, 60, 50), 1.1, rock="granite")
    assert item.replace("_", "").replace("-", "").isalnum()
    assert item.isascii()
    assert len(item) <= 64
    assert session.take(item) in session.text


def test_locked_pieces_do_not_move(session: Session) -> None:
    session.lock_pieces(["high"])
    before = session.text
    for action in (
        lambda: session.move(["high"], (1, 0, 0)),
        lambda: session.turn(["high"], "x", 5.0),
        lambda: session.set_down(["high"]),
        lambda: session.delete(["high"]),
        lambda: session.snap("high", "base"),
        lambda: session.drag([PoseTo("high", at_mm=(1.0, 2.0, 3.0))]),
    ):
        with pytest.raises(BedjointError, match="locked"):
            action()
    assert session.text == before
    session.lock_pieces(["high"], locked=False)
    session.move(["high"], (1, 0, 0))


def test_a_drag_is_not_kept(session: Session) -> None:
    before, version = session.text, session.version
    dragged = session.drag([PoseTo("high", at_mm=(210.0, 205.0, 20.0))])
    assert [fault.fault for fault in dragged.faults] == ["overlaps"]
    dragged = session.drag([PoseTo("high", at_mm=(210.0, 205.0, 120.0))])
    assert [fault.fault for fault in dragged.faults] == ["hovers"]
    assert (session.text, session.version) == (before, version)


def test_modules_and_joints_come_and_go(session: Session) -> None:
    name = session.group(["low", "high"])
    assert session.state().pieces[0].module == name
    session.ungroup(name)
    session.join(["low", "high"], "epoxy putty")
    session.unjoin(["low", "high"])
    session.join(["low", "high"], kind="tie", capacity_n=50.0)
    assert session.laid.scene.joint[0].kind == "tie"
    for wrong in (lambda: session.join(["low", "high"], "jam"), lambda: session.join(["low", "nobody"], "epoxy putty")):
        before = session.text
        with pytest.raises(BedjointError):
            wrong()
        assert session.text == before


def test_the_camera_stands_where_it_is_told(session: Session) -> None:
    assert not session.state().camera.given
    session.set_camera(SetCamera(position_mm=(300.0, -800.0, 150.0), look_at_mm=(300.0, 200.0, 120.0)))
    shown = session.state().camera
    assert shown.given
    assert shown.position_mm == (300.0, -800.0, 150.0)
    session.set_camera(SetCamera(focal_mm=50.0))
    assert session.laid.scene.camera.position_mm == (300.0, -800.0, 150.0)
    session.set_camera(SetCamera(fill=True))
    assert session.laid.scene.camera.position_mm is None
    with pytest.raises(BedjointError):
        session.set_camera(SetCamera(focal_mm=-5.0))


def test_save_writes_the_file_and_never_over_another_program(session: Session) -> None:
    session.move(["high"], (1.0, 0.0, 0.0))
    assert not session.state().saved
    session.save()
    assert session.state().saved
    assert session.keeping.file.read_text() == session.text
    session.move(["high"], (1.0, 0.0, 0.0))
    session.keeping.file.write_text(session.keeping.file.read_text() + "# by hand\n")
    with pytest.raises(BedjointError, match="another program"):
        session.save()
    session.save_as("mine")
    assert session.keeping.file.name == "mine.toml"
    assert read_scene(session.keeping.file).piece_named("high").at_mm[0] == 212.0


@pytest.mark.parametrize(
    "name", ["../up.toml", "/not/here.toml", "a/b", "..", ".hidden", "a\\b", "x" * 200, "a\nb", ""]
)
def test_save_as_takes_plain_names_only(session: Session, name: str) -> None:
    with pytest.raises(BedjointError, match="plain file name"):
        session.save_as(name)


def test_save_as_asks_before_it_replaces(session: Session) -> None:
    other = session.keeping.file.with_name("other.toml")
    other.write_text("precious")
    with pytest.raises(BedjointError, match="there already"):
        session.save_as("other.toml")
    assert other.read_text() == "precious"
    session.save_as("other.toml", replace_it=True)
    assert other.read_text() == session.text


def test_a_session_that_died_comes_back_with_its_history(tmp_path: Path) -> None:
    first = Session(small_scene(tmp_path), judged=False)
    first.move(["high"], (4.0, 0.0, 0.0))
    first.hide(["low"])
    first.delete(["beside"])
    first.undo()
    text, desk = first.text, first.desk
    first.background.close()
    first.keeping._lock.release()  # what the system does when the process dies

    again = Session(tmp_path / "small.toml", judged=False)
    assert (again.text, again.desk) == (text, desk)
    assert again.state().redo == "delete beside"
    again.undo()
    again.undo()
    assert again.text == (tmp_path / "small.toml").read_text()
    again.close()


@pytest.mark.parametrize("cut", [1, 7, 40])
def test_a_line_that_was_cut_off_loses_that_change_only(tmp_path: Path, cut: int) -> None:
    first = Session(small_scene(tmp_path), judged=False)
    first.move(["high"], (4.0, 0.0, 0.0))
    kept = first.text
    first.move(["high"], (0.0, 7.0, 0.0))
    first.close()
    journal = journal_path(tmp_path / "small.toml")
    journal.write_bytes(journal.read_bytes()[:-cut])
    again = Session(tmp_path / "small.toml", judged=False)
    assert again.text == kept
    again.move(["high"], (0.0, 0.0, 1.0))
    last = again.text
    again.close()
    third = Session(tmp_path / "small.toml", judged=False)
    assert third.text == last
    third.close()


@pytest.mark.parametrize("rubbish", [b"", b"\x00\xff\n", b"{}\n", b'{"journal": 99}\n', b"[" * 5000 + b"\n"])
def test_a_journal_that_is_rubbish_is_no_reason_to_fail(tmp_path: Path, rubbish: bytes) -> None:
    file = small_scene(tmp_path)
    journal_path(file).write_bytes(rubbish)
    session = Session(file, judged=False)
    assert session.text == file.read_text()
    session.close()


def test_a_file_changed_meanwhile_wins_and_nothing_is_lost(tmp_path: Path) -> None:
    file = small_scene(tmp_path)
    first = Session(file, judged=False)
    first.move(["high"], (4.0, 0.0, 0.0))
    mine = first.text
    first.close()
    file.write_text(file.read_text().replace("level_mm = 300", "level_mm = 250"))
    told: list[object] = []
    again = Session(file, told.append, judged=False)
    assert "level_mm = 250" in again.text
    assert (tmp_path / "small.recovered_1.toml").read_text() == mine
    assert any("changed elsewhere" in str(one) for one in told)
    again.close()


def test_a_recovered_piece_whose_mesh_is_gone_is_set_aside(tmp_path: Path) -> None:
    mesh = tmp_path / "stone.stl"
    mesh.write_bytes(trimesh.creation.box((0.1, 0.06, 0.04)).export(file_type="stl"))
    first = Session(small_scene(tmp_path), judged=False)
    first.take(first.add_to_shelf("stone", {"mesh": "stone.stl", "units": "m", "rock": "granite"}))
    mine = first.text
    first.close()
    mesh.unlink()
    again = Session(tmp_path / "small.toml", judged=False)
    assert again.text == (tmp_path / "small.toml").read_text()
    assert (tmp_path / "small.recovered_1.toml").read_text() == mine
    again.close()


def test_a_clean_end_leaves_nothing_behind(tmp_path: Path) -> None:
    session = Session(small_scene(tmp_path), judged=False)
    session.move(["high"], (4.0, 0.0, 0.0))
    session.save()
    session.close()
    assert [path.name for path in tmp_path.iterdir()] == ["small.toml"]


def test_one_scene_is_open_once(tmp_path: Path) -> None:
    first = Session(small_scene(tmp_path), judged=False)
    with pytest.raises(SceneError, match="another yard"):
        Session(tmp_path / "small.toml", judged=False)
    first.close()
    Session(tmp_path / "small.toml", judged=False).close()


def test_commands_on_an_old_version_fit_or_are_refused(session: Session) -> None:
    carry_out(session, read_command('{"do": "move", "id": 1, "on": 1, "pieces": ["high"], "by_mm": [1, 0, 0]}'))
    done = carry_out(session, read_command('{"do": "move", "id": 2, "on": 1, "pieces": ["low"], "by_mm": [1, 0, 0]}'))
    assert done is not None
    assert done.version == 3
    for late in (
        '{"do": "move", "id": 3, "on": 1, "pieces": ["high"], "by_mm": [1, 0, 0]}',
        '{"do": "undo", "id": 4, "on": 2}',
        '{"do": "snap", "id": 5, "on": 2, "piece": "beside", "to": "top", "other": "low"}',
    ):
        before = session.text
        with pytest.raises(OldVersion):
            carry_out(session, read_command(late))
        assert session.text == before


def test_the_quick_verdict_comes_by_itself(tmp_path: Path) -> None:
    told: list[object] = []
    session = Session(small_scene(tmp_path), told.append)
    assert session.wait(120, "verdict")
    verdict = session.background.verdict
    assert verdict is not None
    assert verdict.verdict == "falls"
    assert verdict.first is not None
    assert verdict.first.piece == "high"
    assert verdict.first.falls
    session.set_down(["low", "beside", "high"])
    assert session.wait(120, "verdict")
    verdict = session.background.verdict
    assert (verdict.version, verdict.step, verdict.complete) == (2, "margins", True)
    assert verdict.verdict == "stands (quick)"
    assert {one.water for one in verdict.states} == {"air", "flooded"}
    margins = {one.piece: one.margin for one in verdict.pieces}
    assert all(margin is not None and margin > 0.0 for margin in margins.values())
    assert verdict.base is not None
    assert {one.piece for one in verdict.base.footings} == {"low", "beside"}
    force = sum(one.force_n for one in verdict.base.footings)
    # in the state that uses the pane most; all of the weight or what of it the water leaves
    assert 0.5 * 2.7 * 9.80665 < force < 1.01 * 2.7 * 9.80665
    assert verdict.totals.mass_kg == pytest.approx(2.7, abs=1e-6)
    steps = [one.step for one in told if isinstance(one, VerdictTold) and one.version == 2]
    assert steps[:2] == ["verdict", "loads"]
    session.close()


@pytest.fixture
def gate(monkeypatch: pytest.MonkeyPatch) -> threading.Event:
    """Surfaces are gathered only once it is open."""
    opened, stand_up = threading.Event(), bench.stand_up

    def waiting(*scene: Any) -> Any:
        assert opened.wait(60)
        return stand_up(*scene)

    monkeypatch.setattr(bench, "stand_up", waiting)
    return opened


def test_a_hurried_window_shows_stones_before_anybody_has_looked_at_them(tmp_path: Path, gate: threading.Event) -> None:
    told: list[object] = []
    session = Session(small_scene(tmp_path), told.append, hurried=True)
    first = session.state()
    assert [piece.id for piece in first.pieces] == ["low", "beside", "high"]
    assert first.faults == ()
    assert session.background.verdict is None
    gate.set()
    assert session.wait(120, "verdict")
    states = [one for one in told if isinstance(one, State)]
    assert [len(one.faults) for one in states] == [0, 1]
    assert (states[-1].version, states[-1].faults[0].fault) == (1, "hovers")
    assert session.background.verdict is not None
    assert (session.background.verdict.version, session.background.verdict.verdict) == (1, "falls")
    session.close()


@pytest.mark.parametrize("change", ["move", "save as"])
def test_a_hand_that_is_quicker_than_the_first_look_loses_nothing(
    tmp_path: Path, gate: threading.Event, change: str
) -> None:
    session = Session(small_scene(tmp_path), hurried=True)
    threading.Timer(0.3, gate.set).start()
    if change == "move":
        session.move(["beside"], (5.0, 0.0, 0.0))
    else:
        session.save_as("other.toml")
    assert words(session) == [("high", "low", "hovers")]
    assert session.wait(120, "verdict")
    verdict = session.background.verdict
    assert verdict is not None
    assert (verdict.version, verdict.complete, verdict.verdict) == (session.version, True, "falls")
    session.close()


def test_glue_shows_beside_the_dry_answer(tmp_path: Path) -> None:
    session = Session(small_scene(tmp_path), judged=False)
    session.set_down(["low", "beside", "high"])
    session.move(["high"], (50.0, 0.0, 0.0))  # it no longer touches what carried it: only glue bridges the gap
    session.fix(["low"])
    session.join(["low", "high"], "epoxy putty")
    session.judged = True
    session.move(["beside"], (20.0, 0.0, 0.0))
    assert session.wait(120, "verdict")
    verdict = session.background.verdict
    assert verdict is not None
    by = {(one.laid, one.water): one.verdict for one in verdict.states}
    assert by["dry", "air"] == "falls"
    assert by["glued", "air"] == by["glued", "flooded"] == "stands (quick)"
    assert len(by) == 4
    assert verdict.verdict == "stands (quick)", "the scene is judged as it is to be built"
    (joint,) = verdict.joints
    assert joint.utilisation is not None
    assert 0.0 < joint.utilisation < 1.0
    session.close()


def test_an_overlap_leaves_the_verdict_open(tmp_path: Path) -> None:
    session = Session(small_scene(tmp_path))
    session.move(["high"], (0.0, 0.0, -30.0))
    assert session.wait(120, "verdict")
    verdict = session.background.verdict
    assert verdict is not None
    assert verdict.verdict == "undetermined"
    assert "overlap" in verdict.reason
    session.close()


def test_check_order_and_shot_in_the_background(session: Session) -> None:
    session.set_down(["low", "beside", "high"])
    session.shoot(ShotSettings(width_px=160))
    session.check()
    session.order()
    assert session.wait(300)
    answers = session.background
    assert answers.checked is not None
    assert answers.checked.verdict in ("stands", "doubtful")
    assert answers.checked.report["verdict"] == answers.checked.verdict
    assert answers.ordered is not None
    assert answers.ordered.verdict == "stands at every step"
    assert sorted(answers.ordered.units) == ["beside", "high", "low"]
    assert answers.ordered.units.index("low") < answers.ordered.units.index("high")
    assert answers.shot is not None
    assert answers.shots.png(answers.shot.key).startswith(b"\x89PNG")
    (words,) = answers.shot.warnings  # one sentence for all edges: three low slabs hide none of those at the sides
    assert re.search(r"^Back edges show: .*left (\d+) %, right (\d+) % of their lengths", words)
    session.order(["high", "low", "beside"])
    assert session.wait(120, "order")
    assert answers.ordered.given
    assert answers.ordered.verdict == "no order"
    assert answers.ordered.fails_at == 1
    session.order(["high"])
    assert session.wait(120, "order")


def test_two_versions_beside_each_other(session: Session) -> None:
    session.keep("hovering")
    session.set_down(["low", "beside", "high"])
    session.turn(["beside"], "z", 10.0)
    session.join(["low", "high"], "epoxy putty")
    found = compared(session, "hovering")
    assert found.verdict == ("falls", "stands (quick)")
    moved = {one.piece: one for one in found.pieces}
    assert moved["high"].by_mm > 10.0
    assert moved["beside"].by_deg == pytest.approx(10.0, abs=1.0)
    assert found.joints_added == (("high", "low"),)
    assert found.glue_g[0] == 0.0 < found.glue_g[1]
    assert compared(session, "opened").pieces == found.pieces
    with pytest.raises(BedjointError, match="No version"):
        compared(session, "tomorrow")
