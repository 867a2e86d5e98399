"""Fixtures that every test may use."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import settings

REPOSITORY = Path(__file__).resolve().parents[1]

# the same examples in every run; compiled code makes the first one slow
settings.register_profile("bedjoint", deadline=None, derandomize=True)
settings.load_profile("bedjoint")


@pytest.fixture(scope="session")
def scans() -> Path:
    """The folder of real scanned stones, which is no part of the repository."""
    folder = Path(os.environ.get("BEDJOINT_SCANS", REPOSITORY.parent / "shared" / "scans"))
    if not folder.is_dir():
        pytest.skip("no folder of scanned stones: set BEDJOINT_SCANS to one")
    return folder


@pytest.fixture(autouse=True)
def _own_cache(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    """Tests never read or fill the user's own cache."""
    monkeypatch.setenv("BEDJOINT_CACHE", str(tmp_path_factory.getbasetemp() / "bedjoint-cache"))
