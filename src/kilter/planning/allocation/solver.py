"""The optimiser: an extra (scipy's HiGHS), loaded where a plan is asked for; its absence is said in words."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module
from typing import Any

from kilter.measure.errors import NotAvailable

EXTRA = "plan"


def optimiser() -> Any:
    """
    The optimisation module of scipy.

    Raises:
        NotAvailable: It is not installed.
    """
    return _module("scipy.optimize")


def sparse() -> Any:
    """
    The sparse matrices of scipy.

    Raises:
        NotAvailable: It is not installed.
    """
    return _module("scipy.sparse")


@contextmanager
def aside() -> Iterator[None]:
    """
    Sends what the optimiser itself prints to stderr: some versions write lines of their own among the answers.

    Python's stdout is emptied first, so that nothing of ours goes the wrong way.
    """
    sys.stdout.flush()
    try:
        kept = os.dup(1)
    except OSError:
        yield
        return
    try:
        os.dup2(2, 1)
        yield
    finally:
        os.dup2(kept, 1)
        os.close(kept)


def _module(name: str) -> Any:
    try:
        return import_module(name)
    except ImportError:
        raise NotAvailable(
            "Cannot share out the parts", "no scipy on this machine", f"plans with the extra '{EXTRA}' installed",
            f"Install it: pip install 'kilter[{EXTRA}]'.",
        ) from None  # fmt: skip
