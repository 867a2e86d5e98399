"""Atomic writing: all or nothing, and one clear error."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from sim.errors import OutputError
from sim.files import write_atomically


def test_makes_folders_and_replaces(tmp_path: Path) -> None:
    file = tmp_path / "new" / "scene.toml"
    write_atomically(file, "one")
    write_atomically(file, b"two")
    assert file.read_text() == "two"
    assert [path.name for path in file.parent.iterdir()] == ["scene.toml"]


def test_a_full_disk_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "scene.toml"
    write_atomically(file, "old")

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OutputError, match="No space left"):
        write_atomically(file, "new")
    assert file.read_text() == "old"
    assert [path.name for path in tmp_path.iterdir()] == ["scene.toml"]


def test_a_file_in_the_place_of_a_folder(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(OutputError, match="cannot be written"):
        write_atomically(tmp_path / "file" / "scene.toml", "x")


def test_permissions_stay(tmp_path: Path) -> None:
    file = tmp_path / "scene.toml"
    write_atomically(file, "one")
    file.chmod(0o640)
    write_atomically(file, "two")
    assert file.stat().st_mode & 0o777 == 0o640
