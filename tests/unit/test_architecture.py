"""The house keeps its order: a room imports only rooms above it, and `--help` stays light."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

SIM = Path(__file__).resolve().parents[2] / "sim"

# from the ground up: a room may import itself and what stands before it
ROOMS = [
    "__init__",
    "errors",
    "units",
    "compiling",
    "threads",
    "files",
    "materials",
    "scene",
    "pieces",
    "contact",
    "joints",
    "statics",
    "trial",
    "states",
    "base",
    "glue",
    "order",
    "shot",
    "check",
    "report",
    "published",
    "yard",
    "cli",
]
MODULES = sorted(SIM.rglob("*.py"))


def _room(module: Path) -> str:
    first = module.relative_to(SIM).parts[0]
    return first.removesuffix(".py")


def _imported_rooms(module: Path) -> set[str]:
    rooms: set[str] = set()
    for node in ast.walk(ast.parse(module.read_text())):
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module:
            names = [f"{node.module}.{alias.name}" for alias in node.names] if node.module == "sim" else [node.module]
        else:
            continue
        rooms |= {name.split(".")[1] for name in names if name.startswith("sim.")}
    return rooms


@pytest.mark.parametrize("module", MODULES, ids=lambda path: str(path.relative_to(SIM)))
def test_imports_point_up(module: Path) -> None:
    own = ROOMS.index(_room(module))
    below = {room for room in _imported_rooms(module) if room in ROOMS and ROOMS.index(room) > own}
    assert not below, f"{module.name} reaches down into {sorted(below)}"


def test_every_room_has_its_place() -> None:
    assert {_room(module) for module in MODULES} <= set(ROOMS)


@pytest.mark.parametrize(
    ("library", "home"),
    [
        ("pybullet", "trial/bullet.py"),
        ("mujoco", "trial/mujoco.py"),
        ("pydantic", ("scene/", "report/")),
        ("click", "cli/"),
    ],
)
def test_a_library_stays_in_its_room(library: str, home: str | tuple[str, ...]) -> None:
    for module in MODULES:
        source = ast.parse(module.read_text())
        names = {alias.name for node in ast.walk(source) if isinstance(node, ast.Import) for alias in node.names}
        names |= {node.module or "" for node in ast.walk(source) if isinstance(node, ast.ImportFrom) and not node.level}
        if any(name.split(".")[0] == library for name in names):
            assert str(module.relative_to(SIM)).startswith(home), f"{module} imports {library}"


def test_help_loads_nothing_heavy() -> None:
    script = (
        "import sys, sim.cli; "
        "print(sorted({'numpy','scipy','numba','trimesh','pydantic','mujoco','pybullet','coacd'} & set(sys.modules)))"
    )
    output = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True).stdout
    assert output.strip() == "[]"
