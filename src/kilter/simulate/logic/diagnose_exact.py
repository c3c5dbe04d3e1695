"""
Every smallest set of broken gates that explains what was read, under the weak fault model.

Weak model: a broken gate may drive anything, differently for each vector; a good gate does its function. Then a set
of gates is a diagnosis when its outputs can be chosen so that all readings come out. Search: a set that fails
yields a conflict (gates that cannot all be good); only sets that hit every conflict found so far are tried, smallest
sets first, so the list is complete. For small netlists: a set of k gates is tried with all 2^k choices at once.

Few broken gates is no ranking: the real faults may be more than the smallest explanation.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from heapq import heapify, heappop, heappush

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kilter.measure.errors import BadInput, OutOfRange
from kilter.simulate.logic.levels import Levelled
from kilter.simulate.logic.plain import PlainLogic

Bits = NDArray[np.int_]

NOT_READ = -1
"""Observed value of an output that was not read."""

MOST_GATES = 12
"""Largest set that is tried; 4,096 choices of its outputs. A limit of the layout, not of any circuit."""


def minimal_diagnoses(
    logic: Levelled, inputs: ArrayLike, observed: ArrayLike, *, most_gates: int = 6
) -> list[frozenset[str]]:
    """
    All diagnoses of the smallest size, each as the nets that its gates drive, in level order.

    Args:
        inputs: Bits applied, shape (n_vectors, n_inputs).
        observed: Bits read at the outputs, NOT_READ where nobody looked, shape (n_vectors, n_outputs).
        most_gates: Give up beyond this size.

    Returns:
        [frozenset()] where nothing is wrong; [] where no set of at most `most_gates` explains the readings.

    Raises:
        BadInput: The rows do not fit the netlist or each other.
        OutOfRange: `most_gates` is more than MOST_GATES.

    >>> from kilter.simulate.logic.levels import levelled
    >>> from kilter.simulate.logic.netlist import Gate, LogicNetlist
    >>> pair = LogicNetlist((Gate("not", ("a",), "b"), Gate("not", ("b",), "y")), ("a",), ("y",))
    >>> minimal_diagnoses(levelled(pair), [[0]], [[1]])
    [frozenset({'b'}), frozenset({'y'})]
    """
    applied, read = np.atleast_2d(np.asarray(inputs, int)), np.atleast_2d(np.asarray(observed, int))
    _check(logic, applied, read, most_gates)
    views = [_View(logic, given, seen) for given, seen in zip(applied.tolist(), read.tolist(), strict=True)]
    search = _Search(views)
    for size in range(most_gates + 1):
        found = sorted(search.sets(size), key=sorted)
        if found:
            return [frozenset(logic.nets[logic.n_inputs + gate] for gate in gates) for gates in found]
    return []


class _Search:
    """Depth-first over sets that hit every known conflict; conflicts are bit masks of gates and are kept."""

    def __init__(self, views: Sequence[_View]) -> None:
        self.views = views
        self.conflicts: list[int] = []

    def sets(self, size: int) -> Iterator[tuple[int, ...]]:
        """Diagnoses of exactly this size, given that there are none smaller."""
        return self._extend((), 0, 0, size)

    def _extend(self, gates: tuple[int, ...], chosen: int, barred: int, left: int) -> Iterator[tuple[int, ...]]:
        conflict = self._unhit(gates, chosen, barred)
        if conflict is None:
            yield gates
            return
        if not left:
            return
        for gate in _bits(conflict & ~barred):
            yield from self._extend((*gates, gate), chosen | 1 << gate, barred, left - 1)
            barred |= 1 << gate

    def _unhit(self, gates: tuple[int, ...], chosen: int, barred: int) -> int | None:
        """The conflict that the set misses and that leaves the fewest gates to add; None where the set explains all."""
        missed = [conflict for conflict in self.conflicts if not conflict & chosen]
        if missed:
            return min(missed, key=lambda conflict: (conflict & ~barred).bit_count())
        for view in self.views:
            conflict = view.conflict(gates)
            if conflict is not None:
                self.conflicts.append(conflict)
                return conflict
        return None


class _View:
    """One vector and what was read under it."""

    def __init__(self, logic: Levelled, given: Sequence[int], seen: Sequence[int]) -> None:
        self.logic, self.n_inputs = logic, logic.n_inputs
        self.machine = PlainLogic(logic, 1)
        self.good = self.machine.settle(given)
        self.read = [(row, value) for row, value in zip(logic.outputs.tolist(), seen, strict=True) if value != NOT_READ]
        self.readers = [
            sorted({int(logic.place_gate[place]) for place in logic.reader[first:last]})
            for first, last in zip(logic.reader_start[:-1], logic.reader_start[1:], strict=True)
        ]

    def conflict(self, gates: Sequence[int]) -> int | None:
        """Gates outside the set that cannot all be good, as a bit mask; None where the set explains this vector."""
        machine, values = self._spread(gates)
        ones, free = machine.ones, frozenset(gates)
        wrong = [(row, self._lanes(values, row, ones) ^ (ones if value else 0)) for row, value in self.read]
        contradicted = 0
        for _, lanes in wrong:
            contradicted |= lanes
        if contradicted != ones:
            return None
        conflict = 0
        for lane in range(1 << len(gates)):
            supports = [self._support(row, lane, free, values, ones) for row, lanes in wrong if lanes >> lane & 1]
            conflict |= min((support & ~conflict for support in supports), key=int.bit_count)
        return conflict

    def _spread(self, gates: Sequence[int]) -> tuple[PlainLogic, dict[int, int]]:
        """Values that differ from the good ones somewhere, one lane for each choice of the set's outputs."""
        n_lanes = 1 << len(gates)
        machine = self.machine.widened(n_lanes)
        free = {self.n_inputs + gate: _counting(place, n_lanes) for place, gate in enumerate(gates)}
        values = dict(free)
        queue = list({reader for row in free for reader in self.readers[row]})
        heapify(queue)
        queued = set(queue)
        while queue:
            gate = heappop(queue)
            out = self.n_inputs + gate
            if out in free:
                continue
            value = machine.gate_from(gate, [self._lanes(values, row, machine.ones) for row in machine.fanin[gate]])
            if value == (machine.ones if self.good[out] else 0):
                continue
            values[out] = value
            for reader in self.readers[out]:
                if reader not in queued:
                    queued.add(reader)
                    heappush(queue, reader)
        return machine, values

    def _lanes(self, values: dict[int, int], row: int, ones: int) -> int:
        if row in values:
            return values[row]
        return ones if self.good[row] else 0

    def _support(self, row: int, lane: int, free: frozenset[int], values: dict[int, int], ones: int) -> int:
        """Gates that suffice, with the set's outputs as chosen in this lane, to derive the value of a net."""
        support, stack = 0, [row - self.n_inputs]
        while stack:
            gate = stack.pop()
            if gate < 0 or gate in free or support >> gate & 1:
                continue
            support |= 1 << gate
            fanin = self.machine.fanin[gate]
            if not self.machine.parity[gate]:
                into = 1 if self.machine.flip_in[gate] else 0
                deciding = [r for r in fanin if (self._lanes(values, r, ones) >> lane & 1) ^ into == 0]
                fanin = [min(deciding)] if deciding else fanin
            stack += [r - self.n_inputs for r in fanin]
        return support


def _counting(place: int, n_lanes: int) -> int:
    """
    Lanes whose number has a one at that place.

    >>> bin(_counting(1, 8))
    '0b11001100'
    """
    half = 1 << place
    period = ((1 << half) - 1) << half
    return ((1 << n_lanes) - 1) // ((1 << 2 * half) - 1) * period


def _bits(mask: int) -> Iterator[int]:
    """Places of the ones, lowest first."""
    while mask:
        yield (mask & -mask).bit_length() - 1
        mask &= mask - 1


def _check(logic: Levelled, applied: Bits, read: Bits, most_gates: int) -> None:
    doing = f"Cannot look for the smallest explanations in the logic netlist {logic.netlist.name}"
    wanted = (len(applied), logic.n_inputs), (len(applied), len(logic.outputs))
    if (applied.shape, read.shape) != wanted:
        found = f"inputs of shape {applied.shape} and readings of shape {read.shape}"
        raise BadInput(doing, found, f"{wanted[0]} and {wanted[1]}", "Give one row of bits for each vector.")
    for table, allowed in ((applied, (0, 1)), (read, (0, 1, NOT_READ))):
        if strange := set(np.unique(table).tolist()) - set(allowed):
            words = ", ".join(str(number) for number in allowed)
            raise BadInput(doing, f"the value {min(strange)}", words, "Correct the row of bits.")
    if not 0 <= most_gates <= MOST_GATES:
        raise OutOfRange(doing, f"a largest size of {most_gates} gates", f"0 to {MOST_GATES}", "Ask for fewer.")
