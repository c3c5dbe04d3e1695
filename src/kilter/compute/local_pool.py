"""Processes of this machine as workers; one that dies is replaced and its chunks are done again."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from multiprocessing import get_context, parent_process
from threading import Thread
from typing import Any

from kilter.compute.sweep import Sweep, Work, made_by
from kilter.measure.errors import KilterError
from kilter.measure.tables import table

ONE_THREAD = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS")
"""Set to 1 for workers: sums in an order that depends on a number of threads would not be the same to the bit."""


def timed(work: Work, shared: Mapping[str, Any], chunk: Mapping[str, Any]) -> dict[str, Any]:
    """What a worker does with one chunk: the result, the seconds of work, and what it was made with."""
    start = time.perf_counter()
    result = work(shared, chunk)
    return {"result": result, "seconds": time.perf_counter() - start, "made_by": made_by(), "worker": os.getpid()}


class LocalPool:
    """
    So many processes; 0 does the work in this one.

    Args:
        workers: Number of processes.
    """

    def __init__(self, workers: int) -> None:
        self.workers = workers
        self.deaths = 0
        """Workers' deaths that were survived."""

    def run(self, sweep: Sweep, numbers: Sequence[int]) -> Iterator[tuple[int, dict[str, Any]]]:
        """
        Chunks as they are done, in whatever order.

        Raises:
            KilterError: A chunk ends every worker that gets it.
        """
        if not self.workers:
            for number in numbers:
                yield number, timed(sweep.work, sweep.shared, sweep.chunks[number])
            return
        left, tries = list(reversed(numbers)), dict.fromkeys(numbers, 0)
        with _one_thread():
            while left:
                yield from self._until_one_dies(sweep, left, tries)

    def _until_one_dies(
        self, sweep: Sweep, left: list[int], tries: dict[int, int]
    ) -> Iterator[tuple[int, dict[str, Any]]]:
        """Works `left` off from its end; after a death what was under way is put back there."""
        most = self.workers * int(table("compute/pool")["in_flight"]["value"])
        under_way: dict[Future[dict[str, Any]], int] = {}
        broken = False
        with ProcessPoolExecutor(self.workers, get_context("spawn"), _leave_with_parent) as pool:
            while (left or under_way) and not broken:
                try:
                    while left and len(under_way) < most:
                        under_way[pool.submit(timed, sweep.work, sweep.shared, sweep.chunks[left[-1]])] = left[-1]
                        left.pop()
                    done, _ = wait(under_way, return_when=FIRST_COMPLETED)
                    for future in sorted(done, key=lambda one: under_way[one]):
                        row = future.result()
                        yield under_way.pop(future), row
                except BrokenProcessPool:
                    broken = True
        if broken:
            self.deaths += 1
            back = sorted(under_way.values(), reverse=True)
            for number in back:
                tries[number] += 1
            left.extend(back)
            _refuse_deadly(sweep, tries)


def _leave_with_parent() -> None:
    """A worker whose parent was killed would wait for work for ever; it leaves instead."""
    parent = parent_process()

    def wait_and_leave() -> None:
        if parent is not None:
            parent.join()
            os._exit(1)

    Thread(target=wait_and_leave, daemon=True).start()


def _refuse_deadly(sweep: Sweep, tries: Mapping[int, int]) -> None:
    most = int(table("compute/pool")["most_tries"]["value"])
    deadly = [sweep.key(number) for number, count in tries.items() if count >= most]
    if deadly:
        raise KilterError(
            f"Cannot finish the sweep '{sweep.name}'", f"workers that died {most} times over {', '.join(deadly)}",
            "chunks that a worker survives", "Look at memory and at these chunks; what was done so far is kept.",
        )  # fmt: skip


@contextmanager
def _one_thread() -> Iterator[None]:
    before = {key: os.environ.get(key) for key in ONE_THREAD}
    os.environ.update(dict.fromkeys(ONE_THREAD, "1"))
    try:
        yield
    finally:
        for key, value in before.items():
            if value is None:
                os.environ.pop(key, None)
            else:
                os.environ[key] = value
