"""`bedjoint sources` on rows of known outcome: verdicts, exit status, JSON, and the block of a README."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

import sim.published
from sim.cli import command
from sim.errors import SolverError
from sim.published import BY_HAND, FUNCTION, SCENE, Outcome, Row, Subject, compute, printing
from sim.published.laying import box, edge, prism, ring_sector
from sim.published.row import amount, errs_low, share


def row(what: str, ours: float, published: str = "2.50", how: str = FUNCTION) -> Row:
    made = FUNCTION if how == FUNCTION else SCENE
    near = share(0.01, "rounding")
    return Row("Somebody 1900, Book", "table 1", what, "MPa", published, near, "from memory", made, lambda: ours)


def broken() -> float:
    raise SolverError("no answer")


GOOD = Subject("Good", (row("first", 2.51), row("second", 2.49, how=SCENE)))
BAD = Subject("Bad", (row("far off", 2.6),))


def run(*arguments: str) -> Result:
    return CliRunner().invoke(command, ["sources", *arguments])


@pytest.fixture
def rows(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sim.published, "SUBJECTS", (GOOD,))


@pytest.fixture
def bad_rows(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sim.published, "SUBJECTS", (GOOD, BAD))


@pytest.mark.parametrize(
    ("tolerance", "ours", "accepted"),
    [
        (share(0.01, ""), 2.02, True),
        (share(0.01, ""), 1.98, True),
        (share(0.01, ""), 2.0201, False),
        (amount(0.1, ""), 2.1, True),
        (amount(0.1, ""), 1.89, False),
        (errs_low(0.5, ""), 1.0, True),
        (errs_low(0.5, ""), 2.001, False),
        (errs_low(0.5, ""), 0.99, False),
        (amount(0.0, ""), 2.0, True),
        (share(1.0, ""), math.nan, False),
        (share(1.0, ""), math.inf, False),
    ],
)
def test_tolerances(tolerance: sim.published.Tolerance, ours: float, accepted: bool) -> None:
    assert tolerance.accepts(2.0, ours) is accepted


def test_a_relative_tolerance_of_a_negative_number() -> None:
    assert share(0.1, "").accepts(-2.0, -2.19)
    assert not share(0.1, "").accepts(-2.0, -2.21)


def test_tolerances_in_words() -> None:
    assert [str(one) for one in (share(0.005, ""), amount(0.1, ""), errs_low(0.3, ""))] == [
        "±0.5 %",
        "±0.1",
        "-30 % to 0 %",
    ]


def test_ours_is_printed_with_the_digits_of_the_published_number() -> None:
    assert row("", 0.0, "26.565").printed(26.56505) == "26.565"
    assert row("", 0.0, "0.0").printed(-1e-9) == "0.0"
    assert row("", 0.0).printed(math.nan) == "none"
    assert Outcome("", row("", 0.0), 2.4999).deviation == "0.0 %"
    assert Outcome("", row("", 0.0), 2.51).deviation == "+0.4 %"


def missing() -> float:
    return [0.0][3]


@pytest.mark.parametrize(("answer", "trouble"), [(broken, "no answer"), (missing, "nothing to read it from")])
def test_no_answer_is_out_of_tolerance(answer: Callable[[], float], trouble: str) -> None:
    one = Row("Somebody", "p. 1", "what", "1", "0", share(1.0, "any"), "from memory", FUNCTION, answer)
    outcome = compute("Subject", one)
    assert not outcome.inside
    assert outcome.trouble.startswith(trouble)
    assert json.loads(printing.as_json([outcome]))["rows"][0]["ours"] is None


@pytest.mark.usefixtures("rows")
def test_all_within_is_status_0() -> None:
    result = run()
    assert result.exit_code == 0
    assert (
        "2 numbers from 1 source; ours computed from a scene file for 1 of them: all within tolerance." in result.output
    )
    assert max(len(line) for line in result.output.splitlines()) <= 110
    assert json.loads(run("--json").output)["out_of_tolerance"] == 0


def test_an_equation_by_hand_is_no_source() -> None:
    one = Row(
        f"{BY_HAND}half a third", "1/6", "sixth", "1", "0.17", share(0.1, "any"), "computed", FUNCTION, lambda: 1 / 6
    )
    outcomes = [compute("Good", first) for first in GOOD.rows] + [compute("Sums", one)]
    assert printing.summary(outcomes).startswith("3 numbers from 1 source and 1 equation by hand; ")
    assert json.loads(printing.as_json(outcomes))["sources"] == 1


@pytest.mark.usefixtures("bad_rows")
def test_one_out_of_tolerance_is_status_1(tmp_path: Path) -> None:
    result = run()
    assert result.exit_code == 1
    assert "1 out of tolerance" in result.output
    assert "OUT: far off (Somebody 1900, Book): 2.6 for 2.50, allowed ±1 %" in result.output
    assert run("--json").exit_code == 1
    assert run("--markdown").exit_code == 1
    readme = tmp_path / "README.md"
    readme.write_text(f"{printing.BEGIN}\n{printing.END}\n")
    assert run("--markdown", "-o", str(readme)).exit_code == 1
    assert readme.read_text() == f"{printing.BEGIN}\n{printing.END}\n"


@pytest.mark.usefixtures("bad_rows")
def test_only_some() -> None:
    assert run("--only", "SECOND").exit_code == 0
    assert json.loads(run("--only", "good", "--json").output)["rows_in_all"] == 2
    nothing = run("--only", "no such thing")
    assert nothing.exit_code == 2
    assert "no such thing" in nothing.output


@pytest.mark.usefixtures("rows")
def test_the_block_of_a_readme_is_renewed(tmp_path: Path) -> None:
    readme = tmp_path / "README.md"
    readme.write_text(f"before\n{printing.BEGIN}\nold\n{printing.END}\nafter\n")
    result = run("--markdown", "-o", str(readme))
    assert result.exit_code == 0
    block = run("--markdown").output.rstrip("\n")
    assert "| first | MPa | 2.50 | 2.51 | +0.4 % | ±1 % | from memory |  | 1, table 1 |" in block
    assert readme.read_text() == f"before\n{block}\nafter\n"
    assert run("--markdown", "-o", str(readme)).exit_code == 0
    assert readme.read_text() == f"before\n{block}\nafter\n"


@pytest.mark.usefixtures("rows")
def test_a_file_without_a_place_for_it_is_left_alone(tmp_path: Path) -> None:
    other = tmp_path / "notes.md"
    other.write_text("mine\n")
    result = run("--markdown", "-o", str(other))
    assert result.exit_code == 2
    assert printing.BEGIN in result.output
    assert other.read_text() == "mine\n"
    assert run("--markdown", "-o", str(tmp_path / "none.md")).exit_code == 2


@pytest.mark.parametrize(
    "options", [["--json", "--markdown"], ["-o", "x.md"], ["--markdown", "-o", "x.md", "--only", "a"]]
)
def test_options_that_do_not_go_together(options: list[str]) -> None:
    assert run(*options).exit_code == 2


def test_halving_finds_an_edge_and_tells_when_there_is_none() -> None:
    assert edge(lambda x: x < math.pi, 3.0, 3.5, 20) == pytest.approx(math.pi, abs=1e-6)
    assert edge(lambda x: x > math.pi, 3.5, 3.0, 20) == pytest.approx(math.pi, abs=1e-6)
    assert math.isnan(edge(math.isfinite, 3.0, 3.5, 4))
    assert math.isnan(edge(math.isnan, 3.0, 3.5, 4))


@pytest.mark.parametrize(
    ("solid", "volume"),
    [
        (box((1, 2, 3), (4, 5, 6)), 120.0),
        (prism([(0, 0), (2, 1), (4, 0), (4, 3), (0, 3)], 1, 3), 20.0),
        (ring_sector(90.0, 110.0, 30.0, 10.0), math.pi * (110**2 - 90**2) / 12 * 10),
    ],
)
def test_solids_are_closed_and_face_outward(solid: sim.published.laying.Solid, volume: float) -> None:
    import trimesh

    mesh = trimesh.Trimesh(solid.corners_mm, solid.faces, process=False)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.volume == pytest.approx(volume, rel=3e-4)
