"""
Address decoder faults: which cells an address reaches, run through a march test.

The four kinds of the literature (van de Goor, Testing Semiconductor Memories, from memory), for addresses x and y:
A: x reaches nothing; B: x reaches nothing and y reaches both cells; C: x reaches the cell of y; D: x reaches both.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import permutations, product

from kilter.signals.memory.march import MarchTest

Reached = tuple[tuple[int, ...], ...]
"""Cells that each address reaches."""

KINDS = ("A", "B", "C", "D")


def decoders(kind: str, addresses: int) -> Iterator[Reached]:
    """Every decoder of that many addresses with one fault of the kind."""
    for x, y in permutations(range(addresses), 2):
        reached = [(at,) for at in range(addresses)]
        changes: dict[str, dict[int, tuple[int, ...]]] = {
            "A": {x: ()}, "B": {x: (), y: (x, y)}, "C": {x: (y,)}, "D": {x: (x, y)},
        }  # fmt: skip
        yield tuple(changes[kind].get(at, cells) for at, cells in enumerate(reached))


def coverage(test: MarchTest, kind: str, addresses: int = 4) -> tuple[int, int]:
    """
    Decoder faults of the kind that the test detects, and all of them.

    Cells read together give their AND or their OR, and where none is reached 0, 1 or what was on the line before; a
    fault counts as detected only if it is for every such behaviour, start content and way of the 'either' elements.
    """
    every = set(decoders(kind, addresses))
    return sum(_detected(test, reached, addresses) for reached in every), len(every)


def _detected(test: MarchTest, reached: Reached, addresses: int) -> bool:
    behaviours = product((min, max), (0, 1, None), product((0, 1), repeat=addresses), (False, True))
    return all(_shown(test, reached, join, empty, list(start), down) for join, empty, start, down in behaviours)


def _shown(test: MarchTest, reached: Reached, join: object, empty: int | None, cells: list[int], down: bool) -> bool:
    line = 0
    for element in test.elements:
        backwards = element.order == "down" or (element.order == "either" and down)
        for address in sorted(range(len(reached)), reverse=backwards):
            for operation in element.operations:
                if operation.write:
                    line = operation.value
                    for cell in reached[address]:
                        cells[cell] = operation.value
                    continue
                read = [cells[cell] for cell in reached[address]]
                line = (min(read) if join is min else max(read)) if read else line if empty is None else empty
                if line != operation.value:
                    return True
    return False
