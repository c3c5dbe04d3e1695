"""
Time to explain a memory dump against its image, beside a plain loop over words.

Run: python benchmarks/memory_dump.py [words] [width]

A dump is made from random contents with one faulty line, and compared; every hypothesis is scored on a sample and the
leaders on every word. The baseline scores the same hypotheses in plain Python, each on every word; it is run on a few
hypotheses and words and multiplied. One core (set OMP_NUM_THREADS=1).
"""

from __future__ import annotations

import resource
import sys
import time

import numpy as np

from kilter.signals.memory.candidates import candidates
from kilter.signals.memory.changes import Change, read_through
from kilter.signals.memory.comparison import compare
from kilter.signals.memory.contents import WIDTHS, Contents

RUNS, BASELINE_HYPOTHESES, BASELINE_WORDS = 3, 10, 20_000
FAULTS = (Change("address_stuck_low", (7,)), Change("data_short_and", (0, 2)), Change("address_swap", (3, 9)))


def plain(image: list[int], dump: list[int], line: int) -> int:
    """Wrong bits when one address line is stuck low."""
    return sum((image[address & ~(1 << line)] ^ word).bit_count() for address, word in enumerate(dump))


def baseline(image: Contents, dump: Contents) -> float:
    """Seconds for one hypothesis and word in plain Python."""
    words = min(BASELINE_WORDS, len(image.words))
    stored, read = image.words.tolist(), dump.words[:words].tolist()
    start = time.perf_counter()
    for line in range(BASELINE_HYPOTHESES):
        plain(stored, read, line % image.lines)
    return (time.perf_counter() - start) / BASELINE_HYPOTHESES / words


def main() -> None:
    words, width = (int(size, 0) for size in (sys.argv[1:] or ("0x100000", "8")))
    random = np.random.default_rng(0)
    held = random.integers(0, 1 << width, words, dtype=np.uint64).astype(WIDTHS[width])
    image, addresses = Contents(held, width), np.arange(words, dtype=np.int64)
    for change in FAULTS:
        dump = Contents(read_through(image, addresses, (change,)), width)
        times = []
        for _ in range(RUNS):
            start = time.perf_counter()
            found = compare(image, [dump])
            times.append(time.perf_counter() - start)
        assert found.verdict.findings[0].explanation.hypothesis == (change,)
        tried = len(candidates(image, dump).changes)
        slow = baseline(image, dump) * tried * words
        print(f"{change.kind:20} {min(times):6.2f} s   plain loop over {tried} hypotheses {slow:7.0f} s (extrapolated)"
              f"   ratio {slow / min(times):6.0f}")  # fmt: skip
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{words} words of {width} bits, best of {RUNS}; peak memory {peak:.0f} MiB")


if __name__ == "__main__":
    main()
