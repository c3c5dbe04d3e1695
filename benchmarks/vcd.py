"""
A VCD file of 100 MB: this reader and a whole summary of it, beside general readers of the format.

    python benchmarks/vcd.py [--megabytes 100] [--all]

Each reader runs in a process of its own, so that time and peak memory are its own. The file is made anew, by a seed.
The others are timed only where they are installed (vcdvcd and pyvcd come with the extra 'test', pywellen by hand) and,
because they are slow, on a tenth of the file unless --all is given; ratios are per megabyte of wall time.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from importlib.util import find_spec
from pathlib import Path

import numpy as np

LINES = 16
READERS = {
    "kilter, read": "from kilter.importers.vcd import read_vcd; from pathlib import Path; read_vcd(Path({path!r}))",
    "kilter, read and summary": (
        "from kilter.importers.vcd import read_vcd; from pathlib import Path;"
        "from kilter.services.read_logic_capture import look_at; look_at(read_vcd(Path({path!r})))"
    ),
    "vcdvcd": "from vcdvcd import VCDVCD; VCDVCD({path!r})",
    "pyvcd": "from vcd.reader import tokenize\nwith open({path!r}, 'rb') as f:\n    for _ in tokenize(f): pass",
    "pywellen": ("import pywellen\nfor v in pywellen.Waveform({path!r}).all_vars():\n    list(v.tv)"),
}
MODULES = {"vcdvcd": "vcdvcd", "pyvcd": "vcd", "pywellen": "pywellen"}


def make(path: Path, megabytes: float) -> None:
    """Sixteen lines and a bus of eight that change at random."""
    rng, time_now, size = np.random.default_rng(1), 0, 0
    names = [chr(33 + i) for i in range(LINES + 1)]
    levels = [0] * LINES
    with path.open("w") as file:
        file.write("$timescale 10 ns $end\n$scope module top $end\n")
        file.write("".join(f"$var wire 1 {name} D{i} $end\n" for i, name in enumerate(names[:LINES])))
        file.write(f"$var wire 8 {names[LINES]} bus [7:0] $end\n$upscope $end\n$enddefinitions $end\n")
        while size < megabytes * 1e6:
            lines = []
            draws = zip(rng.integers(1, 6, 20_000), rng.integers(0, 17, (20_000, 3)), rng.integers(0, 256, 20_000),
                        strict=True)  # fmt: skip
            for step, which, word in draws:
                time_now += int(step)
                lines.append(f"#{time_now}")
                for line in set(which.tolist()):
                    if line == LINES:
                        lines.append(f"b{word:b} {names[LINES]}")
                    else:
                        levels[line] ^= 1
                        lines.append(f"{levels[line]}{names[line]}")
            text = "\n".join(lines) + "\n"
            file.write(text)
            size += len(text)


def measure(code: str) -> tuple[float, float, float]:
    """Wall time [s], processor time [s] and peak memory [MiB] of one process; imports and start count."""
    began = time.perf_counter()
    process = subprocess.Popen([sys.executable, "-c", code])
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        return float("nan"), float("nan"), float("nan")
    peak = usage.ru_maxrss / (1024 if sys.platform != "darwin" else 1024 * 1024)
    return time.perf_counter() - began, usage.ru_utime + usage.ru_stime, peak


def main() -> None:
    """Prints a line for each reader."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--megabytes", type=float, default=100.0)
    parser.add_argument("--all", action="store_true", help="give the others the whole file too")
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        files = {share: Path(folder) / f"{share}.vcd" for share in (1.0, 0.1)}
        for share, path in files.items():
            make(path, chosen.megabytes * share)
        own = None
        for name, code in READERS.items():
            if name in MODULES and find_spec(MODULES[name]) is None:
                print(f"{name:<26} not installed")
                continue
            share = 1.0 if chosen.all or name not in MODULES else 0.1
            wall, spent, peak = measure(code.format(path=str(files[share])))
            per = wall / (chosen.megabytes * share)
            own = own or per
            print(f"{name:<26} {chosen.megabytes * share:5.0f} MB  {wall:6.2f} s wall  {spent:6.2f} s processor  "
                  f"{peak:5.0f} MiB  {per / own:5.1f} times the first, per MB")  # fmt: skip
    print(f"load average {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")


if __name__ == "__main__":
    main()
