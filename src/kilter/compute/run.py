"""Runs a sweep to its end, or on from where it was, and says what it took."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from kilter.compute.dask_pool import DaskPool
from kilter.compute.local_pool import LocalPool
from kilter.compute.result_folder import ResultFolder, digest
from kilter.compute.sweep import Sweep
from kilter.measure.errors import BadInput

MOST_PROCESSES = 256


class Pool(Protocol):
    """Whoever does the chunks."""

    workers: int
    deaths: int

    def run(self, sweep: Sweep, numbers: Sequence[int]) -> Iterator[tuple[int, dict[str, Any]]]:
        """Chunks as they are done, in whatever order."""


@dataclass(frozen=True)
class Finished:
    """
    A whole sweep.

    Args:
        results: One for each chunk, in the order of the chunks.
        sha256: Over all results: two runs that agree in it agree in every bit.
        workers: Who did it this time.
        deaths: Workers that died and were replaced, where that is known.
        resumed: Chunks that an earlier run had done.
        wall: Of this run. [s]
        work: Of the chunks of this run, in their workers, added up. [s]
        made_by: What the workers computed with; more than one is worth a look.
    """

    results: tuple[Any, ...]
    sha256: str
    workers: int
    deaths: int
    resumed: int
    wall: float
    work: float
    made_by: tuple[str, ...]

    @property
    def efficiency(self) -> float | None:
        """Share of the workers' time that was work; None where nothing was left to do."""
        return self.work / (self.wall * max(self.workers, 1)) if self.work and self.wall else None


def pool_of(words: str) -> Pool:
    """
    The pool that '--workers' names: a number of processes here, or the address of a Dask scheduler.

    Raises:
        BadInput: It is neither.

    >>> pool_of("2").workers
    2
    """
    if words.isascii() and words.isdigit() and int(words) <= MOST_PROCESSES:
        return LocalPool(int(words))
    if ":" in words:
        return DaskPool(words)
    raise BadInput("Cannot tell who should do the work", f"--workers '{words}'",
                   f"0 to {MOST_PROCESSES} processes of this machine, or a scheduler's address as tcp://HOST:8786",
                   "Say '--workers 2'.")  # fmt: skip


def silent(_done: int, _of: int) -> None:
    """Tells nobody."""


def run_sweep(sweep: Sweep, pool: Pool, folder: Path, *, progress: Callable[[int, int], None] = silent) -> Finished:
    """
    Does what is not done yet, keeps each chunk as it comes, and puts the whole together.

    Args:
        sweep: What to do.
        pool: Who does it.
        folder: Where results are kept; with results of the same sweep in it, only the rest is done.
        progress: Told how many chunks are done, and of how many.

    Raises:
        BadInput: The folder is another sweep's.
        NotAvailable: There are no such workers.
        KilterError: A chunk ends every worker that gets it.
    """
    kept = ResultFolder(folder, sweep)
    done = kept.done()
    resumed, start, work = len(done), time.perf_counter(), 0.0
    left = [number for number in range(len(sweep.chunks)) if number not in done]
    progress(len(done), len(sweep.chunks))
    for number, row in pool.run(sweep, left) if left else ():
        kept.keep(number, row)
        done[number] = row
        work += row["seconds"]
        progress(len(done), len(sweep.chunks))
    wall = time.perf_counter() - start
    results = tuple(done[number]["result"] for number in range(len(sweep.chunks)))
    makers = tuple(sorted({row["made_by"] for row in done.values()}))
    return Finished(results, digest(list(results)), pool.workers, pool.deaths, resumed, wall, work, makers)
