"""
Change detection in a soak: run lengths to a false alarm and to detection, and how soon others would have seen it.

    python benchmarks/change_detection.py [--logs 4000]

Run lengths of the sums are measured on drawn numbers and set beside published tables (two-sided, k = 0.5: Lucas and
Crosier 1982 for h = 4; Montgomery's textbook for h = 5). The second table is what a soak really does, with mean and
spread unknown: a step comes after so many values, and the self-starting sums are compared with single values beyond a
limit and with sums on a baseline of 20 values, all set to the same run length as if their baseline were exact.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from statistics import NormalDist

import numpy as np

from kilter.planning.soak.cusum import Floats, run_length, sums, threshold
from kilter.planning.soak.self_starting import FIRST, standardised

TABLES = {4.0: {0.0: 168.0, 0.5: 26.6, 1.0: 8.38, 2.0: 3.34}, 5.0: {0.0: 465.0, 0.5: 38.0, 1.0: 10.4, 2.0: 4.01}}
WANTED = 465.0
"""Run length to a false alarm in the second table."""
BASELINE, LONGEST = 20, 400


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--logs", type=int, default=4000, help="drawn logs (4000)")
    logs = parser.parse_args().logs
    random = np.random.default_rng(2024)
    print("   h  shift  published  computed  measured   measured/published")
    for h, row in TABLES.items():
        for shift, told in row.items():
            measured = np.mean([_run(random, shift, h) for _ in range(logs)])
            print(f"{h:4.0f} {shift:6.1f} {told:10.2f} {run_length(0.5, h, shift):9.2f} {measured:9.2f} "
                  f"{measured / told:12.3f}")  # fmt: skip
    began = time.perf_counter()
    _step(random, max(200, logs // 8))
    print(f"second table: {time.perf_counter() - began:.0f} s")


def _run(random: np.random.Generator, shift: float, h: float) -> int:
    """Values until an alarm, drawn in stretches."""
    log = random.normal(shift, 1, 64)
    while True:
        found = sums(log, 0.5, h).alarm
        if found is not None:
            return found + 1
        log = np.concatenate([log, random.normal(shift, 1, len(log))])


def _step(random: np.random.Generator, logs: int) -> None:
    h, limit = threshold(0.5, WANTED), NormalDist().inv_cdf(1 - 0.5 / WANTED)

    def self_starting(log: Floats) -> int | None:
        return sums(np.concatenate([np.zeros(FIRST), standardised(log)[FIRST:]]), 0.5, h).alarm

    def by_baseline(log: Floats) -> Floats:
        z: Floats = (log - log[:BASELINE].mean()) / log[:BASELINE].std(ddof=1)
        z[:BASELINE] = 0.0
        return z

    def baseline_sums(log: Floats) -> int | None:
        return sums(by_baseline(log), 0.5, h).alarm

    def single_values(log: Floats) -> int | None:
        over = np.flatnonzero(np.abs(by_baseline(log)) > limit)
        return int(over[0]) if len(over) else None

    rivals: dict[str, Callable[[Floats], int | None]] = {
        "self-starting sums": self_starting, f"sums on a baseline of {BASELINE}": baseline_sums,
        f"single values, baseline of {BASELINE}": single_values,
    }  # fmt: skip
    print("\nstep of one standard deviation; 'false' is an alarm before it, 'delay' the median of those after it")
    for at in (50, 100, 200):
        drawn = [np.concatenate([random.normal(0, 1, at), random.normal(1, 1, LONGEST)]) for _ in range(logs)]
        fair = 1 - (1 - 1 / WANTED) ** at
        print(f"step after {at} values (false alarms of an exact scheme: about {100 * fair:.0f} %)")
        for name, look in rivals.items():
            alarms = [look(log) for log in drawn]
            false = sum(one is not None and one < at for one in alarms) / logs
            late = [(one - at + 1) if one is not None else LONGEST for one in alarms if one is None or one >= at]
            missed = sum(one is None for one in alarms) / logs
            print(f"  {name:34s} false {100 * false:5.1f} %   delay {np.median(late):5.0f} values   "
                  f"never {100 * missed:4.1f} %")  # fmt: skip


if __name__ == "__main__":
    main()
