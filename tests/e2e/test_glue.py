"""`bedjoint glue`: what joints carry, and joints suggested for stacks of generated and of scanned stones.

The stacks are set down against props, which are then taken away: dry-laid they come down.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from boxes import FLOOR_MM, HEAD, box_entry
from click.testing import CliRunner
from scan_stacks import PROP, STACKS, TANK, import_stones, pieces_of, settle_and_unprop

from sim.cli import command
from sim.glue import Tilts
from sim.pieces.placing import place_pieces
from sim.scene import read_document, read_scene, remove_joints, save
from sim.states import set_stage, waters_of

SCANNED = tuple(stack for stack in STACKS if stack.props)
GENERATED = {  # seed: how far the lintel reaches out over the foot, mm
    1: 95.0,
    2: 100.0,
    3: 105.0,
    4: 110.0,
}
STONE = """
[[piece]]
id = "{id}"
generate = {{ shape = "{shape}", seed = {seed}, size_mm = {size}, faces = 1500 }}
rock = "{rock}"
at_mm = {at}
"""


def _run(*arguments: str) -> tuple[int, str]:
    done = CliRunner().invoke(command, ["glue", *arguments])
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return done.exit_code, done.stdout


def _generated(seed: int) -> str:
    """A foot, a lintel that reaches out over it as far as its centre and more, and stones on both ends."""
    text = TANK.format(title=f"lintel {seed}") + PROP.format(id="prop_1", size=[30, 90, 62], at=[420, 200, 0])
    stones = (
        ("foot", "block", [170, 130, 60], [240, 200, 1.0]),
        ("lintel", "lintel", [230, 70, 28], [240 + GENERATED[seed], 200, 66.0]),
        ("tip", "slab", [80, 70, 22], [380, 200, 98.0]),
        ("back", "slab", [90, 80, 22], [290, 200, 98.0]),
    )
    for k, (name, shape, size, at) in enumerate(stones):
        text += STONE.format(id=name, shape=shape, seed=10 * seed + k, size=size, at=at, rock="limestone")
    return text


@dataclass(frozen=True, slots=True)
class Suggested:
    """What the command made of a stack that falls."""

    scene: Path
    glued: Path
    answer: dict[str, Any]
    code: int


def _suggested(text: str, folder: Path) -> Suggested:
    scene, glued = folder / "settled.toml", folder / "glued.toml"
    settle_and_unprop(text, 1, folder, scene)
    code, printed = _run(str(scene), "--suggest", "-o", str(glued), "--json")
    return Suggested(scene, glued, json.loads(printed), code)


@pytest.fixture(scope="module")
def suggested(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory, stones: dict[tuple[str, float], Path]
) -> Suggested:
    kind, number = request.param
    text = _generated(number) if kind == "generated" else pieces_of(SCANNED[number], stones)
    return _suggested(text, tmp_path_factory.mktemp("stack"))


@pytest.fixture(scope="module")
def stones(scans: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[tuple[str, float], Path]:
    return import_stones(scans, tmp_path_factory.mktemp("stones"), SCANNED)


CASES = [("generated", seed) for seed in GENERATED] + [("scanned", k) for k in range(len(SCANNED))]


def test_there_are_ten() -> None:
    assert len(CASES) >= 10


@pytest.mark.slow
@pytest.mark.parametrize("suggested", CASES, ids=lambda case: f"{case[0]}-{case[1]}", indirect=True)
def test_joints_hold_a_stack_and_none_of_them_is_spare(suggested: Suggested) -> None:
    answer = suggested.answer
    assert not answer["stands_dry"]
    if answer["verdict"] == "no joints hold it":
        assert answer["reason"]
        assert suggested.code == 1
        assert not suggested.glued.exists()
        return
    assert answer["verdict"] in ("holds", "holds less")
    assert suggested.code == (0 if answer["verdict"] == "holds" else 1)
    assert bool(answer["reason"]) == (answer["verdict"] == "holds less")
    assert _holds(suggested.glued, answer["tilt_deg"])
    for joint in answer["joints"]:
        fewer = suggested.glued.with_name("fewer.toml")
        document = read_document(suggested.glued)
        assert remove_joints(document, joint["between"]) == 1
        save(document, fewer)
        assert not _holds(fewer, answer["tilt_deg"]), joint["between"]


def _holds(file: Path, tilt_deg: float) -> bool:
    scene = read_scene(file)
    pieces = place_pieces(scene)
    stage = set_stage(scene, pieces)
    return not Tilts(stage, waters_of(scene, pieces), tilt_deg, 16).failures(stage.declared.joints, 1)


@pytest.fixture
def bracket(tmp_path: Path) -> Path:
    """A beam that reaches out from a wall, with a strut: three joints, each of which is needed."""
    entries = [
        box_entry(tmp_path, "wall", (150, 150, 200), (150, 200, FLOOR_MM)),
        box_entry(tmp_path, "strut", (40, 40, 60), (245, 200, FLOOR_MM + 80)),
        box_entry(tmp_path, "beam", (170, 60, 60), (310, 200, FLOOR_MM + 140)),
    ]
    joints = ""
    for a, b, area_mm2 in (("wall", "strut", 1500), ("strut", "beam", 1500), ("wall", "beam", 1200)):
        joints += f'[[joint]]\nbetween = ["{a}", "{b}"]\nglue = "epoxy putty"\nfit = "sawn"\narea_mm2 = {area_mm2}\n'
    scene = tmp_path / "bracket.toml"
    scene.write_text(HEAD.replace("level_mm = 300", "level_mm = 0") + "".join(entries) + joints)
    return scene


def test_joints_are_listed_with_what_they_carry_and_take(bracket: Path) -> None:
    code, printed = _run(str(bracket), "--json")
    answer = json.loads(printed)
    assert code == 0, printed
    assert len(answer["joints"]) == 3
    for joint in answer["joints"]:
        assert joint["verdict"] == "holds"
        assert 0.0 < joint["utilisation"] <= 1.0
        assert joint["mass_g"] > 0.0
    assert answer["glue"][0]["mass_g"] == pytest.approx(sum(joint["mass_g"] for joint in answer["joints"]))
    assert "epoxy putty" in _run(str(bracket))[1]


def test_options_that_need_a_suggestion(bracket: Path) -> None:
    assert _run(str(bracket), "--tilt", "10")[0] == 2
    done = CliRunner().invoke(command, ["glue", str(bracket), "--suggest", "--only", "chewing gum"])
    assert done.exit_code == 2
    assert "chewing gum" in done.output


def test_a_scene_goes_where_its_meshes_are(bracket: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    other = tmp_path_factory.mktemp("other") / "glued.toml"
    done = CliRunner().invoke(command, ["glue", str(bracket), "--suggest", "-o", str(other)])
    assert done.exit_code != 0
    assert not other.exists()
