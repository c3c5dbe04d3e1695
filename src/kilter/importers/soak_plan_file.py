"""Soak plans: the channels of a soak with their limits; see docs/soak.md."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

from kilter.importers.toml_tables import Table, read_toml
from kilter.measure.quantities import quantities, quantity
from kilter.planning.soak.channel import Channel


@dataclass(frozen=True)
class SoakPlanFile:
    """What stands in the file: title, planned hours (0 where none are told), channels."""

    title: str
    hours: float
    channels: tuple[Channel, ...]


def read_soak_plan(path: Path) -> SoakPlanFile:
    """
    The plan in a file.

    Raises:
        BadInput: Not readable, a key unknown, a limit in the wrong unit, or a low above its high.
    """
    file = read_toml(path, "the soak plan")
    if file.take("kilter") != 1:
        raise file.bad("kilter", file.values.get("kilter"), "kilter = 1", "Write kilter = 1.")
    title, hours = file.needed_text("soak"), file.number("hours", "", 0.0) or 0.0
    channels = tuple(_channel(name, row) for name, row in file.tables("channels"))
    if not channels:
        raise file.bad("channels", None, "one channel or more under [channels]", "Name what is logged.")
    file.done()
    return SoakPlanFile(title, hours, channels)


def _channel(name: str, row: Table) -> Channel:
    key = row.text("quantity")
    if key and key not in quantities():
        raise row.bad("quantity", key, ", ".join(quantities()), "Use one of these, or leave it out.")
    unit = quantity(key).unit if key else ""
    low, high = row.number("low", unit), row.number("high", unit)
    if low is not None and high is not None and low >= high:
        raise row.bad("low", row.values.get("low"), f"a number below 'high', which is {row.values.get('high')!r}",
                      "Exchange or correct them.")  # fmt: skip
    why = row.text("why")
    row.done()
    return Channel(name, key, unit, -math.inf if low is None else low, math.inf if high is None else high, why)
