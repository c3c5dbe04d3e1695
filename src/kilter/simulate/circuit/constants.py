"""Numbers of the engine, from data/engine.toml."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files


@cache
def engine_number(key: str) -> float:
    """The value of that key, in the unit that its data line states."""
    return _table()[key]


@cache
def thermal_voltage() -> float:
    """kT/q at the engine's temperature. [V]"""
    return engine_number("boltzmann_j_per_k") * engine_number("temperature_k") / engine_number("charge_c")


@cache
def _table() -> dict[str, float]:
    text = files("kilter.data").joinpath("engine.toml").read_text("utf-8")
    return {key: float(entry["value"]) for key, entry in tomllib.loads(text).items()}
