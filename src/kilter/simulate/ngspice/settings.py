"""Settings of the reference simulator, read from data/ngspice.toml."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from types import MappingProxyType


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


def _section(name: str) -> Mapping[str, float]:
    table = tomllib.loads(files("kilter.data").joinpath("ngspice.toml").read_text("utf-8"))
    return MappingProxyType({key: float(value) for key, value in table[name].items()})
