"""Fixtures that every test may use."""

from __future__ import annotations

import os
from collections.abc import Iterator
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


@pytest.fixture(scope="session")
def cache(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where tests keep cut stones and convex parts: never the user's own cache, and the same for all workers."""
    base = tmp_path_factory.getbasetemp()
    return (base.parent if "PYTEST_XDIST_WORKER" in os.environ else base) / "bedjoint-cache"


@pytest.fixture(scope="session", autouse=True)
def _own_cache(cache: Path) -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("BEDJOINT_CACHE", str(cache))
        yield
