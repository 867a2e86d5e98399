"""`bedjoint order` from the command line."""

from __future__ import annotations

import json
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from orders import best_order, column, overhang, problem_of_boxes, write_dry
from PIL import Image

from sim.cli import command


def _order(*arguments: str) -> Result:
    return CliRunner().invoke(command, ["order", "--seconds", "3600", *arguments])


@pytest.fixture
def over(tmp_path: Path) -> str:
    """The file names the tip before its counterweight."""
    return write_dry(tmp_path, *overhang(tmp_path))


def test_best_order_and_its_calendar(over: str) -> None:
    result = _order(over)
    assert result.exit_code == 0, result.output
    lines = result.output.splitlines()
    assert lines[0].startswith("Stands at every step")
    assert "the best there is" in lines[0]
    units = [line.split()[1] for line in lines if line[:3].strip().isdigit()]
    assert units == ["foot", "beam", "counterweight", "tip"]
    assert "day 1 09:30" in result.output


def test_own_order_says_where_it_needs_a_hand(over: str) -> None:
    result = _order(over, "--try", "foot,beam,tip,counterweight")
    assert result.exit_code == 1, result.output
    assert "hold beam:" in result.output
    assert "until counterweight is set" in result.output


def test_own_order_that_cannot_be_says_why(over: str) -> None:
    result = _order(over, "--try", "foot,counterweight,beam,tip")
    assert result.exit_code == 1, result.output
    assert "Step 2, counterweight: beam is not there yet and carries it." in result.output


def test_names_are_checked(over: str) -> None:
    for given in ("foot,beam,tip", "foot,beam,tip,tip", "foot,beam,tip,roof"):
        result = _order(over, "--try", given)
        assert result.exit_code not in (0, 1) or result.exception is not None


def test_compared_with_the_order_of_the_file(over: str) -> None:
    result = _order(over, "--compare")
    assert result.exit_code == 0, result.output
    rows = {line.split("  ")[0].strip(): line for line in result.output.splitlines()}
    assert "stands at every step" in rows["best"]
    assert "needs holds" in rows["as in the file"]


def test_json_holds_everything(over: str) -> None:
    plain = json.loads(_order(over, "--json").output)
    assert plain["verdict"] == "stands at every step"
    assert [step["unit"] for step in plain["steps"]] == ["foot", "beam", "counterweight", "tip"]
    assert [slot["clock"] for slot in plain["schedule"]["slots"]] == ["09:00", "09:10", "09:20", "09:30"]
    assert plain["proved"] is True


def test_step_pictures_and_film(over: str, tmp_path: Path) -> None:
    folder, film = tmp_path / "steps", tmp_path / "film.gif"
    result = _order(over, "--pictures", str(folder), "--film", str(film))
    assert result.exit_code == 0, result.output
    steps = sorted(folder.glob("*.png"))
    assert [path.name for path in steps] == [f"step_{k:02d}.png" for k in range(1, 5)]
    with Image.open(film) as moving:
        assert moving.format == "GIF"
        assert moving.n_frames == 4
        assert moving.info["loop"] == 0
    frames = [Image.open(path).convert("RGB") for path in steps]
    assert len({frame.tobytes() for frame in frames}) == 4
    assert len({frame.size for frame in frames}) == 1


class _Counting(ThreadPoolExecutor):
    """Counts what it is given."""

    submitted = 0

    def submit(self, *arguments: Any, **keys: Any) -> Future[Any]:
        self.submitted += 1
        return super().submit(*arguments, **keys)


def _many(folder: Path) -> list[str]:
    return [
        entry
        for name, x in zip("abcdef", (60, 155, 250, 345, 440, 535), strict=True)
        for y, row in ((110, "f"), (290, "b"))
        for entry in column(folder, f"{name}{row}", 2, x, y, 30.0)
    ]


def test_any_executor_gives_the_same_answer(tmp_path: Path) -> None:
    problem = problem_of_boxes(tmp_path, *_many(tmp_path))
    with _Counting(2) as executor:
        shared = best_order(problem, executor=executor)
    assert executor.submitted > 0
    assert shared == best_order(problem)


def test_a_dask_cluster_gives_the_same_answer(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    distributed = pytest.importorskip("distributed")
    from distributed.cfexecutor import ClientExecutor

    submit, tasks = ClientExecutor.submit, []

    def counting(self: Any, *arguments: Any, **keys: Any) -> Any:
        tasks.append(arguments)
        return submit(self, *arguments, **keys)

    monkeypatch.setattr(ClientExecutor, "submit", counting)
    file = write_dry(tmp_path, *_many(tmp_path))
    alone = json.loads(_order(file, "--json").output)
    assert not tasks
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=False, dashboard_address=None, protocol="tcp"
    ) as cluster:
        result = _order(file, "--json", "--cluster", cluster.scheduler_address)
    assert result.exit_code == 0, result.output
    assert tasks
    assert json.loads(result.output) == alone


def test_a_cluster_that_is_not_there_is_said(tmp_path: Path) -> None:
    pytest.importorskip("distributed")
    result = _order(write_dry(tmp_path, *column(tmp_path, "a", 1, 300, 200)), "--cluster", "tcp://127.0.0.1:1")
    assert result.exit_code not in (0, 1) or result.exception is not None
    assert "no scheduler answers there" in result.output + str(result.exception)


def test_problems_can_be_replaced_in_part(tmp_path: Path) -> None:
    """What is handed to other processes is plain data."""
    import pickle

    problem = problem_of_boxes(tmp_path, *column(tmp_path, "a", 2, 300, 200))
    again = pickle.loads(pickle.dumps(problem))
    assert best_order(replace(again, names=problem.names)) == best_order(problem)
