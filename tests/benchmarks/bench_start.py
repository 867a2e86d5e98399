"""Start-up: `bedjoint --help` against a Python that does nothing.

Run: python tests/benchmarks/bench_start.py
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time

REPEATS = 15


def seconds(*arguments: str) -> float:
    """Median wall time of a Python process."""
    times = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        subprocess.run([sys.executable, *arguments], check=True, capture_output=True)
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def main() -> None:
    """Print the table."""
    empty, shown = seconds("-c", "pass"), seconds("-m", "sim.cli", "--help")
    print(f"python -c pass    {empty:.3f} s")
    print(f"bedjoint --help   {shown:.3f} s, {shown / empty:.1f} times as long (limit 0.3 s)")


if __name__ == "__main__":
    main()
