"""Work for chunks: sums whose last bit depends on their order, and a chunk that kills its worker."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np


def drawn(shared: Mapping[str, Any], chunk: Mapping[str, Any]) -> list[float]:
    """Random sums from a seed of the chunk's own."""
    random = np.random.default_rng([shared["seed"], chunk["number"]])
    return [float(random.standard_normal(1000).sum()), float(np.exp(random.random()))]


def counted(shared: Mapping[str, Any], chunk: Mapping[str, Any]) -> list[float]:
    """The same, leaving a mark of each time that it was done."""
    with (Path(shared["marks"]) / f"{chunk['number']}").open("a", encoding="utf-8") as file:
        file.write("x")
    return drawn(shared, chunk)


def dying(shared: Mapping[str, Any], chunk: Mapping[str, Any]) -> list[float]:
    """The same, but the first worker that gets chunk 3 is killed from outside its Python, as for lack of memory."""
    mark = Path(shared["marks"]) / "died"
    if chunk["number"] == shared.get("deadly", 3) and (shared.get("always") or not mark.exists()):
        mark.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    time.sleep(0.01)
    return drawn(shared, chunk)


def numbered(_shared: Mapping[str, Any], chunk: Mapping[str, Any]) -> int:
    """The chunk's number."""
    return int(chunk["number"])


def slow(shared: Mapping[str, Any], chunk: Mapping[str, Any]) -> int:
    """A short sleep, after a mark with the number of the process."""
    (Path(shared["marks"]) / f"worker-{os.getpid()}").touch()
    time.sleep(0.2)
    return int(chunk["number"])
