"""
How long a cold `kilter diagnose` takes on the demonstration, and its peak memory.

    python benchmarks/cold_start.py [RUNS]

Each run is a new process: Python starts, reads board and readings, diagnoses, prints. Reports the median, the fastest
and the share spent on imports. Run it on a quiet machine; other work shows in the median first.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time
from pathlib import Path

DEMO = Path(__file__).parents[1] / "src" / "kilter" / "data" / "demo"
COMMAND = [sys.executable, "-m", "kilter", "diagnose", str(DEMO), "--readings", str(DEMO / "a.csv")]
IMPORTS = [sys.executable, "-c", "import kilter.cli.main, kilter.cli.diagnose"]


def measure(command: list[str]) -> tuple[float, float]:
    """Wall time [s] and peak memory [MiB] of one process."""
    began = time.perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    _, status, usage = os.wait4(process.pid, 0)
    taken = time.perf_counter() - began
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode not in (0, 3):
        sys.exit(f"The command failed with exit code {process.returncode}.")
    return taken, usage.ru_maxrss / (1024 if sys.platform != "darwin" else 1024 * 1024)


def main() -> None:
    """Prints one line each for the whole and for the imports."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    for name, command in (("diagnose", COMMAND), ("imports only", IMPORTS)):
        times, peaks = zip(*(measure(command) for _ in range(runs)), strict=True)
        print(
            f"{name:<13} median {statistics.median(times):.2f} s, fastest {min(times):.2f} s, peak {max(peaks):.0f} MiB"
        )
    print(f"load average {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")


if __name__ == "__main__":
    main()
