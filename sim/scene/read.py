"""Reading a scene file: every fault at once, each with its place, its line and what is allowed."""

from __future__ import annotations

import os
import re
import tomllib
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from sim.errors import Fault, SceneError
from sim.scene.faults import spoken, translate
from sim.scene.layout import Layout, Where, read_layout
from sim.scene.model import Scene
from sim.scene.section import Raw

LARGEST_FILE = 20_000_000  # bytes: far above any scene, far below what would fill the memory


def read_scene(path: str | os.PathLike[str]) -> Scene:
    """Read a scene file and check all of it, the existence of its meshes included.

    Raises
    ------
    SceneError
        With every fault of the file: its place, the line, what is wrong and what is allowed.
    """
    return _scene(read_text(path), Path(path), look_for_meshes=True)


def parse_scene(text: str, file: str | os.PathLike[str] = "scene.toml") -> Scene:
    """Check the text of a scene file; `file` is its name in messages and where paths start from.

    Meshes are not looked for.

    Raises
    ------
    SceneError
        As `read_scene`.
    """
    return _scene(text, Path(file), look_for_meshes=False)


def read_text(path: str | os.PathLike[str]) -> str:
    """The text of a scene file, or a `SceneError` that says why it has none."""
    file = Path(path)
    try:
        if file.is_dir():
            raise _refused(file, "this is a folder", "Name the scene file in it.")
        if file.stat().st_size > LARGEST_FILE:
            raise _refused(file, "too large for a scene file", f"Give a file under {LARGEST_FILE // 1_000_000} MB.")
        return file.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        remedy = "Check the name, or start one with: bedjoint new NAME --tank 900x450x450"
        raise _refused(file, "there is no such file", remedy) from None
    except UnicodeDecodeError as error:
        remedy = f"Save it as UTF-8 text (trouble at byte {error.start + 1})."
        raise _refused(file, "not a text file in UTF-8", remedy) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise _refused(file, f"cannot be read ({reason})", "Check the name and the permissions of the file.") from None


def _refused(file: Path, problem: str, remedy: str) -> SceneError:
    return SceneError(str(file), [Fault("", problem, remedy)])


def load_toml(text: str, file: Path) -> dict[str, Any]:
    """The tables in `text`, or a `SceneError` with line and column."""
    if not text.strip():
        raise _refused(file, "the file is empty", "Start one with: bedjoint new NAME --tank 900x450x450")
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise _refused(file, "brackets nested too deeply", "Close the brackets [ ] and { }.") from None
    except ValueError as error:
        raise SceneError(str(file), [_syntax_fault(str(error))]) from None


_TOML_WORDS = (
    (re.compile(r"Cannot overwrite a value|Duplicate inline table key.*"), "a key that is already there",
     "Keep one of the two."),
    (re.compile(r"Cannot declare .* twice"), "a section that is already there", "Put its keys into one section."),
    (re.compile(r"Expected '=' after a key.*"), "a key without =", "Write: key = value."),
    (re.compile(r"Invalid value"), "a value that TOML does not know", 'Put text in quotes: key = "text".'),
    (re.compile(r"Unclosed array|Unclosed inline table"), "a bracket that is not closed", "Close it with ] or }."),
    (re.compile(r"Expected newline or end of document.*"), "something left over after the value",
     "Write one key = value per line."),
)  # fmt: skip


def _syntax_fault(message: str) -> Fault:
    place = re.search(r"\(at line (\d+), column (\d+)\)", message)
    where = f"line {place[1]}, column {place[2]}" if place else ""
    if "(at end of document)" in message:
        where = "end of the file"
    words = re.sub(r"\s*\(at [^()]*\)\s*$", "", message)
    for pattern, problem, remedy in _TOML_WORDS:
        if pattern.fullmatch(words):
            return Fault(where, problem, remedy)
    return Fault(where, f"not valid TOML ({words[:120]})", "Correct the text there.")


def _scene(text: str, file: Path, *, look_for_meshes: bool) -> Scene:
    table = load_toml(text, file)
    faults: list[Fault] = []
    layout: Layout | None = None
    try:
        scene = Scene.model_validate(table)
    except ValidationError as error:
        layout = read_layout(text)
        faults = translate(error, table, Scene, layout)
    if look_for_meshes:
        faults += _missing_meshes(table, file.parent, layout or read_layout(text))
    if faults:
        raise SceneError(str(file), faults)
    scene._file = file
    return scene


def _missing_meshes(table: dict[str, Any], folder: Path, layout: Layout) -> list[Fault]:
    faults = []
    for index, piece in enumerate(Raw(table).parts("piece")):
        mesh = piece.text("mesh")
        if not mesh or _is_file(folder / mesh):
            continue
        place: Where = ("piece", index, "mesh")
        shown = os.path.normpath(folder / mesh)
        problem = f"there is no file {shown}" if "\x00" not in mesh else "no name of a file"
        remedy = "Write the path with / instead of \\." if "\\" in mesh else "Paths start from the scene file's folder."
        faults.append(Fault(f"{spoken(place, table)} (line {layout.line_of(place)})", problem, remedy))
    return faults


def _is_file(path: Path) -> bool:
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False
