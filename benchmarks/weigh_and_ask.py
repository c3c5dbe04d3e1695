"""
Time to weigh 50,000 hypotheses and to value 500 tests over all of them.

Run: python benchmarks/weigh_and_ask.py [hypotheses] [tests]

Synthetic: 80 % of the hypotheses leave a point healthy, three classes of spread, 20 readings, and log-normal weights so
heavy-tailed that almost every hypothesis counts. One core (set OMP_NUM_THREADS=1). The baseline values a test with one
table of normal distribution functions, hypotheses by 320 bins, in plain numpy; it is run on a few tests and multiplied.
"""

from __future__ import annotations

import resource
import sys
import time
from math import erf

import numpy as np

from kilter.diagnose.evidence import Evidence
from kilter.diagnose.information import numeric_bits
from kilter.diagnose.weigh import weigh
from kilter.records.test import Test
from kilter.simulate.prediction import Floats, Prediction

READINGS, BINS, BASELINE_TESTS, RUNS = 20, 320, 2, 3
NOISE, WIDTH, GROSS, RANGE = 0.02, 12.0, 0.02, 12.0
ERF = np.frompyfunc(erf, 1, 1)


def board(hypotheses: int, tests: int) -> tuple[Prediction, Floats, list[Evidence]]:
    random = np.random.default_rng(0)
    healthy = random.uniform(0, RANGE, tests)
    mean = np.where(random.random((hypotheses, tests)) < 0.8, healthy, random.uniform(0, RANGE, (hypotheses, tests)))
    spread = random.choice([0.05, 0.1, 0.3], (hypotheses, tests))
    names = tuple(Test(f"t{t}", "voltage", "on") for t in range(tests))
    weights = np.exp(random.normal(0, 2, hypotheses))
    evidence = [Evidence(names[t], float(mean[7, t]), sd=NOISE, width=WIDTH) for t in range(READINGS)]
    return Prediction(names, mean, spread, np.zeros_like(mean)), weights / weights.sum(), evidence


def baseline(weights: Floats, mean: Floats, spread: Floats) -> float:
    """One test by its definition: every hypothesis' chance of every bin. [bit]"""
    edges = np.linspace(-2.0, RANGE + 2.0, BINS + 1)
    z = (edges[None, :] - mean[:, None]) / (np.hypot(spread, NOISE)[:, None] * np.sqrt(2.0))
    grid = np.linspace(-6.0, 6.0, 6001)
    below = np.interp(z, grid, 0.5 * (1.0 + ERF(grid).astype(float)))
    chances = (1.0 - GROSS) * np.diff(below, axis=1) + GROSS / BINS
    mixture = weights @ chances
    inner = weights @ -(chances * np.log2(chances)).sum(axis=1)
    return float(-(mixture * np.log2(mixture)).sum() - inner)


def best_time(work: object) -> float:
    assert callable(work)
    times = []
    for _ in range(RUNS):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def main() -> None:
    hypotheses, tests = (int(size) for size in (sys.argv[1:] or ("50000", "500")))
    prediction, weights, evidence = board(hypotheses, tests)
    full = [np.full(tests, value) for value in (NOISE, WIDTH, GROSS)]
    weighing = best_time(lambda: weigh([prediction], evidence))
    asking = best_time(lambda: numeric_bits(weights, prediction.mean, prediction.spread, *full))
    ours = numeric_bits(weights, prediction.mean, prediction.spread, *full)
    start = time.perf_counter()
    theirs = [baseline(weights, prediction.mean[:, t], prediction.spread[:, t]) for t in range(BASELINE_TESTS)]
    plain = (time.perf_counter() - start) / BASELINE_TESTS * tests
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    moved = 2 * 8 * hypotheses * tests / 1e9
    print(f"{hypotheses} hypotheses, {tests} tests, {READINGS} readings, best of {RUNS}")
    print(f"weigh                {weighing:8.3f} s")
    print(f"ask (one step)       {asking:8.3f} s   {asking / hypotheses / tests * 1e9:.1f} ns per hypothesis and test")
    print(f"plain numpy table    {plain:8.1f} s   extrapolated from {BASELINE_TESTS} tests")
    print(f"ratio                {plain / asking:8.0f}")
    difference = max(abs(a - b) for a, b in zip(ours, theirs, strict=False))
    print(f"largest difference   {difference:8.4f} bit of {theirs[0]:.3f}")
    print(f"peak memory          {peak:8.0f} MB, of which the predictions {moved * 1e3:.0f} MB")


if __name__ == "__main__":
    main()
