"""Convex parts for the engines: whole where convex, split where not, kept between runs."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import trimesh

from sim.pieces import convex
from sim.pieces.body import Body
from sim.pieces.cache import cache_folder, keep, recall
from sim.pieces.convex import convex_parts, convex_parts_all
from sim.pieces.mass import make_body


def elbow() -> Body:
    one, other = trimesh.creation.box((0.1, 0.03, 0.03)), trimesh.creation.box((0.03, 0.03, 0.1))
    other.apply_translation([0.035, 0, 0.035])
    joined = trimesh.boolean.union([one, other], engine="manifold")
    return make_body(joined.vertices, joined.faces)


def test_a_convex_stone_stays_whole() -> None:
    box = trimesh.creation.box((0.1, 0.08, 0.04))
    parts = convex_parts(make_body(box.vertices, box.faces))
    assert parts.whole
    assert len(parts.parts) == 1
    assert max(parts.surface_error_m) < 1e-3


def test_an_elbow_is_split_and_the_error_is_measured() -> None:
    body = elbow()
    parts = convex_parts(body)
    assert not parts.whole
    assert len(parts.parts) >= 2
    volume = sum(trimesh.convex.convex_hull(part[0]).volume for part in parts.parts)
    assert volume == pytest.approx(body.volume_m3, rel=0.05)
    assert max(parts.surface_error_m) < 3e-3
    for vertices, faces in parts.parts:
        hull = trimesh.Trimesh(vertices, faces, process=False)
        assert hull.is_watertight
        assert hull.volume == pytest.approx(trimesh.convex.convex_hull(vertices).volume, rel=1e-6)


def test_parts_are_kept_and_found_again(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("BEDJOINT_CACHE", str(tmp_path))
    first = convex_parts(elbow())
    monkeypatch.setattr(convex, "_make", lambda _: pytest.fail("made twice"))
    again = convex_parts(elbow())
    for one, other in zip(first.parts, again.parts, strict=True):
        assert np.array_equal(one[0], other[0])


def test_same_body_same_parts(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    results = []
    for run in ("a", "b"):
        monkeypatch.setenv("BEDJOINT_CACHE", str(tmp_path / run))
        results.append(convex_parts_all([elbow(), elbow()]))
    for one, other in zip(results[0][0].parts, results[1][1].parts, strict=True):
        assert np.array_equal(one[0], other[0])


class TestCache:
    def test_round_trip(self, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
        monkeypatch.setenv("BEDJOINT_CACHE", str(tmp_path))
        keep("test", "k", {"a": np.arange(3)})
        found = recall("test", "k")
        assert found is not None
        assert found["a"].tolist() == [0, 1, 2]
        assert recall("test", "other") is None

    def test_damage_is_noticed(self, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
        monkeypatch.setenv("BEDJOINT_CACHE", str(tmp_path))
        keep("test", "k", {"a": np.arange(300)})
        (file,) = (path for path in tmp_path.rglob("*") if path.is_file())
        content = bytearray(file.read_bytes())
        content[len(content) // 2] ^= 0xFF
        file.write_bytes(content)
        assert recall("test", "k") is None

    def test_a_folder_that_cannot_be_written_costs_only_time(
        self, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
    ) -> None:
        blocked = tmp_path / "file"
        blocked.write_text("in the way")
        monkeypatch.setenv("BEDJOINT_CACHE", str(blocked))
        keep("test", "k", {"a": np.arange(3)})
        assert recall("test", "k") is None

    def test_it_lies_outside_the_project(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.delenv("BEDJOINT_CACHE")
        folder = cache_folder()
        assert folder is None or Path(__file__).resolve().parents[2] not in folder.resolve().parents


SPLIT_AT_ONCE = """
import threading

import trimesh

from sim.pieces import convex

ring, ready = trimesh.creation.annulus(0.02, 0.04, 0.03), threading.Barrier(6)


def split():
    ready.wait()
    assert len(convex._split(ring.vertices, ring.faces, True, 0.2, 1)) > 1


threads = [threading.Thread(target=split) for _ in range(6)]
[thread.start() for thread in threads]
[thread.join() for thread in threads]
"""


def test_the_first_pieces_of_a_process_may_be_split_at_once() -> None:
    """In processes of their own, and several of them: what goes wrong there aborts two of five."""
    for _ in range(3):
        running = [subprocess.Popen([sys.executable, "-c", SPLIT_AT_ONCE], stderr=subprocess.PIPE) for _ in range(2)]
        for process in running:
            _, trouble = process.communicate(timeout=120)
            assert process.returncode == 0, trouble.decode()
