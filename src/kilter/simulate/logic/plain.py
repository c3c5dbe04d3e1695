"""
The stem method in plain Python: a net's values over all vectors are one long integer.

Needs no compiler; the answers are the same, some tens of times later.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from copy import copy
from heapq import heappop, heappush

import numpy as np
from numpy.typing import NDArray

from kilter.simulate.logic.faults import OUTPUT
from kilter.simulate.logic.lanes import Vectors, from_integers, to_integers
from kilter.simulate.logic.levels import Levelled, Words
from kilter.simulate.logic.stems import signature_keys, stem_plan


class PlainLogic:
    """Gates of a levelled netlist evaluated on Python integers, one bit a vector."""

    def __init__(self, levelled: Levelled, ones: int) -> None:
        self.levelled, self.ones = levelled, ones
        start, fanin = levelled.start.tolist(), levelled.fanin.tolist()
        self.fanin = [fanin[start[gate] : start[gate + 1]] for gate in range(len(levelled.gates))]
        self.parity = levelled.parity.tolist()
        self.flip_in = [ones if flip else 0 for flip in levelled.flip_in.tolist()]
        self.flip_out = [ones if flip else 0 for flip in levelled.flip_out.tolist()]

    def widened(self, n_lanes: int) -> PlainLogic:
        """The same gates for another number of vectors."""
        other = copy(self)
        other.ones = (1 << n_lanes) - 1
        other.flip_in = [other.ones if flip else 0 for flip in self.flip_in]
        other.flip_out = [other.ones if flip else 0 for flip in self.flip_out]
        return other

    def gate(self, gate: int, values: Sequence[int] | _Overlay) -> int:
        """Value of one gate from the values of all nets."""
        return self.gate_from(gate, [values[row] for row in self.fanin[gate]])

    def gate_from(self, gate: int, seen: Iterable[int]) -> int:
        """Value of one gate from what its inputs see."""
        into, onto = self.flip_in[gate], self.flip_out[gate]
        if self.parity[gate]:
            for value in seen:
                onto ^= value
            return onto
        found = self.ones
        for value in seen:
            found &= value ^ into
        return found ^ onto

    def settle(self, inputs: Sequence[int]) -> list[int]:
        """Values of all nets."""
        values = list(inputs)
        for gate in range(len(self.fanin)):
            values.append(self.gate(gate, values))
        return values


class Sweep:
    """Plan of one netlist and fault list."""

    def __init__(self, levelled: Levelled, placed: Sequence[tuple[int, int, int]]) -> None:
        self.levelled, self.placed, self.plan = levelled, placed, stem_plan(levelled)
        self.after, self.stem_of = self.plan.after.tolist(), self.plan.stem_of.tolist()
        self.output_of = levelled.output_of.tolist()
        gates, starts = self.plan.reader_gate.tolist(), levelled.reader_start.tolist()
        self.readers = [sorted(set(gates[starts[row] : starts[row + 1]])) for row in range(len(levelled.nets))]

    def run(self, vectors: Vectors) -> tuple[NDArray[np.int64], Words]:
        """Detections and signature of every fault."""
        n_words = vectors.words.shape[1]
        self.logic = PlainLogic(self.levelled, (1 << 64 * n_words) - 1)
        self.values = self.logic.settle(to_integers(vectors.words))
        self.mask = self._sensitise()
        self.responses: dict[int, list[tuple[int, int]]] = {}
        for stem in self.plan.stems.tolist():
            self.responses[stem] = self._spread(stem)
        (lanes,) = to_integers(vectors.mask[None])
        keys = signature_keys(len(self.levelled.outputs), n_words)
        found = [self._fault(row, place, value, lanes, keys) for row, place, value in self.placed]
        return np.array([count for count, _ in found], np.int64), np.array([sign for _, sign in found], np.uint64)

    def _sensitise(self) -> list[int]:
        """For every place the vectors in which a flip there reaches the stem of its region."""
        logic, start, n_inputs = self.logic, self.levelled.start.tolist(), self.levelled.n_inputs
        mask = [0] * self.levelled.fanin.size
        for gate in range(len(logic.fanin) - 1, -1, -1):
            onward = self.after[n_inputs + gate]
            for position in range(len(logic.fanin[gate])):
                through = mask[onward] if onward >= 0 else logic.ones
                if not logic.parity[gate]:
                    for other, row in enumerate(logic.fanin[gate]):
                        if other != position:
                            through &= self.values[row] ^ logic.flip_in[gate]
                mask[start[gate] + position] = through
        return mask

    def _spread(self, stem: int) -> list[tuple[int, int]]:
        """Outputs that a flip of the stem reaches, and the vectors in which it does."""
        logic, values = self.logic, self.values
        faulty = _Overlay(values, {stem: values[stem] ^ logic.ones})
        found = [(self.output_of[stem], logic.ones)] if self.output_of[stem] >= 0 else []
        pending = list(self.readers[stem])
        queued = set(pending)
        while pending:
            gate = heappop(pending)
            out = self.levelled.n_inputs + gate
            value = logic.gate(gate, faulty)
            difference = value ^ values[out]
            if not difference:
                continue
            if not pending:
                return found + self._follow(out, difference)
            faulty.changed[out] = value
            if self.output_of[out] >= 0:
                found.append((self.output_of[out], difference))
            for reader in self.readers[out]:
                if reader not in queued:
                    queued.add(reader)
                    heappush(pending, reader)
        return found

    def _follow(self, row: int, difference: int) -> list[tuple[int, int]]:
        if self.after[row] >= 0:
            difference &= self.mask[self.after[row]]
        known = self.responses[self.stem_of[row]]
        return [(output, difference & seen) for output, seen in known if difference & seen]

    def _fault(self, row: int, place: int, value: int, lanes: int, keys: Words) -> tuple[int, int]:
        active = (self.values[row] ^ (self.logic.ones if value else 0)) & lanes
        stem, onward = self.stem_of[row], self.after[row]
        if place >= 0:
            stem, onward = self.stem_of[self.levelled.n_inputs + int(self.levelled.place_gate[place])], place
        if onward >= 0 and place != OUTPUT:
            active &= self.mask[onward]
        known = [(self.output_of[row], active)] if place == OUTPUT else self.responses[stem]
        response = [(output, seen & active) for output, seen in known if seen & active]
        anywhere = 0
        for _, seen in response:
            anywhere |= seen
        return anywhere.bit_count(), _signature(response, keys)


class _Overlay:
    """Good values with a few of them changed."""

    def __init__(self, values: list[int], changed: dict[int, int]) -> None:
        self.values, self.changed = values, changed

    def __getitem__(self, row: int) -> int:
        return self.changed[row] if row in self.changed else self.values[row]


def _signature(response: list[tuple[int, int]], keys: Words) -> int:
    if not response:
        return 0
    parts = from_integers([seen for _, seen in response], keys.shape[1])
    mixed = (parts ^ (parts >> np.uint64(32))) * keys[[output for output, _ in response]]
    return int(mixed.sum(dtype=np.uint64))


def settle(levelled: Levelled, vectors: Vectors) -> Words:
    """Good machine on Python integers, shape (nets, n_words)."""
    n_words = vectors.words.shape[1]
    logic = PlainLogic(levelled, (1 << 64 * n_words) - 1)
    return from_integers(logic.settle(to_integers(vectors.words)), n_words)
