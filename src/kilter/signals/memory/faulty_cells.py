"""
A small memory with faults, run through a march test: one row for each start content.

Cells hold 0 or 1. An operation first finds which primitives it sensitises, from the states before it; then it acts;
then the primitives that ask for states alone act until nothing changes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import permutations, product

import numpy as np
from numpy.typing import NDArray

from kilter.signals.memory.march import MarchTest, Operation
from kilter.signals.memory.primitives import NONE, Cell, Fault, Primitive

Bits = NDArray[np.int8]
Flags = NDArray[np.bool_]


def placed(fault: Fault, cells: int) -> list[tuple[int, int]]:
    """(victim, aggressor) at every place of a memory of that many cells."""
    if any(one.two_cells for one in fault):
        return list(permutations(range(cells), 2))
    return [(cell, cell) for cell in range(cells)]


def detects(test: MarchTest, fault: Fault, victim: int, aggressor: int, cells: int) -> bool:
    """Whether a read differs for every start content and whichever way the 'either' elements go."""
    start = np.array(list(product((0, 1), repeat=cells)), dtype=np.int8)
    return all(bool(_run(test, fault, victim, aggressor, start, down=down).all()) for down in (False, True))


def _run(test: MarchTest, fault: Fault, victim: int, aggressor: int, start: Bits, *, down: bool) -> Flags:
    """Which start contents show the fault, shape (contents,)."""
    memory = _Memory(fault, victim, aggressor, start.copy())
    memory.settle()
    shown = np.zeros(len(start), dtype=bool)
    for element in test.elements:
        order = range(start.shape[1])
        backwards = element.order == "down" or (element.order == "either" and down)
        for cell in reversed(order) if backwards else order:
            for operation in element.operations:
                read = memory.access(cell, operation)
                shown |= ~np.bool_(operation.write) & (read != operation.value)
    return shown


@dataclass
class _Memory:
    """States of all cells, shape (contents, cells), with one fault at one place."""

    fault: Fault
    victim: int
    aggressor: int
    state: Bits

    def access(self, cell: int, operation: Operation) -> Bits:
        """Does one operation; returns what is read, or for a write what is written."""
        hits = [(one, self._sensitised(one, cell, operation)) for one in self.fault]
        read = self.state[:, cell].copy()
        if operation.write:
            read[:] = operation.value
            self.state[:, cell] = operation.value
        for one, hit in hits:
            self.state[hit, self.victim] = one.becomes
            if one.gives != NONE:
                read[hit] = one.gives
        self.settle()
        return read

    def settle(self) -> None:
        """Lets the primitives that ask for states alone act; two rounds suffice for one victim."""
        for _ in range(2):
            for one in self.fault:
                if one.victim.write == NONE and one.aggressor.write == NONE:
                    hit = self._in_state(one)
                    self.state[hit, self.victim] = one.becomes

    def _sensitised(self, one: Primitive, cell: int, operation: Operation) -> Flags:
        """Contents in which this operation sensitises a primitive that asks for an operation."""
        asked = [(self.victim, one.victim), (self.aggressor, one.aggressor)]
        operated = [(place, what) for place, what in asked if what.write != NONE]
        if not operated or not all(place == cell and _is(what, operation) for place, what in operated):
            return np.zeros(len(self.state), dtype=bool)
        return self._in_state(one)

    def _in_state(self, one: Primitive) -> Flags:
        hit = self.state[:, self.victim] == one.victim.state
        if one.two_cells:
            hit &= self.state[:, self.aggressor] == one.aggressor.state
        return np.asarray(hit, dtype=bool)


def _is(asked: Cell, operation: Operation) -> bool:
    return asked.write == int(operation.write) and asked.value == operation.value


def all_detected(test: MarchTest, faults: Sequence[Fault], cells: int) -> tuple[int, int]:
    """
    Faults at places that the test detects, and all of them; a place is 'aggressor below' or 'above' the victim.

    A two-cell fault counts once for each order of its cells and is detected only if it is at every pair in that order.
    """
    found = of = 0
    for fault in faults:
        places = placed(fault, cells)
        groups = [[p for p in places if p[0] > p[1]], [p for p in places if p[0] < p[1]]]
        for group in groups if groups[0] else [places]:
            of += 1
            found += all(detects(test, fault, victim, aggressor, cells) for victim, aggressor in group)
    return found, of
