"""Settings of the reference simulator, read from data/ngspice.toml."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any


@cache
def tight_options() -> Mapping[str, float]:
    """
    The simulator options that make ngspice a reference.

    >>> tight_options()["reltol"]
    1e-06
    """
    return _section("options")


@cache
def worker_limits() -> Mapping[str, float]:
    """Time limit of one job [s] and number of analyses after which a worker process is renewed."""
    return _section("worker")


@cache
def soundness_limits() -> Mapping[str, float]:
    """How far an answer may miss its own equations: source_error_v [V], current_error_a [A], current_error_share."""
    return _section("soundness")


@cache
def pivot_thresholds() -> tuple[float, ...]:
    """
    Pivot thresholds in the order in which they are tried.

    >>> pivot_thresholds()[0]
    0.001
    """
    return tuple(_table()["pivots"]["thresholds"])


def _section(name: str) -> Mapping[str, float]:
    return MappingProxyType({key: float(value) for key, value in _table()[name].items()})


@cache
def _table() -> dict[str, Any]:
    return tomllib.loads(files("kilter.data").joinpath("ngspice.toml").read_text("utf-8"))
