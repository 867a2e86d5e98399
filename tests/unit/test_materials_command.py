"""`bedjoint materials` prints every row with its range, and fits the page."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from sim import materials
from sim.cli import command

TABLES = {
    "rock": materials.ROCKS,
    "wood": materials.WOODS,
    "glass": materials.GLASSES,
    "mat": materials.MATS,
    "glue": materials.ADHESIVES,
    "ground": materials.GROUNDS,
}


def run(*arguments: str) -> str:
    result = CliRunner().invoke(command, ["materials", *arguments])
    assert result.exit_code == 0, result.output
    return result.output


def test_all_tables_fit_the_page() -> None:
    output = run()
    assert max(len(line) for line in output.splitlines()) <= 100
    assert "…" not in output
    for status in ("read in a published copy", "from memory", "judgement", "computed"):
        assert f"({status})" in " ".join(output.split())


@pytest.mark.parametrize("table", TABLES)
def test_every_row_is_printed(table: str) -> None:
    output = run(table)
    for name in TABLES[table]:
        for word in name.split():
            assert word in output


def test_a_row_shows_default_range_and_source() -> None:
    lines = run("rock").splitlines()
    row = next(number for number, line in enumerate(lines) if line.strip().startswith("granite"))
    assert "2650 [1]" in lines[row]
    assert "2600-2700" in lines[row + 1]
    assert any(line.startswith("[1]  Alden") for line in lines)


@pytest.mark.parametrize("table", TABLES)
def test_json_holds_every_row(table: str) -> None:
    found = json.loads(run(table, "--json"))
    assert [row["name"] for row in found[table]] == list(TABLES[table])


def test_json_of_everything() -> None:
    found = json.loads(run("--json"))
    assert set(found) == {*TABLES, "friction", "water"}
    granite = found["rock"][0]["density_kg_m3"]
    assert (granite["low"], granite["default"], granite["high"], granite["unit"]) == (2600, 2650, 2700, "kg/m3")
    assert {"between", "dry", "wet"} == set(found["friction"][0])
    assert len(found["friction"]) == len(materials.FRICTION)
    at_20 = next(row for row in found["water"] if row["temperature_c"] == 20)
    assert at_20["fresh_kg_m3"] == pytest.approx(998.207, abs=0.001)


def test_an_unknown_table_is_one_message() -> None:
    result = CliRunner().invoke(command, ["materials", "bricks"])
    assert result.exit_code == 2
    assert "friction" in result.output
    assert "Traceback" not in result.output
