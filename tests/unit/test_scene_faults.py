"""Each fault: where it is, what is wrong, what is allowed. All of them at once."""

from __future__ import annotations

import re

import pytest

from sim.errors import Fault, SceneError
from sim.scene import parse_scene

SCENE = """\
format = 1
[tank]
inner_mm = [900, 450, 450]
base_mm = 10
side_mm = 10
[water]
level_mm = 400
[camera]
position_mm = [450, -1200, 260]
look_at_mm = [450, 225, 200]
focal_mm = 35
[[piece]]
id = "pier_1"
mesh = "pier_1.ply"
rock = "limestone"
at_mm = [250, 200, 0]
[[piece]]
id = "ledge_4"
stand_in = { size_mm = [120, 80, 35], mass_kg = 0.9 }
rock = "slate"
at_mm = [250, 200, 60]
turn_deg = [0, 0, 35]
[[joint]]
between = ["pier_1", "ledge_4"]
glue = "epoxy putty"
"""


def faults_of(text: str) -> list[Fault]:
    with pytest.raises(SceneError) as caught:
        parse_scene(text, "s.toml")
    return caught.value.faults


def only_fault(text: str) -> Fault:
    faults = faults_of(text)
    assert len(faults) == 1, faults
    return faults[0]


def test_the_scene_itself_has_none() -> None:
    assert len(parse_scene(SCENE).piece) == 2


# old text, new text, place and line, part of the problem, part of the remedy
CHANGES = [
    ("format = 1\n", "format = 2\n", "format (line 1)", "2 is not known", "format = 1"),
    ("format = 1\n", "", "format", "missing", "version"),
    ("inner_mm", "iner_mm", None, None, None),
    ("[900, 450, 450]", "[900, 450]", "tank.inner_mm[3] (line 3)", "missing", "Add"),
    ("[900, 450, 450]", "[900, 450, 450, 1]", "tank.inner_mm (line 3)", "4 given", "at most 3"),
    ("[900, 450, 450]", "[900, 450, 5001]", "tank.inner_mm[3] (line 3)", "5001", "50 to 5000 mm"),
    ("[900, 450, 450]", "[49.9, 450, 450]", "tank.inner_mm[1] (line 3)", "49.9", "50 to 5000 mm"),
    ("[900, 450, 450]", "[-900, 450, 450]", "tank.inner_mm[1] (line 3)", "-900", "50 to 5000 mm"),
    ("base_mm = 10", "base_mm = nan", "tank.base_mm (line 4)", "nan", "plain number"),
    ("side_mm = 10", 'side_mm = "10"', "tank.side_mm (line 5)", '"10" is not a number', "number"),
    ("side_mm = 10", 'side_mm = 10\nsupport = "rims"', "tank.support (line 6)", '"rims"', 'mean "rim"'),
    ("side_mm = 10", 'side_mm = 10\nsupport = "mat"', "tank.mat", "missing", "thickness_mm"),
    ("side_mm = 10", "side_mm = 10\nbrace_mm = 225", "tank.brace_mm (line 6)", "no opening", "less than 225"),
    ("side_mm = 10", "side_mm = 10\nopening_mm = [901, 400]", "tank.opening_mm[1] (line 6)", "901", "most 900"),
    ("side_mm = 10", 'side_mm = 10\nunder_stones = { kind = "grid" }', "tank.under_stones", "missing", "mm"),
    ("level_mm = 400", "level_mm = 451", "water.level_mm (line 7)", "tank 450 mm high", "0 to 450"),
    ("level_mm = 400", "level_mm = -1", "water.level_mm (line 7)", "-1", "0 to 5000 mm"),
    ("level_mm = 400", "levle_mm = 400", "water.levle_mm (line 7)", "unknown key", '"level_mm"'),
    ("level_mm = 400", "focal_mm = 400", "water.focal_mm (line 7)", "unknown key", "[camera]"),
    ("[450, 225, 200]", "[450, -1200, 260]", "camera.look_at_mm (line 10)", "where it stands", "inside"),
    ("focal_mm = 35", "focal_mm = 0", "camera.focal_mm (line 11)", "0 is out of range", "more than 0"),
    ("focal_mm = 35", 'focal_mm = 35\n"odd key" = 1', 'camera."odd key" (line 12)', "unknown key", "Allowed here"),
    ('"pier_1"\nmesh', '"ledge_4"\nmesh', None, None, None),
    ('id = "ledge_4"', 'id = "pier_1"', None, None, None),
    ('id = "ledge_4"', 'id = ""', None, None, None),
    ('mesh = "pier_1.ply"\n', "", 'piece[1] "pier_1" (line 12)', "looks like", "exactly one of mesh"),
    ('"pier_1.ply"', '"pier_1.docx"', 'piece[1] "pier_1".mesh (line 14)', "docx", ".stl"),
    ("stand_in = {", 'mesh = "a.stl"\nstand_in = {', 'piece[2] "ledge_4" (line 17)', "together", "exactly one"),
    ('rock = "slate"', 'rock = "slate"\nscale = 2', 'piece[2] "ledge_4".scale (line 21)', "belongs to a mesh", "out"),
    ('rock = "slate"', 'rock = "slate"\nmass_kg = 2', 'piece[2] "ledge_4".mass_kg (line 21)', "stand_in", "out"),
    ('rock = "slate"\n', "", 'piece[2] "ledge_4" (line 17)', "how heavy", "rock or wood"),
    ('rock = "limestone"\n', "", 'piece[1] "pier_1" (line 12)', "how heavy", "mass_kg"),
    ('rock = "limestone"', "mass_in_water_kg = 1", 'piece[1] "pier_1".mass_in_water_kg (line 15)', "without", "both"),
    ('rock = "limestone"', "mass_kg = 1\nmass_in_water_kg = 1", 'piece[1] "pier_1".mass_in_water_kg (line 16)',
     "not less than 1 kg", "again"),
    ('rock = "limestone"', "mass_kg = 1\ndensity_kg_m3 = 2600", 'piece[1] "pier_1".mass_kg (line 15)', "beside", "one"),
    ("[120, 80, 35]", "[120, -80, 35]", 'piece[2] "ledge_4".stand_in.size_mm[2] (line 19)', "-80",
     "more than 0, at most 5000 mm"),
    ("mass_kg = 0.9", "mass_kg = 0", 'piece[2] "ledge_4".stand_in.mass_kg (line 19)', "0", "more than 0"),
    ("[250, 200, 60]", "[250, inf, 60]", 'piece[2] "ledge_4".at_mm[2] (line 21)', "inf", "plain number"),
    ("[250, 200, 60]", "[250, 1e9, 60]", 'piece[2] "ledge_4".at_mm[2] (line 21)', "1000000000.0", "-20000 to 20000 mm"),
    ("[0, 0, 35]", "[0, 0, 35]\nquaternion = [1, 0, 0, 0]", 'piece[2] "ledge_4".quaternion (line 23)', "beside", "one"),
    ("turn_deg = [0, 0, 35]", "quaternion = [1, 1, 0, 0]", 'piece[2] "ledge_4".quaternion (line 22)', "1.4", "length"),
    ("turn_deg = [0, 0, 35]", "fixed = 1", 'piece[2] "ledge_4".fixed (line 22)', "true or false", "true or false"),
    ("turn_deg = [0, 0, 35]", "friction = -0.1", 'piece[2] "ledge_4".friction (line 22)', "-0.1", "0 to 100"),
    ('["pier_1", "ledge_4"]', '["pier_1", "ledge_5"]', "joint[1].between[2] (line 24)", '"ledge_5"', 'mean "ledge_4"'),
    ('["pier_1", "ledge_4"]', '["pier_1", "pier_1"]', "joint[1].between (line 24)", "to itself", "different"),
    ('glue = "epoxy putty"', "", "joint[1].glue", "missing", "Name the glue"),
    ('glue = "epoxy putty"', 'kind = "tie"\nglue = "epoxy putty"', "joint[1].glue (line 26)", "a tie has none", "out"),
    ('glue = "epoxy putty"', 'glue = "epoxy putty"\ncapacity_n = 5', "joint[1].capacity_n (line 26)", "tie", "out"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "where", "problem", "remedy"), [row for row in CHANGES if row[2]])
def test_one_change_is_one_fault(old: str, new: str, where: str, problem: str, remedy: str) -> None:
    assert SCENE.count(old) >= 1
    fault = only_fault(SCENE.replace(old, new, 1))
    place, _, line = where.partition(" (")
    assert fault.path.startswith(place), fault
    assert not line or fault.path == where
    assert problem in fault.problem
    assert remedy in fault.remedy


# appended text, place without its line, part of the problem
ADDITIONS = [
    ('[[piece]]\nid = "pier_1"\nmesh = "a.stl"\nrock = "slate"\nat_mm = [0, 0, 0]', 'piece[3] "pier_1".id',
     "used twice"),
    ('[[module]]\nid = "pier_1"\npieces = ["pier_1", "ledge_4"]', 'module[1] "pier_1".id', "used twice"),
    ('[[module]]\nid = "m"\npieces = ["pier_1", "pier_2"]', 'module[1] "m".pieces[2]', 'no piece "pier_2"'),
    ('[[module]]\nid = "m"\npieces = ["pier_1", "pier_1"]', 'module[1] "m".pieces[2]', "named twice"),
    ('[[module]]\nid = "m"\npieces = ["pier_1"]', 'module[1] "m".pieces', "1 given"),
    ('[[rule]]\nbefore = ["pier_1", "ledge_9"]', "rule[1].before[2]", 'no piece or module "ledge_9"'),
    ("[[rule]]", "rule[1]", "empty"),
    ('[[rule]]\nbefore = ["pier_1", "ledge_4"]\nafter = ["ledge_4", "pier_1"]', "rule[1]", "both before and after"),
    ('[[rule]]\nbefore = ["pier_1", "pier_1"]', "rule[1].before", "against itself"),
    ('[[joint]]\nbetween = ["ledge_4", "pier_1"]\nglue = "epoxy putty"', "joint[2].between", "joint[1] already"),
    ('[[friction]]\nbetween = ["pier_1", "ledge_4"]\ndry = 0.5\nwet = -1', "friction[1].wet", "-1"),
    ('[[friction]]\nbetween = ["pier_1", "limestome"]\ndry = 0.5', "friction[1].between[2]", "neither a piece"),
    ("[ground]\nlayers = [{ material = \"sand\", front_mm = 20 }]", "ground.layers[1]", "no thickness"),
    ("[ground]\nlayers = [{ material = \"sand\", front_mm = 20, back_mm = 460 }]", "ground.layers", "460 mm"),
    ("[ground]\nlayers = [{ material = \"sand\", height_map_mm = [[1, 2], [3]] }]", "ground.layers[1].height_map_mm",
     "not a grid"),
    ("[background]\ntop = \"blue\"", "background.top", '"blue" cannot be used'),
    ("[background]\ntop = \"#ffffff\"\nimage = \"a.png\"", "background.image", "beside top"),
    ("[prices]\npacks = { \"epoxy putty\" = { price = 3 } }", 'prices.packs."epoxy putty"', "content"),
    ("[budget]\ntotal = -1", "budget.total", "-1"),
    ("[check]\nseed = 1.5", "check.seed", "not a whole number"),
    ("[expect]\nverdict = \"stand\"", "expect.verdict", '"stand" is not known'),
    ("[expect]\nverdict = \"stands\"\nmoving = [\"pier_7\"]", "expect.moving[1]", 'no piece "pier_7"'),
    ("[tanc]\n", "tanc", "unknown key"),
]  # fmt: skip


@pytest.mark.parametrize(("more", "where", "problem"), ADDITIONS)
def test_one_addition_is_one_fault(more: str, where: str, problem: str) -> None:
    fault = only_fault(SCENE + more + "\n")
    assert fault.path.split(" (line")[0] == where
    assert re.search(r"\(line \d+\)$", fault.path)
    assert problem in fault.problem


def test_rules_that_run_in_a_circle_are_named() -> None:
    third = '[[piece]]\nid = "cap"\nmesh = "a.stl"\nrock = "slate"\nat_mm = [0, 0, 0]\n'
    rules = '[[rule]]\nbefore = ["pier_1", "ledge_4"]\n[[rule]]\nbefore = ["ledge_4", "cap"]\n'
    parse_scene(SCENE + third + rules)
    fault = only_fault(SCENE + third + rules + '[[rule]]\nafter = ["pier_1", "cap"]\n')
    assert {name for name in ("pier_1", "ledge_4", "cap") if name in fault.problem} == {"pier_1", "ledge_4", "cap"}
    assert "contradict" in fault.problem


def test_a_module_cannot_be_set_around_another_piece() -> None:
    third = '[[piece]]\nid = "cap"\nmesh = "a.stl"\nrock = "slate"\nat_mm = [0, 0, 0]\n'
    module = '[[module]]\nid = "m"\npieces = ["pier_1", "cap"]\n'
    rules = '[[rule]]\nbefore = ["pier_1", "ledge_4"]\n[[rule]]\nbefore = ["ledge_4", "cap"]\n'
    assert "m" in only_fault(SCENE + third + module + rules).problem
    inside = '[[rule]]\nbefore = ["pier_1", "cap"]\n'
    parse_scene(SCENE + third + module + inside)


def test_a_fixed_piece_is_no_part_of_a_module_and_no_piece_of_two() -> None:
    text = SCENE.replace("at_mm = [250, 200, 0]", "at_mm = [250, 200, 0]\nfixed = true")
    module = '[[module]]\nid = "{}"\npieces = ["pier_1", "ledge_4"]\n'
    assert "fixed" in only_fault(text + module.format("m")).problem
    problems = [fault.problem for fault in faults_of(SCENE + module.format("m") + module.format("n"))]
    assert len(problems) == 2
    assert all("already belongs to module[1]" in problem for problem in problems)


def test_every_fault_is_told_at_once_in_the_order_of_the_file() -> None:
    text = SCENE
    for old, new in [
        ("inner_mm = [900", 'inner_mm = ["900"'),
        ("base_mm", "bace_mm"),
        ("focal_mm = 35", "focal_mm = -35"),
        ('id = "pier_1"', 'id = "pier 1"'),
        ("[250, 200, 60]", "[250, 200]"),
        ('["pier_1", "ledge_4"]', '["pier_3", "ledge_4"]'),
        ('"epoxy putty"', '7'),
    ]:  # fmt: skip
        text = text.replace(old, new, 1)
    paths = [fault.path for fault in faults_of(text)]
    assert paths == [
        "tank.base_mm (line 2)",
        "tank.inner_mm[1] (line 3)",
        "tank.bace_mm (line 4)",
        "camera.focal_mm (line 11)",
        'piece[1] "pier 1".id (line 13)',
        'piece[2] "ledge_4".at_mm[3] (line 21)',
        "joint[1].between[1] (line 24)",
        "joint[1].glue (line 25)",
    ]


def test_the_words_are_ours() -> None:
    text = SCENE.replace("base_mm = 10", 'base_mm = "x"').replace("level_mm", "levl").replace("[250, 200, 0]", "7")
    for fault in faults_of(text):
        assert not re.search(r"pydantic|http|Input should|validation|Extra inputs|valid tuple", str(fault))


@pytest.mark.parametrize(
    ("text", "place", "problem"),
    [
        ("format = 1\n[tank\n", "line 2, column 6", "not valid TOML"),
        ("format = 1\nformat = 1\n", "line 2, column 11", "already there"),
        ("format = 1\n[tank]\n[tank]\n", "line 3, column 6", "section that is already there"),
        ("format 1\n", "line 1, column 8", "without ="),
        ("format = one\n", "line 1, column 10", "does not know"),
        ("format = [1, 2\n", "end of the file", "bracket"),
        ("format = 1 2\n", "line 1, column 12", "left over"),
        ("format = " + "[" * 5000, "", "nested too deeply"),
        ("format = " + "9" * 5000, "", "not valid TOML"),
        ("", "", "empty"),
        (" \n\n", "", "empty"),
    ],
)
def test_what_is_not_toml_says_where(text: str, place: str, problem: str) -> None:
    fault = only_fault(text)
    assert fault.path == place
    assert problem in fault.problem


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("format = 1\ntank = 3\n", "tank (line 2)"),
        ("format = 1\npiece = 3\n", "piece (line 2)"),
        ("format = 1\npiece = [1]\n", "piece[1] (line 2)"),
        ("format = 1\njoint = { between = 1 }\n", "joint (line 2)"),
        ("format = 1\n[prices]\nper_kg = 3\n", "prices.per_kg (line 3)"),
        ("format = 1\n[ground]\nlayers = 3\n", "ground.layers (line 3)"),
        ("format = 1\nrule = [[1], 2]\n", "rule[1] (line 2)"),
        ("format = true\n", "format (line 1)"),
        ("format = 1979-05-27\n", "format (line 1)"),
    ],
)
def test_the_wrong_kind_of_value_anywhere_is_a_fault_there(text: str, place: str) -> None:
    assert place in [fault.path for fault in faults_of(text)]


def test_very_many_faults_are_cut_short_and_counted() -> None:
    faults = faults_of("format = 1\n[tank]\n" + "".join(f"k{number} = 1\n" for number in range(300)))
    assert len(faults) == 201
    assert "and 103 more" in faults[-1].problem  # 300 unknown keys and 3 missing ones
