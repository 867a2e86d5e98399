"""`bedjoint check` as a user runs it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from click.testing import CliRunner, Result
from PIL import Image
from solids import Stack, box

from sim.cli import command

CUBE_MM = (60.0, 60.0, 60.0)


def run(stack: Stack, *options: str, code: int) -> Result:
    """Run the command; whatever the scene, it ends with a status and a message, not with a traceback."""
    return run_file(stack.write(), *options, code=code)


def run_file(scene: Path, *options: str, code: int) -> Result:
    result = CliRunner().invoke(command, ["check", str(scene), *options])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exc_info
    assert "Traceback" not in result.output
    assert result.exit_code == code, result.output
    return result


def as_json(stack: Stack, *options: str, code: int) -> dict[str, Any]:
    """The JSON report, held against the schema that the command itself prints."""
    report: dict[str, Any] = json.loads(run(stack, "--json", "--quick", *options, code=code).stdout)
    schema = json.loads(CliRunner().invoke(command, ["check", "--schema"]).stdout)
    jsonschema.Draft202012Validator(schema).validate(report)
    return report


def cube(stack: Stack, name: str, x: float, z: float, keys: str = "friction = 0.6") -> None:
    stack.put(name, box((x, 200.0, z), CUBE_MM), keys=keys)


def tower(folder: Path, over_mm: float, water: str = "level_mm = 0") -> Stack:
    """A cube on a cube, its right side over that of the lower by so much."""
    stack = Stack(folder, water=water, sheet_mm=4.0)
    cube(stack, "lower", 300.0, 0.0)
    cube(stack, "upper", 300.0 + over_mm, 60.0)
    return stack


def cantilever(folder: Path, joint: str, over_mm: float = 40.0, gap_mm: float = 0.0) -> Stack:
    """An upper cube whose centre hangs outside the lower one, held by one joint."""
    stack = Stack(folder, sheet_mm=4.0)
    stack.put("lower", box((300.0, 200.0, 0.0), (160.0, 60.0, 60.0)), keys="friction = 0.6")
    cube(stack, "upper", 300.0 + 100.0 + over_mm, 60.0 + gap_mm)
    stack.settings = f"[[joint]]\nbetween = ['upper', 'lower']\n{joint}\n"
    return stack


def test_what_stands_ends_with_0_and_says_how_far(tmp_path: Path) -> None:
    out = run(tower(tmp_path, 0.0), "--quick", code=0).stdout
    assert out.startswith("stands (quick)")
    assert "tilted 27 degrees" in out  # two cubes: atan(1/2) is 26.565
    assert "without the dynamic trial" in out
    assert "2 pieces, 1.17 kg" in out


def test_a_single_piece_that_all_judges_hear(tmp_path: Path) -> None:
    stack = Stack(tmp_path, sheet_mm=4.0)
    cube(stack, "only", 300.0, 0.0)
    stack.settings = "[check]\ntrials = 1\ncopies = 1\n"
    report = json.loads(run(stack, "--json", code=0).stdout)
    assert report["verdict"] == "stands"
    assert report["quick"] is False
    (state,) = report["states"]
    assert state["equilibrium"]["critical_tilt_deg"] == pytest.approx(30.964, abs=0.1)  # atan(0.6)
    assert state["robust"]["copies"] == 1
    assert state["trial"]
    assert all(one["survived"] for one in state["trial"])


def test_what_falls_ends_with_1_and_names_the_piece(tmp_path: Path) -> None:
    stack = tower(tmp_path, 40.0)
    out = run(stack, "--quick", code=1).stdout
    assert out.startswith("falls")
    assert "Upper tips to the right" in out
    report = as_json(stack, code=1)
    assert report["verdict"] == "falls"
    assert report["states"][0]["moving"] == ["upper"]
    assert report["footprints"] == []


def test_bad_input_ends_with_2(tmp_path: Path) -> None:
    missing = run_file(tmp_path / "none.toml", code=2)
    assert "there is no such file" in missing.output
    broken = tmp_path / "broken.toml"
    broken.write_text("format = 1\n[tank]\ninner_mm = [900, 450]\n")
    run_file(broken, code=2)
    run(tower(tmp_path, 0.0), "--state", "foggy", code=2)
    stack = tower(tmp_path, 0.0)
    (tmp_path / "upper.ply").write_text("no mesh at all")
    assert "upper.ply" in run_file(stack.folder / "scene.toml", code=2).output


def test_json_validates_against_the_schema_and_agrees_with_the_text(tmp_path: Path) -> None:
    stack = tower(tmp_path, 10.0, water="level_mm = 300")
    report = as_json(stack, code=0)
    assert [(state["laid"], state["water"]) for state in report["states"]] == [
        ("dry", "air"), ("dry", "partial"), ("dry", "flooded"), ("dry", "drained"),
    ]  # fmt: skip
    assert [piece["id"] for piece in report["pieces"]] == ["lower", "upper"]
    assert report["total"]["mass_kg"] == pytest.approx(2 * 0.06**3 * 2700, rel=1e-9)
    assert report["total"]["centre_mm"] == pytest.approx([335.0, 230.0, 64.0])
    assert report["total"]["displaced_ml"] == pytest.approx(432.0)
    (foot,) = report["footprints"]
    assert foot["piece"] == "lower"
    assert foot["area_mm2"] == pytest.approx(3600.0, rel=0.01)
    assert report["states"][report["governing"]]["verdict"] == report["verdict"]
    assert report["cautions"][0].startswith("This is an estimate and no certification")
    assert report["inputs_assumed"][0] == "glass unknown: taken as annealed"


def test_the_schema_is_one_and_refuses_what_is_no_report() -> None:
    schema = json.loads(CliRunner().invoke(command, ["check", "--schema"]).stdout)
    jsonschema.Draft202012Validator.check_schema(schema)
    assert not jsonschema.Draft202012Validator(schema).is_valid({"verdict": "stands"})


def test_only_the_states_asked_for(tmp_path: Path) -> None:
    stack = tower(tmp_path, 0.0, water="level_mm = 300")
    report = as_json(stack, "--state", "air", "--state", "flooded", code=0)
    assert [state["water"] for state in report["states"]] == ["air", "flooded"]
    assert report["states_left_out"] == ["partial", "drained"]
    text = run(stack, "--quick", "--state", "air", code=0).stdout
    assert text.startswith("stands (quick) (in air only)")


def test_a_state_that_a_dry_tank_never_has_is_no_pass(tmp_path: Path) -> None:
    report = as_json(tower(tmp_path, 0.0), "--state", "flooded", code=1)
    assert report["states"] == []
    assert report["verdict"] == "undetermined"
    assert report["governing"] is None


def test_dry_laid_leaves_the_glue_out(tmp_path: Path) -> None:
    stack = cantilever(tmp_path, "glue = 'epoxy putty'")
    glued = as_json(stack, code=0)
    assert glued["verdict"] == "stands (quick)"
    assert glued["dry_laid"]["verdict"] == "falls"
    (joint,) = glued["joints"]
    assert joint["verdict"] == "holds"
    assert 0.0 < joint["utilisation"] < 1.0
    dry = as_json(stack, "--dry-laid", code=1)
    assert dry["verdict"] == "falls"
    assert {state["laid"] for state in dry["states"]} == {"dry"}
    assert "Without its glue: falls" in run(stack, "--quick", code=0).stdout


def test_picture_is_a_png(tmp_path: Path) -> None:
    picture = tmp_path / "margins.png"
    out = run(tower(tmp_path, 40.0), "--quick", "--picture", str(picture), code=1).stdout
    assert f"Drawn: {picture}" in out
    with Image.open(picture) as image:
        assert image.format == "PNG"
        assert min(image.size) > 400
        assert len(image.convert("RGB").getcolors(maxcolors=1_000_000) or []) > 20


def test_a_picture_that_cannot_be_written_ends_with_2(tmp_path: Path) -> None:
    (tmp_path / "no_folder").write_text("")
    result = run(tower(tmp_path, 0.0), "--quick", "--picture", str(tmp_path / "no_folder" / "x.png"), code=2)
    assert "x.png" in result.output


@pytest.mark.parametrize("deep_mm", [0.05, 0.5, 12.0])
def test_an_overlap_is_named_with_its_depth(tmp_path: Path, deep_mm: float) -> None:
    stack = Stack(tmp_path, sheet_mm=4.0)
    cube(stack, "lower", 300.0, 0.0)
    cube(stack, "upper", 310.0, 60.0 - deep_mm)
    out = run(stack, "--quick", code=1).stdout
    assert out.startswith("undetermined")
    assert f"overlap by {deep_mm:.2g} mm" in out
    assert "bedjoint settle" in out
    report = as_json(stack, code=1)
    (fault,) = report["misplaced"]
    assert {fault["piece"], fault["other"]} == {"lower", "upper"}
    assert fault["by_mm"] == pytest.approx(deep_mm, rel=0.05)


def test_an_overlap_with_the_base_is_named(tmp_path: Path) -> None:
    stack = Stack(tmp_path, sheet_mm=4.0)
    cube(stack, "sunk", 300.0, -3.0)
    out = run(stack, "--quick", code=1).stdout
    assert out.startswith("undetermined")
    assert "sunk and base overlap by 3 mm" in out


@pytest.mark.parametrize("gap_mm", [0.1, 7.0])
def test_a_piece_that_hovers_is_named_with_its_gap(tmp_path: Path, gap_mm: float) -> None:
    stack = Stack(tmp_path, sheet_mm=4.0)
    cube(stack, "lower", 300.0, 0.0)
    cube(stack, "upper", 310.0, 60.0 + gap_mm)
    out = run(stack, "--quick", code=1).stdout
    assert out.startswith("falls")
    assert f"hovers {gap_mm:.2g} mm from lower" in out
    assert "bedjoint settle" in out


def test_a_piece_outside_the_tank(tmp_path: Path) -> None:
    stack = tower(tmp_path, 0.0)
    cube(stack, "stray", 1200.0, 0.0)
    out = run(stack, "--quick", code=1).stdout
    assert out.startswith("undetermined")
    assert "stray lies outside the tank, beyond the right pane" in " ".join(out.split()).lower()


@pytest.mark.parametrize("aside_mm", [0.0, 0.01])
def test_two_pieces_in_the_same_place_never_stand(tmp_path: Path, aside_mm: float) -> None:
    stack = Stack(tmp_path, sheet_mm=4.0)
    cube(stack, "one", 300.0, 0.0)
    cube(stack, "two", 300.0 + aside_mm, 0.0)
    assert "overlap" in run(stack, "--quick", code=1).stdout


def test_an_empty_scene_is_undetermined(tmp_path: Path) -> None:
    report = as_json(Stack(tmp_path), code=1)
    assert report["verdict"] == "undetermined"
    assert "no pieces" in report["reason"]
    assert report["total"] == {"mass_kg": 0.0, "centre_mm": None, "displaced_ml": 0.0}
    picture = tmp_path / "empty.png"
    run(Stack(tmp_path), "--quick", "--picture", str(picture), code=1)
    assert picture.exists()


def test_only_fixed_pieces(tmp_path: Path) -> None:
    stack = Stack(tmp_path, sheet_mm=4.0)
    cube(stack, "shelf", 300.0, 120.0, keys="fixed = true")
    assert as_json(stack, code=0)["verdict"] == "stands (quick)"


def test_without_friction_there_is_no_margin(tmp_path: Path) -> None:
    stack = Stack(tmp_path, sheet_mm=4.0)
    cube(stack, "lower", 300.0, 0.0, keys="friction = 0.0")
    cube(stack, "upper", 300.0, 60.0, keys="friction = 0.0")
    report = as_json(stack, code=0)  # level faces need none; what shakes it is for the slow judges
    margins = report["states"][0]["equilibrium"]
    assert margins["critical_tilt_deg"] == pytest.approx(0.0, abs=1e-3)
    assert margins["least_push_n"] == pytest.approx(0.0, abs=1e-3)
    assert any("comes down at a tilt of" in caution for caution in report["cautions"])
    stack.settings = "[check]\ntrials = 1\ncopies = 1\n"
    assert run(stack, code=1).stdout.startswith("doubtful")


def test_light_wood_floats_when_flooded(tmp_path: Path) -> None:
    stack = Stack(tmp_path, water="level_mm = 300")
    cube(stack, "stone", 300.0, 0.0)
    cube(stack, "stump", 500.0, 0.0)
    stack.entries[1] = stack.entries[1].replace("rock = 'granite'", "wood = 'driftwood'").replace("2700", "625")
    report = as_json(stack, code=1)
    verdicts = {state["water"]: state["verdict"] for state in report["states"]}
    assert verdicts["air"] == verdicts["drained"] == "stands (quick)"
    assert verdicts["flooded"] == "falls"
    assert "stump floats" in report["reason"]


def test_a_joint_too_far_apart_is_undetermined(tmp_path: Path) -> None:
    stack = Stack(tmp_path, sheet_mm=4.0)
    cube(stack, "left", 300.0, 0.0)
    cube(stack, "right", 450.0, 0.0)
    stack.settings = "[[joint]]\nbetween = ['left', 'right']\nglue = 'epoxy putty'\n"
    report = as_json(stack, code=1)
    assert report["verdict"] == "undetermined"
    assert "90.0 mm apart" in report["reason"]
    assert report["joints"][0]["verdict"] == "undetermined"
    assert as_json(stack, "--dry-laid", code=0)["verdict"] == "stands (quick)"


def test_a_tie_that_nobody_knows_the_strength_of_is_undetermined(tmp_path: Path) -> None:
    report = as_json(cantilever(tmp_path, "kind = 'tie'"), code=1)
    assert report["verdict"] == "undetermined"
    assert "capacity_n" in report["reason"]
    assert report["dry_laid"]["verdict"] == "falls"


def test_glue_that_is_too_weak_breaks(tmp_path: Path) -> None:
    stack = cantilever(tmp_path, "glue = 'epoxy putty'\narea_mm2 = 1.0\nat_mm = [450, 230, 60]")
    report = as_json(stack, code=1)
    assert report["verdict"] == "falls"
    assert "the joint breaks at upper - lower" in report["reason"]
    assert report["joints"][0]["verdict"] == "breaks"


def test_the_same_scene_gives_the_same_bytes(tmp_path: Path) -> None:
    stack = tower(tmp_path, 10.0)
    assert run(stack, "--quick", "--json", code=0).stdout == run(stack, "--quick", "--json", code=0).stdout
