"""A Dask cluster as workers; Dask hands a dead worker's chunks to another."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from kilter.compute.local_pool import timed
from kilter.compute.sweep import Sweep
from kilter.measure.errors import KilterError, NotAvailable
from kilter.measure.tables import table


class DaskPool:
    """
    The workers behind a scheduler.

    Args:
        address: Of the scheduler, as 'tcp://10.0.0.5:8786'.
    """

    def __init__(self, address: str) -> None:
        self.address = address
        self.workers = 0
        """How many there were when the sweep began."""
        self.deaths = 0
        """Not counted here: Dask sees to it."""

    def run(self, sweep: Sweep, numbers: Sequence[int]) -> Iterator[tuple[int, dict[str, Any]]]:
        """
        Chunks as they are done, in whatever order.

        Raises:
            NotAvailable: Dask is not installed, or no worker answers at that address.
            KilterError: A chunk ends every worker that gets it.
        """
        doing = f"Cannot work with the cluster at {self.address}"
        try:
            import distributed
        except ImportError:
            raise NotAvailable(
                doing, "no Dask on this machine", "a number of workers without it, or the extra 'cluster'",
                "Install it with 'pip install kilter[cluster]', or say '--workers 2'.",
            ) from None  # fmt: skip
        dask: Any = distributed
        patience = float(table("compute/pool")["patience"]["value"])
        per_worker = int(table("compute/pool")["in_flight"]["value"])
        try:
            client = dask.Client(self.address, timeout=patience, set_as_default=False)
            client.wait_for_workers(1, timeout=patience)
        except (OSError, TimeoutError, ValueError) as error:
            raise NotAvailable(
                doing, f"no answer ({type(error).__name__})", "a scheduler with at least one worker",
                "Start 'dask scheduler' and 'dask worker ADDRESS', or say '--workers 2'.",
            ) from None  # fmt: skip
        with client:
            self.workers = len(client.scheduler_info(n_workers=-1)["workers"])
            (shared,) = client.scatter([dict(sweep.shared)], broadcast=True, hash=False)
            left = list(reversed(numbers))

            def hand_out() -> Any:
                number = left.pop()
                future = client.submit(timed, sweep.work, shared, sweep.chunks[number], pure=False)
                names[future.key] = number
                return future

            names: dict[Any, int] = {}
            queue = dask.as_completed(
                [hand_out() for _ in range(min(len(left), per_worker * max(self.workers, 1)))], loop=client.loop
            )
            for future in queue:
                number = names.pop(future.key)
                try:
                    row = future.result()
                except dask.KilledWorker:
                    raise KilterError(
                        f"Cannot finish the sweep '{sweep.name}'", f"workers that died over {sweep.key(number)}",
                        "chunks that a worker survives",
                        "Look at memory and at this chunk; what was done so far is kept.",
                    ) from None  # fmt: skip
                future.release()
                yield number, row
                if left:
                    queue.add(hand_out())
