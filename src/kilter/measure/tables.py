"""Read a table of numbers from the data folder, once."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files
from typing import Any


@cache
def table(name: str) -> dict[str, Any]:
    """The whole of data/NAME.toml; shared, so not to be changed."""
    return tomllib.loads(files("kilter.data").joinpath(f"{name}.toml").read_text("utf-8"))
