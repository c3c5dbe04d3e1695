"""The weigher's and the asker's numbers, read from data/diagnosis.toml and data/costs.toml."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any


@cache
def _numbers() -> Mapping[str, Any]:
    folder = files("kilter.data")
    tables = [tomllib.loads(folder.joinpath(name).read_text("utf-8")) for name in ("diagnosis.toml", "costs.toml")]
    return {key: entry["value"] for table in tables for key, entry in table.items()}


def setting(key: str) -> float:
    """
    One number by its key.

    >>> 0 < setting("outlier") < 0.5
    True
    """
    return float(_numbers()[key])


def settings(key: str) -> Any:
    """A list or a table of numbers by its key."""
    return _numbers()[key]
