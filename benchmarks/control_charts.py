"""
Would other control charts see in a soak what cumulative sums do not? Run lengths at the same rate of false alarms.

    python benchmarks/control_charts.py [--logs 2000]

Three charts: cumulative sums (allowance 0.5), exponentially weighted moving averages (EWMA), and single values beyond a
limit (Shewhart), all set to the run length 465 of the sums with threshold 5. First, with mean and spread known, run
lengths after a lasting step, by the integral equation, beside published ones (sums and Shewhart: NIST/SEMATECH
e-Handbook, 6.3.2.3, the Shewhart column being 1 / P in closed form; EWMA: Lucas and Saccucci 1990 as in Montgomery's
textbook, at run length 500, from memory). Second, what a soak really does: standardised by the values before, with a
step, a ramp, a single outlier and a spread that grows, after 100 values; median delay, and the share found in 300.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable
from statistics import NormalDist

import numpy as np

from kilter.planning.soak.cusum import Floats, run_length, sums, threshold
from kilter.planning.soak.self_starting import FIRST, standardised

WANTED, BEFORE, AFTER = 465.0, 100, 300
WEIGHTS = (0.05, 0.1, 0.25, 0.4)
NODES = 61
SHIFTS = (0.25, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0)
PUBLISHED = {
    "sums, h = 5": {0.0: 465.0, 0.5: 38.0, 1.0: 10.4, 2.0: 4.01, 3.0: 2.57},
    "Shewhart, 3 sigma": {0.0: 371.0, 0.5: 155.22, 1.0: 44.0, 2.0: 6.30, 3.0: 2.00, 4.0: 1.19},
    "EWMA 0.10, L = 2.814": {0.0: 500.0, 0.5: 31.3, 1.0: 10.3, 2.0: 4.4},
    "EWMA 0.25, L = 2.998": {0.0: 500.0, 0.5: 48.2, 1.0: 11.1, 2.0: 3.6},
    "EWMA 0.40, L = 3.054": {0.0: 500.0, 0.5: 71.2, 1.0: 14.3, 2.0: 3.5},
}
NORMAL = NormalDist()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--logs", type=int, default=2000, help="drawn logs (2000)")
    logs = parser.parse_args().logs
    _against_tables()
    charts = _charts()
    print(f"\nsame run length {WANTED:.0f}, mean and spread known: values to the alarm after a step of so many sigma")
    print(f"{'':24s}" + "".join(f"{shift:8.2f}" for shift in SHIFTS))
    for name, length in _lengths().items():
        print(f"{name:24s}" + "".join(f"{length(shift):8.2f}" for shift in SHIFTS))
    random = np.random.default_rng(7)
    print(f"\nself-starting, {logs} logs, after {BEFORE} steady values: median values to the alarm (found in {AFTER})")
    changes = _changes()
    print(f"{'':24s}" + "".join(f"{name:>20s}" for name in ("false before", *changes)))
    drawn = {name: [change(random) for _ in range(logs)] for name, change in changes.items()}
    scaled = {name: [standardised(one) for one in many] for name, many in drawn.items()}
    for name, chart in charts.items():
        cells = []
        for many in scaled.values():
            alarms = [chart(z) for z in many]
            early = sum(one is not None and one < BEFORE for one in alarms) / logs
            late = [one - BEFORE + 1 if one is not None else None for one in alarms if one is None or one >= BEFORE]
            found = [one for one in late if one is not None]
            cells.append((early, float(np.median(found)) if found else math.nan, len(found) / max(1, len(late))))
        early = float(np.mean([cell[0] for cell in cells]))
        found_words = "".join(f"{middle:11.0f} ({100 * share:3.0f} %)" for _, middle, share in cells)
        print(f"{name:24s}{100 * early:18.1f} %{found_words}")


def _against_tables() -> None:
    print("published run lengths, and those computed here by the integral equation (closed form for single values)")
    for name, row in PUBLISHED.items():
        for shift, told in row.items():
            if name.startswith("sums"):
                found = run_length(0.5, 5.0, shift)
            elif name.startswith("Shewhart"):
                found = single_length(3.0, shift)
            else:
                weight, width = (float(word.strip(",")) for word in (name.split()[1], name.split()[4]))
                found = ewma_length(weight, width, shift)
            print(f"  {name:22s} shift {shift:4.2f}: published {told:8.2f}, computed {found:8.2f}")


def single_length(limit: float, shift: float) -> float:
    """1 over the chance that one value lies beyond the limit."""
    return 1 / (NORMAL.cdf(-limit - shift) + NORMAL.cdf(-limit + shift))


def ewma_length(weight: float, width: float, shift: float) -> float:
    """
    Run length of an average started at 0, limits at `width` of its steady standard deviations.

    Source: S. V. Crowder's integral equation on Gauss-Legendre nodes (1987, from memory).
    """
    end = width * math.sqrt(weight / (2 - weight))
    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    x, w = end * nodes, end * weights
    at = np.concatenate([[0.0], x])
    z = (x[None, :] - (1 - weight) * at[:, None]) / weight - shift
    table = np.exp(-(z**2) / 2) / math.sqrt(2 * math.pi) / weight * w[None, :]
    lengths = np.linalg.solve(np.eye(NODES) - table[1:], np.ones(NODES))
    return float(1 + table[0] @ lengths)


def _width(weight: float) -> float:
    low, high = 1.0, 4.0
    for _ in range(50):
        middle = (low + high) / 2
        low, high = (middle, high) if ewma_length(weight, middle, 0.0) < WANTED else (low, middle)
    return high


def _lengths() -> dict[str, Callable[[float], float]]:
    h, limit = threshold(0.5, WANTED), NORMAL.inv_cdf(1 - 0.5 / WANTED)
    found: dict[str, Callable[[float], float]] = {"cumulative sums": lambda shift: run_length(0.5, h, shift)}
    for weight in WEIGHTS:
        width = _width(weight)
        found[f"EWMA, weight {weight}"] = lambda shift, a=weight, b=width: ewma_length(a, b, shift)  # type: ignore[misc]
    found["single values"] = lambda shift: single_length(limit, shift)
    return found


def _charts() -> dict[str, Callable[[Floats], int | None]]:
    h, limit = threshold(0.5, WANTED), NORMAL.inv_cdf(1 - 0.5 / WANTED)

    def moving(weight: float) -> Callable[[Floats], int | None]:
        end = _width(weight) * math.sqrt(weight / (2 - weight))

        def look(z: Floats) -> int | None:
            average = 0.0
            for place, value in enumerate(z[FIRST:], FIRST):
                average += weight * (value - average)
                if abs(average) > end:
                    return place
            return None

        return look

    def single(z: Floats) -> int | None:
        over = np.flatnonzero(np.abs(z[FIRST:]) > limit)
        return int(over[0]) + FIRST if len(over) else None

    both = moving(0.1)
    return {
        "cumulative sums": lambda z: sums(z, 0.5, h).alarm,
        **{f"EWMA, weight {one}": moving(one) for one in WEIGHTS},
        "single values": single,
        "sums or EWMA 0.1": lambda z: min((a for a in (sums(z, 0.5, h).alarm, both(z)) if a is not None), default=None),
    }


def _changes() -> dict[str, Callable[[np.random.Generator], Floats]]:
    def made(mean: Floats, spread: float = 1.0) -> Callable[[np.random.Generator], Floats]:
        def draw(random: np.random.Generator) -> Floats:
            after: Floats = mean + random.normal(0, spread, AFTER)
            return np.concatenate([random.normal(0, 1, BEFORE), after])

        return draw

    one = np.ones(AFTER)
    out = np.zeros(AFTER)
    out[0] = 5.0
    return {
        "step 0.5": made(0.5 * one), "step 1": made(one), "step 3": made(3 * one),
        "ramp 0.01": made(0.01 * np.arange(AFTER)), "one value off by 5": made(out),
        "spread times 1.5": made(0 * one, 1.5),
    }  # fmt: skip


if __name__ == "__main__":
    main()
