"""
Measure the capture readers and their analysis: coverage, the ratio to the Cramer-Rao bound, speed and memory.

    python benchmarks/captures.py [--trials 1000] [--rows 2700000]

Readers of other libraries are timed where they are installed; every one runs in a process of its own.
"""

from __future__ import annotations

import argparse
import math
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests" / "signals"))

from synthetic_captures import square, trials  # noqa: E402

from kilter.signals.analyse import analyse  # noqa: E402
from kilter.signals.scope import IDEAL  # noqa: E402
from kilter.signals.waveform import Waveform  # noqa: E402

OURS = "kilter, read and analyse"
READERS = {
    OURS: "from kilter.importers.captures.read_capture import read_capture\n"
    "from kilter.signals.analyse import analyse\na = [analyse(one) for one in read_capture(path).waveforms]",
    "kilter, read": "from kilter.importers.captures.read_capture import read_capture; a = read_capture(path)",
    "numpy.loadtxt": "import numpy; a = numpy.loadtxt(path, delimiter=',', skiprows=1)",
    "pandas": "import pandas; a = pandas.read_csv(path)",
    "polars": "import polars; a = polars.read_csv(path)",
}
TIMED = """
import sys, time
path = sys.argv[1]
def peak():
    return next(line.split()[1] for line in open("/proc/self/status") if line.startswith("VmHWM"))
{setup}
before = peak()
start = time.perf_counter()
{code}
print(time.perf_counter() - start, before, peak())
"""


def coverage(count: int) -> None:
    """Share of results within 1.96 stated standard uncertainties of the truth."""
    scores: dict[str, list[float]] = defaultdict(list)
    for made in trials(count):
        results = analyse(made.wave, made.scope).results
        for key, truth in made.truth.items():
            if key in results:
                scores[key].append((results[key].value - truth) / results[key].uncertainty)
    print(f"Coverage over {count} random captures, nominal 95 %:")
    for key, found in sorted(scores.items()):
        print(f"  {key:10} {100 * np.mean(np.abs(found) < 1.96):5.1f} %  of {len(found)}")
    everything = np.concatenate([np.array(one) for one in scores.values()])
    print(f"  {'together':10} {100 * np.mean(np.abs(everything) < 1.96):5.1f} %")


def bounds(repeats: int = 200) -> None:
    """Variance of the frequency over the Cramer-Rao bound, for sines and for square waves with straight edges."""
    rng = np.random.default_rng(3)
    print("Variance of the frequency over the Cramer-Rao bound:")
    for kind in ("sine", "square"):
        for decibels in (20, 30, 40):
            print(f"  {kind:7} {decibels} dB  {_ratio(kind, decibels, repeats, rng):.2f}")


def _ratio(kind: str, decibels: float, repeats: int, rng: np.random.Generator) -> float:
    count, squares = 10_000, []
    n = np.arange(count, dtype=float)
    for _ in range(repeats):
        period, rise = rng.uniform(40, 90), 5.0
        noise = (0.5 if kind == "square" else 0.5 / math.sqrt(2)) / 10 ** (decibels / 20)
        if kind == "sine":
            clean = 0.5 * np.sin(2 * np.pi * n / period + rng.uniform(0, 6))
            least = math.sqrt(24 * noise**2 / (0.25 * count * (count**2 - 1))) / (2 * math.pi)
        else:
            clean = square(n, period, 0.5, rise, rise, rng.uniform(0, period), "ramp")
            edges = np.arange(2 * count / period) * period / 2
            spread = noise / math.sqrt(0.8 / rise)  # noise over the root of summed squared slopes
            least = spread / math.sqrt(np.square(edges - edges.mean()).sum() / period**2) / period**2
        results = analyse(Waveform("x", clean + rng.normal(0, noise, count), 1.0), IDEAL).results
        squares.append(((results["frequency"].value - 1 / period) / least) ** 2)
    return float(np.mean(squares))


def speed(rows: int) -> None:
    """Time and memory of readers on one large file; best of three."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "large.csv"
        _write(path, rows)
        print(f"{path.stat().st_size / 1e6:.0f} MB of text, {rows} rows of 3 numbers:")
        ours = math.nan
        for name, code in READERS.items():
            setup = "\n".join(line for part in code.split("\n") for line in part.split("; ") if "import" in line)
            work = "\n".join(line for part in code.split("\n") for line in part.split("; ") if "import" not in line)
            runs = [_timed(TIMED.format(setup=setup, code=work), path) for _ in range(3)]
            if runs[0] is None:
                print(f"  {name:26} not installed")
                continue
            best = min(run[0] for run in runs if run)
            ours = best if name == OURS else ours
            extra = max(run[2] - run[1] for run in runs if run) / 1e3
            print(
                f"  {name:26} {best:6.2f} s  {extra:6.0f} MB above start "
                f"({extra * 1e6 / rows / 24:.1f} x the numbers), {best / ours:.2f} x the time of our analysis"
            )


def _write(path: Path, rows: int) -> None:
    n = np.arange(rows)
    phase = (n * 0.0413) % 1
    first = np.round(3.3 * np.clip(np.minimum(phase / 0.1, (0.5 - phase) / 0.1 + 0.5), 0, 1), 5)
    second = np.sin(2 * np.pi * 0.00123 * n)
    with path.open("w") as file:
        file.write("Time (s),CH1 (V),CH2 (V)\n")
        for start in range(0, rows, 100_000):
            part = slice(start, start + 100_000)
            lines = zip(n[part] * 4e-9, first[part], second[part], strict=True)
            file.write("".join(f"{a:.10e},{b:.5f},{c:.6e}\n" for a, b, c in lines))


def _timed(code: str, path: Path) -> tuple[float, float, float] | None:
    done = subprocess.run([sys.executable, "-c", code, str(path)], capture_output=True, text=True, check=False)
    if done.returncode:
        return None
    spent, before, after = map(float, done.stdout.split())
    return spent, before, after


def main() -> None:
    """Runs all three."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--trials", type=int, default=1000)
    parser.add_argument("--rows", type=int, default=2_700_000)
    chosen = parser.parse_args()
    start = time.perf_counter()
    coverage(chosen.trials)
    bounds()
    speed(chosen.rows)
    print(f"Done in {time.perf_counter() - start:.0f} s.")


if __name__ == "__main__":
    main()
