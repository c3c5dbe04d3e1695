"""
March tests in the notation of the literature: {⇕(w0);⇑(r0,w1);⇓(r1,w0)}.

An element goes once through all addresses, upwards (⇑), downwards (⇓) or either way (⇕), and does all its operations at
one address before it goes on to the next. '0' stands for the data background, '1' for its complement.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache

from kilter.measure.errors import BadInput
from kilter.measure.tables import table

ORDERS = {
    "⇑": "up", "↑": "up", "up": "up", "⇓": "down", "↓": "down", "down": "down",
    "⇕": "either", "↕": "either", "any": "either",
}  # fmt: skip
ELEMENT = re.compile(r"(\w+|[⇑⇓⇕↑↓↕])\s*\(([^()]*)\)")
OPERATION = re.compile(r"([rw])([01])")
LONGEST = 2000
"""Characters of a notation; the longest published one has fewer than 200."""


@dataclass(frozen=True, slots=True)
class Operation:
    """One access: write or read, of the background (0) or its complement (1)."""

    write: bool
    value: int

    def __str__(self) -> str:
        return f"{'w' if self.write else 'r'}{self.value}"


@dataclass(frozen=True, slots=True)
class Element:
    """One pass through all addresses; order is 'up', 'down' or 'either'."""

    order: str
    operations: tuple[Operation, ...]


@dataclass(frozen=True, slots=True)
class MarchTest:
    """A march test; `length` is the number of accesses of each address."""

    name: str
    elements: tuple[Element, ...]
    source: str = ""

    @property
    def length(self) -> int:
        """Accesses of each address."""
        return sum(len(element.operations) for element in self.elements)

    def steps(self, words: int) -> Iterator[tuple[int, int, Operation]]:
        """Every access in order: number of the element, address, operation; 'either' goes upwards."""
        for at, element in enumerate(self.elements):
            addresses = range(words - 1, -1, -1) if element.order == "down" else range(words)
            for address in addresses:
                for operation in element.operations:
                    yield at, address, operation


def parse_march(notation: str, name: str = "this test", source: str = "") -> MarchTest:
    """
    The test of a notation.

    Raises:
        BadInput: It cannot be read, or reads a value that the cells do not hold at that moment.

    >>> parse_march("{⇕(w0);⇑(r0,w1);⇓(r1,w0)}").length
    5
    """
    body = notation.strip()
    if not 2 <= len(body) <= LONGEST or body[0] != "{" or body[-1] != "}":
        raise _bad(name, f"'{body[:60]}'")
    pieces = [piece.strip() for piece in body[1:-1].split(";")]
    test = MarchTest(name, tuple(_element(piece, name) for piece in pieces), source)
    _check_values(test)
    return test


def _element(piece: str, name: str) -> Element:
    found = ELEMENT.fullmatch(piece)
    if not found or found[1] not in ORDERS:
        raise _bad(name, f"the element '{piece[:60]}'")
    words = [word.strip() for word in found[2].split(",")]
    for word in words:
        if not OPERATION.fullmatch(word):
            raise _bad(name, f"the operation '{word[:20]}' in '{piece[:60]}'")
    return Element(ORDERS[found[1]], tuple(Operation(word[0] == "w", int(word[1])) for word in words))


def _check_values(test: MarchTest) -> None:
    held: int | None = None
    for at, element in enumerate(test.elements):
        for operation in element.operations:
            if not operation.write and operation.value != held:
                raise BadInput(
                    f"Cannot read the march test {test.name}",
                    f"the operation {operation} in element {at}, where a good memory holds "
                    + ("what nobody has written" if held is None else str(held)),
                    "reads of the value that was written last", "Correct the notation.",
                )  # fmt: skip
            held = operation.value


def _bad(name: str, found: str) -> BadInput:
    return BadInput(
        f"Cannot read the march test {name}", found,
        "elements ⇑(...), ⇓(...), ⇕(...), or up(...), down(...), any(...), with the operations w0 w1 r0 r1, as "
        "{⇕(w0);⇑(r0,w1);⇓(r1,w0)}", "Correct the notation.",
    )  # fmt: skip


@cache
def march_tests() -> Mapping[str, MarchTest]:
    """The published tests of the data file, by key."""
    rows = table("memory")["tests"]
    return {key: parse_march(row["notation"], row["words"], row["source"]) for key, row in rows.items()}


def march_test(name: str) -> MarchTest:
    """
    A published test by key or name, or the test of a notation in braces.

    Raises:
        BadInput: No such test, or a notation that cannot be read.
    """
    if name.strip().startswith("{"):
        return parse_march(name)
    key = name.strip().lower().replace(" ", "-")
    if key in march_tests():
        return march_tests()[key]
    raise BadInput("Cannot find a march test", f"the name '{name[:40]}'", ", ".join(march_tests()) + ", or a notation",
                   "Use one of these names or write the notation in braces.")  # fmt: skip
