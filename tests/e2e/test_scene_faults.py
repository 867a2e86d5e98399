"""Files that are no scenes, and scenes with random damage: always one clear error."""

from __future__ import annotations

import os
import random
import re
from pathlib import Path

import pytest

from sim.errors import Fault, SceneError
from sim.scene import Scene, parse_document, parse_scene, read_document, read_scene, set_key, starter

FULL = re.sub(r"(?m)^# (?=\[|[a-z_0-9]+ = )", "", starter("all", (900, 450, 450), "annealed")).replace(
    "opening_mm", "# opening_mm"
)
TOKENS = [
    "[", "]", "{", "}", "[[piece]]", "[tank]", "=", ",", '"', '"""', "'''", "\n", "#", "nan", "-inf", "true", "0", "-1",
    "1e400", "99999999999999999999999", "0x1F", "1979-05-27", "[]", "{}", "id", "a.b.c = 1", "\\u0000", "\ufeff", "\r",
    "\x00", "é", "[[joint]]", "[piece.generate]", "piece = 3", '""', '"slate"', "format = 1",
]  # fmt: skip


def damaged(rng: random.Random) -> str:
    """The full scene with one to four changes of bytes, lines or tokens."""
    text = FULL
    for _ in range(rng.randint(1, 4)):
        lines = text.split("\n")
        here, there = rng.randrange(len(lines)), rng.randrange(len(lines))
        kind = rng.randrange(8)
        if kind == 0:
            del lines[here]
        elif kind == 1:
            lines[here], lines[there] = lines[there], lines[here]
        elif kind == 2:
            lines.insert(here, lines[there])
        elif kind == 3:
            lines = lines[:here]
        if kind <= 3:
            text = "\n".join(lines)
            continue
        at = rng.randrange(len(text) + 1)
        if kind == 4:
            text = text[:at] + rng.choice(TOKENS) + text[at:]
        elif kind == 5:
            text = text[:at] + text[at + rng.randint(1, 12) :]
        elif kind == 6:
            text = text[:at] + chr(rng.randrange(128)) + text[at + 1 :]
        else:  # another value for a key
            values = list(re.finditer(r"(?<== )[^#\n]+", text))
            if values:
                chosen = rng.choice(values)
                text = text[: chosen.start()] + rng.choice(TOKENS) + text[chosen.end() :]
    return text


def test_the_full_scene_is_sound() -> None:
    assert isinstance(parse_scene(FULL), Scene)


def test_damage_gives_a_scene_or_a_scene_error() -> None:
    rng = random.Random(20)
    good = bad = 0
    faults: list[Fault] = []
    for _ in range(500):
        text = damaged(rng)
        try:
            assert isinstance(parse_scene(text), Scene)
            good += 1
        except SceneError as error:
            faults += error.faults
            bad += 1
    assert good > 20, "some damage is harmless"
    assert bad > 200
    assert all(fault.problem and fault.remedy.endswith((".", "?", "900x450x450")) for fault in faults)


def test_damage_does_not_break_editing() -> None:
    rng = random.Random(21)
    edited = 0
    for _ in range(200):
        text = damaged(rng)
        try:
            document = parse_document(text)
            parse_scene(text)
        except SceneError:
            continue
        set_key(document, "water", "temperature_c", 25.5)
        assert parse_scene(document.text).water.temperature_c == 25.5
        edited += 1
    assert edited > 10


def test_random_bytes_are_refused(tmp_path: Path) -> None:
    rng = random.Random(22)
    file = tmp_path / "s.toml"
    for size in [1, 3, 50, 4000] * 10:
        file.write_bytes(rng.randbytes(size))
        with pytest.raises(SceneError):
            read_scene(file)
        if size >= 50:  # a few bytes may be a blank document by chance
            with pytest.raises(SceneError):
                read_document(file)


def refusal(path: Path) -> str:
    with pytest.raises(SceneError) as caught:
        read_scene(path)
    message = str(caught.value)
    assert str(path) in message
    return message


def test_files_that_are_no_scene_files(tmp_path: Path) -> None:
    assert "no such file" in refusal(tmp_path / "none.toml")
    assert "folder" in refusal(tmp_path)
    file = tmp_path / "s.toml"
    file.write_bytes(b"")
    assert "empty" in refusal(file)
    file.write_bytes("title = 'é'".encode("latin-1"))
    assert "UTF-8" in refusal(file)
    file.write_bytes(b"\xff\xfe" + FULL.encode("utf-16-le"))
    assert "UTF-8" in refusal(file)
    file.write_bytes(b"# " + b"x" * 20_000_001)
    assert "too large" in refusal(file)
    assert "no such file" in refusal(tmp_path / ("n" * 100 + ".toml"))
    assert "cannot be read" in refusal(tmp_path / ("n" * 1000))
    assert "cannot be read" in refusal(file / "below")


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="root reads everything")
def test_an_unreadable_file(tmp_path: Path) -> None:
    file = tmp_path / "s.toml"
    file.write_text(FULL)
    file.chmod(0)
    assert "cannot be read" in refusal(file)


def test_a_mesh_that_is_not_there_is_named_beside_other_faults(tmp_path: Path) -> None:
    file = tmp_path / "s.toml"
    file.write_text(FULL.replace("level_mm = 405", "level_mm = 500"))
    with pytest.raises(SceneError) as caught:
        read_scene(file)
    level, mesh = caught.value.faults
    assert level.path.startswith("water.level_mm (line ")
    assert mesh.path.startswith('piece[2] "ledge_1".mesh (line ')
    assert str(tmp_path / "meshes" / "ledge_1.ply") in mesh.problem


@pytest.mark.parametrize("name", ["a\\\\b.ply", "x" * 900 + ".ply", "../" * 200 + "a.ply", "/dev/null/a.ply"])
def test_odd_mesh_paths(tmp_path: Path, name: str) -> None:
    file = tmp_path / "s.toml"
    file.write_text(FULL.replace("meshes/ledge_1.ply", name))
    with pytest.raises(SceneError, match="there is no file"):
        read_scene(file)
