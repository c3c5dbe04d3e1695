"""Logic families: what an open input reads and what an unsupplied chip drives, from data/logic/families.toml."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from kilter.measure.errors import BadInput
from kilter.simulate.logic.netlist import Chip


@dataclass(frozen=True, slots=True)
class Family:
    """Values as '0', '1', 'Z' or 'X', and where they come from."""

    key: str
    open_input: str
    unsupplied: str
    kind: str
    source: str


@cache
def families() -> Mapping[str, Family]:
    """Every family in the data file, by key."""
    table = tomllib.loads(files("kilter.data").joinpath("logic/families.toml").read_text("utf-8"))
    return {key: Family(key=key, **entry) for key, entry in table.items()}


def family_of(chips: Mapping[str, Chip], part: str) -> Family:
    """
    Family of a part; a part that nothing is known of is taken as CMOS, whose open inputs are unknown.

    Raises:
        BadInput: The chip names a family that the data lacks.
    """
    key = chips[part].family if part in chips else "cmos"
    if key in families():
        return families()[key]
    raise BadInput(
        f"Cannot look up the logic family of {part}",
        f"the family '{key}'",
        ", ".join(families()),
        "Use one of these names or add the family to the data file.",
    )
