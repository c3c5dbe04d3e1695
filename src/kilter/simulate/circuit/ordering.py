"""
Pivot order and symbolic LU: done once per topology, reused by every lane.

The matrix is unsymmetric (voltage sources, controlled sources, transistors). Rows are first permuted so that every
diagonal holds an entry that no fault can make zero; the diagonal is then eliminated in an order that keeps fill low
(Markowitz count, restricted to the diagonal). Source: Duff, Erisman and Reid, Direct Methods for Sparse Matrices,
chapters 5 and 7 (from memory).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from kilter.measure.errors import BadInput

Integers = NDArray[np.int64]


@dataclass(frozen=True)
class Factorisation:
    """
    A straight-line recipe for LU and the two triangular solves.

    Slots 0..slots-1 hold the matrix and its fill; slot `slots` is a bin for stamps on ground. With pivots taken in
    order 0..n-1: `pivot_slot[k]` is the diagonal, `lower_slot[lower_start[k]:lower_start[k+1]]` the column below it
    with rows `lower_row`, `upper_slot[...]` the row right of it with columns `upper_column`, and `target[...]` the
    slots of their outer product, row by row.
    """

    size: int
    slots: int
    slot_of: dict[tuple[int, int], int]
    row_at: Integers
    column_at: Integers
    pivot_slot: Integers
    lower_start: Integers
    lower_slot: Integers
    lower_row: Integers
    upper_start: Integers
    upper_slot: Integers
    upper_column: Integers
    target_start: Integers
    target: Integers

    @cached_property
    def plan(self) -> list[tuple[int, list[tuple[int, int, Integers]], Integers, Integers]]:
        """For each pivot: its slot, (slot, row, targets) of each entry below, slots and columns at its right."""
        found = []
        for k in range(self.size):
            right = slice(int(self.upper_start[k]), int(self.upper_start[k + 1]))
            width, first = right.stop - right.start, int(self.target_start[k])
            below = []
            for place in range(int(self.lower_start[k]), int(self.lower_start[k + 1])):
                below.append(
                    (int(self.lower_slot[place]), int(self.lower_row[place]), self.target[first : first + width])
                )
                first += width
            found.append((int(self.pivot_slot[k]), below, self.upper_slot[right], self.upper_column[right]))
        return found

    def without(self, filled: NDArray[np.bool_]) -> Factorisation:
        """
        The recipe without the steps that would multiply by nothing.

        Args:
            filled: Slots that hold anything before elimination, shape (slots + 1,).
        """
        holds = filled.copy()
        lower: list[list[int]] = []
        upper: list[NDArray[np.intp]] = []
        targets: list[Integers] = []
        for k, (_, below, right, _) in enumerate(self.plan):
            kept = holds[right]
            first = int(self.lower_start[k])
            rows = [place for place, (slot, _, _) in enumerate(below, first) if holds[slot]]
            for place in rows:
                target = below[place - first][2][kept]
                holds[target] = True
                targets.append(target)
            lower.append(rows)
            upper.append(np.flatnonzero(kept) + int(self.upper_start[k]))
        low = np.array([place for rows in lower for place in rows], dtype=np.int64)
        up = np.concatenate(upper) if upper else np.empty(0, dtype=np.int64)
        return replace(
            self,
            lower_start=np.cumsum([0, *map(len, lower)]),
            lower_slot=self.lower_slot[low],
            lower_row=self.lower_row[low],
            upper_start=np.cumsum([0, *map(len, upper)]),
            upper_slot=self.upper_slot[up],
            upper_column=self.upper_column[up],
            target_start=np.cumsum([0, *(len(rows) * len(right) for rows, right in zip(lower, upper, strict=True))]),
            target=np.concatenate(targets) if targets else np.empty(0, dtype=np.int64),
        )

    @property
    def steps(self) -> int:
        """Multiply-subtract steps of one factorisation."""
        return len(self.target)


def factorise(
    size: int, entries: Sequence[tuple[int, int]], pivot_row: Sequence[int], after: Mapping[int, set[int]]
) -> Factorisation:
    """
    The recipe for a pattern.

    Args:
        size: Number of unknowns.
        entries: (row, column) of every place that any lane may fill.
        pivot_row: For each column, the row whose entry there is its pivot.
        after: For some columns, those that must be eliminated before them.

    Returns:
        Row and column numbers in the recipe are places in the pivot order; `row_at` and `column_at` say which
        original row and column stand at each place.
    """
    home = {row: column for column, row in enumerate(pivot_row)}
    right: list[set[int]] = [set() for _ in range(size)]
    below: list[set[int]] = [set() for _ in range(size)]
    for row, column in entries:
        right[home[row]].add(column)
        below[column].add(home[row])
    for column in range(size):
        right[column].add(column)
        below[column].add(column)
    order = _eliminate(right, below, after)
    return _recipe(size, entries, pivot_row, home, order, right)


def _eliminate(right: list[set[int]], below: list[set[int]], after: Mapping[int, set[int]]) -> list[int]:
    """Pivot order by least Markowitz count; `right` is left holding the filled rows (all columns ever met)."""
    open_right = [set(row) for row in right]
    order: list[int] = []
    waiting = set(range(len(right)))

    def cost(column: int) -> tuple[bool, int, int]:
        blocked = not waiting.isdisjoint(after.get(column, ()))
        return blocked, (len(open_right[column]) - 1) * (len(below[column]) - 1), column

    while waiting:
        column = min(waiting, key=cost)
        waiting.discard(column)
        order.append(column)
        row = open_right[column] - {column}
        below[column].discard(column)
        for other in below[column]:
            new = row - open_right[other]
            open_right[other] |= row
            right[other] |= row
            for place in new:
                below[place].add(other)
            open_right[other].discard(column)
        for place in row:
            below[place].discard(column)
    return order


def _recipe(
    size: int,
    entries: Sequence[tuple[int, int]],
    pivot_row: Sequence[int],
    home: dict[int, int],
    order: list[int],
    right: list[set[int]],
) -> Factorisation:
    place = {column: index for index, column in enumerate(order)}
    filled = [sorted(place[column] for column in right[order[k]]) for k in range(size)]
    slot = {key: index for index, key in enumerate((row, column) for row in range(size) for column in filled[row])}
    columns: list[list[int]] = [[] for _ in range(size)]
    for row, column in slot:
        if row > column:
            columns[column].append(row)
    lower_slot, lower_row, lower_start = [], [], [0]
    upper_slot: list[int] = []
    upper_column: list[int] = []
    upper_start = [0]
    target: list[int] = []
    target_start = [0]
    for k in range(size):
        above = [column for column in filled[k] if column > k]
        for row in columns[k]:
            lower_slot.append(slot[row, k])
            lower_row.append(row)
            target.extend(slot[row, column] for column in above)
        upper_slot.extend(slot[k, column] for column in above)
        upper_column.extend(above)
        lower_start.append(len(lower_slot))
        upper_start.append(len(upper_slot))
        target_start.append(len(target))
    return Factorisation(
        size=size,
        slots=len(slot),
        slot_of={(row, column): slot[place[home[row]], place[column]] for row, column in entries},
        row_at=np.array([pivot_row[column] for column in order], dtype=np.int64),
        column_at=np.array(order, dtype=np.int64),
        pivot_slot=np.array([slot[k, k] for k in range(size)], dtype=np.int64),
        lower_start=np.array(lower_start),
        lower_slot=np.array(lower_slot, dtype=np.int64),
        lower_row=np.array(lower_row, dtype=np.int64),
        upper_start=np.array(upper_start),
        upper_slot=np.array(upper_slot, dtype=np.int64),
        upper_column=np.array(upper_column, dtype=np.int64),
        target_start=np.array(target_start),
        target=np.array(target, dtype=np.int64),
    )


def match_branches(branches: Sequence[tuple[str, Sequence[int]]]) -> list[int]:
    """
    A node of its own for every branch equation, by augmenting paths.

    Args:
        branches: Name and usable nodes (not ground) of each voltage-defined branch.

    Returns:
        The node matched to each branch.

    Raises:
        BadInput: Some branches form a loop, so that their currents are not defined.
    """
    owner: dict[int, int] = {}

    def place(branch: int, tried: set[int]) -> bool:
        for node in branches[branch][1]:
            if node in tried:
                continue
            tried.add(node)
            if node not in owner or place(owner[node], tried):
                owner[node] = branch
                return True
        return False

    for branch, (name, _) in enumerate(branches):
        if not place(branch, set()):
            raise BadInput(
                "Cannot set up the circuit equations",
                f"a loop of voltage sources or inductors through {name}",
                "at most one voltage-defined path between any two nets",
                "Put the source's real series resistance into the netlist.",
            )
    result = [0] * len(branches)
    for node, branch in owner.items():
        result[branch] = node
    return result
