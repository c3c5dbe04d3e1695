"""
Scaling of long work: 1 and 2 workers, processes and Dask, what handing out a chunk costs, and whether the bits agree.

    python benchmarks/compute_scaling.py [--board src/kilter/data/demo] [--chunks 16] [--per-chunk 60] [--repeat 3]

The work is a sweep over pairs of faults of one board. Efficiency is the speed-up over one worker of the same kind,
divided by the number of workers. Starting the workers is in the figures of processes; a Dask cluster is up before. What
a chunk costs beside its work is measured with chunks that do nothing, as the slope from few of them to many. Runs with
1 and 2 workers take turns and the median of their ratios counts, because other work on the machine comes and goes; the
processor time of both does not depend on that.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from typing import Any

from kilter.compute.run import Finished, Pool, pool_of, run_sweep
from kilter.compute.sweep import Sweep
from kilter.wiring.sweeps import fault_sweep

NOTHINGS = 100
"""Chunks without work."""


def nothing(_shared: Mapping[str, Any], chunk: Mapping[str, Any]) -> int:
    """A chunk that does nothing."""
    return int(chunk["n"])


def timed(sweep: Sweep, pool: Pool) -> Finished:
    """One run in a folder of its own."""
    with TemporaryDirectory(prefix="kilter-scaling-") as folder:
        return run_sweep(sweep, pool, Path(folder) / "results")


@contextmanager
def cluster(workers: int, address: str) -> Iterator[str]:
    """What --workers would say: a number of processes, or the address of a cluster of so many workers."""
    if address == "processes":
        yield str(workers)
        return
    from distributed import LocalCluster

    with LocalCluster(n_workers=workers, threads_per_worker=1, dashboard_address=None) as found:  # type: ignore[no-untyped-call]
        yield found.scheduler_address


def overhead(words: str) -> float:
    """Seconds for each chunk beside its work, on workers that are up: the slope from few chunks to many."""
    walls = []
    for count in (10, NOTHINGS):
        sweep = Sweep("nothing", nothing, {}, [{"n": n} for n in range(count)])
        walls.append(timed(sweep, pool_of(words)).wall)
    return (walls[1] - walls[0]) / (NOTHINGS - 10)


def processor_time() -> float:
    """Of this process and of all that it started and that have ended. [s]"""
    times = os.times()
    return times.user + times.system + times.children_user + times.children_system


def load() -> str:
    """How busy the machine is, this benchmark included, beside its number of processors."""
    busy = f"{os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else "unknown"
    return f"{busy} on {os.cpu_count()} processors"


def main() -> None:
    """Measures and prints."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n")[0])
    parser.add_argument("--board", type=Path, default=Path("src/kilter/data/demo"))
    parser.add_argument("--chunks", type=int, default=16)
    parser.add_argument("--per-chunk", type=int, default=60)
    parser.add_argument("--repeat", type=int, default=3)
    parser.add_argument("--without-dask", action="store_true")
    options = parser.parse_args()
    whole = fault_sweep(options.board, 2, options.per_chunk)
    sweep = replace(whole, chunks=list(whole.chunks)[2 : 2 + options.chunks])
    warm = replace(whole, chunks=list(whole.chunks)[:2])
    print(f"{options.chunks} chunks of {options.per_chunk} fault sets on {options.board}, {options.repeat} times each")
    digests = set()
    for kind in ("processes",) if options.without_dask else ("processes", "Dask"):
        with cluster(1, kind) as one, cluster(2, kind) as two:
            for words in (one, two):
                timed(warm, pool_of(words))
            pairs, spent = [], [[], []]
            for _ in range(options.repeat):
                found = []
                for words, taken in zip((one, two), spent, strict=True):
                    start = processor_time()
                    found.append(timed(sweep, pool_of(words)))
                    taken.append(processor_time() - start)
                pairs.append(found)
            costs = [min(overhead(words) for _ in range(options.repeat)) for words in (one, two)]
        digests |= {done.sha256 for pair in pairs for done in pair}
        speed_up = median(alone.wall / both.wall for alone, both in pairs)
        for workers, runs, each in zip((1, 2), zip(*pairs, strict=True), costs, strict=True):
            chunk = median(done.work for done in runs) / options.chunks
            busy = median(done.efficiency or 0.0 for done in runs)
            wall = median(done.wall for done in runs)
            print(
                f"{kind:9s} {workers} workers: {wall:6.1f} s, {busy:4.0%} of their time is work; a chunk works "
                f"{chunk:.2f} s and costs {1e3 * each:.1f} ms beside ({each * workers / chunk:.2%})"
            )
        if kind == "processes":
            took = [median(taken) for taken in spent]
            print(f"{kind:9s} processor time, start included: 1 worker {took[0]:.1f} s, 2 workers {took[1]:.1f} s")
        print(f"{kind:9s} speed-up {speed_up:.2f}, efficiency {speed_up / 2:.0%}; load {load()}")
    print(f"results agree to the bit: {'yes' if len(digests) == 1 else 'NO'} ({', '.join(sorted(digests))[:16]}...)")


if __name__ == "__main__":
    main()
