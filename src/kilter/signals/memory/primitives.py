"""
Fault primitives of memory cells: <S/F/R> for one cell, <Sa;Sv/F/R> for an aggressor and a victim.

S is a state ('0') or an operation on a state ('0w1': holds 0, 1 is written), F the value that the victim then holds, R
what a read gives ('-' where none is sensitised). Notation: van de Goor and Al-Ars, VLSI Test Symposium 2000.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from kilter.measure.errors import BadInput
from kilter.measure.tables import table

WORDS = re.compile(r"<(?:([01])(?:([rw])([01]))?;)?([01])(?:([rw])([01]))?/([01])/([01-])>")
NONE = -1
"""Stands for 'no such cell, operation or value' in a primitive."""


@dataclass(frozen=True, slots=True)
class Cell:
    """What a primitive asks of one cell: its state, and the operation on it (1 write, 0 read) with its value."""

    state: int = NONE
    write: int = NONE
    value: int = NONE


@dataclass(frozen=True, slots=True)
class Primitive:
    """One fault primitive; a fault of a single cell has an aggressor that asks nothing."""

    aggressor: Cell
    victim: Cell
    becomes: int
    gives: int

    @property
    def two_cells(self) -> bool:
        """Whether an aggressor takes part."""
        return self.aggressor.state != NONE


def primitive(words: str) -> Primitive:
    """
    The primitive of a notation.

    Raises:
        BadInput: It cannot be read.

    >>> primitive("<0w1;1/0/->").becomes
    0
    """
    found = WORDS.fullmatch(words.strip())
    if not found:
        raise BadInput("Cannot read a fault primitive", f"'{words[:40]}'",
                       "<0w1/0/->, <0r0/1/0>, <1;0w1/0/-> and the like", "Correct the notation.")  # fmt: skip
    return Primitive(_cell(*found.group(1, 2, 3)), _cell(*found.group(4, 5, 6)), int(found[7]),
                     NONE if found[8] == "-" else int(found[8]))  # fmt: skip


def _cell(state: str | None, operation: str | None, value: str | None) -> Cell:
    if state is None:
        return Cell()
    if operation is None or value is None:
        return Cell(int(state))
    return Cell(int(state), int(operation == "w"), int(value))


Fault = tuple[Primitive, ...]
"""Primitives that are all present at the same cells."""


@cache
def families() -> Mapping[str, tuple[Fault, ...]]:
    """The fault families of the data file, by key."""
    rows = table("memory")["families"]
    return {key: tuple(tuple(map(primitive, one.split("&"))) for one in row["faults"]) for key, row in rows.items()}
