"""Any number of stuck lines at once, by direct injection: only the gates behind them are worked out again."""

from __future__ import annotations

from collections.abc import Iterable
from heapq import heapify, heappop, heappush

from kilter.simulate.logic.faults import OUTPUT, STEM, StuckAt, places
from kilter.simulate.logic.lanes import Vectors, from_integers, to_integers
from kilter.simulate.logic.levels import Levelled, Words
from kilter.simulate.logic.plain import PlainLogic
from kilter.simulate.logic.simulate import check_width


class Injector:
    """
    The good machine of one netlist and set of vectors, ready for faults.

    >>> from kilter.simulate.logic.faults import Line
    >>> from kilter.simulate.logic.lanes import all_vectors
    >>> from kilter.simulate.logic.levels import levelled
    >>> from kilter.simulate.logic.netlist import Gate, LogicNetlist
    >>> logic = levelled(LogicNetlist((Gate("and", ("a", "b"), "y"),), ("a", "b"), ("y",)))
    >>> Injector(logic, all_vectors(2)).outputs([StuckAt(Line("a"), 1)])[0, 0]
    np.uint64(12)
    """

    def __init__(self, levelled: Levelled, vectors: Vectors) -> None:
        check_width(levelled, vectors)
        self.levelled, self.n_words = levelled, vectors.words.shape[1]
        (self.real,) = to_integers(vectors.mask[None])
        self.logic = PlainLogic(levelled, (1 << 64 * self.n_words) - 1)
        self.good = self.logic.settle(to_integers(vectors.words))
        self.readers = [
            sorted({int(levelled.place_gate[place]) for place in levelled.reader[first:last]})
            for first, last in zip(levelled.reader_start[:-1], levelled.reader_start[1:], strict=True)
        ]

    def outputs(self, faults: Iterable[StuckAt]) -> Words:
        """Packed outputs with all the faults present, shape (outputs, n_words); unused bits are zero."""
        values, shown = self._settle(faults)
        rows = [shown.get(row, values[row]) & self.real for row in self.levelled.outputs.tolist()]
        return from_integers(rows, self.n_words)

    def nets(self, faults: Iterable[StuckAt]) -> Words:
        """Packed values of every net row with all the faults present, shape (nets, n_words)."""
        values, _ = self._settle(faults)
        return from_integers([value & self.real for value in values], self.n_words)

    def _settle(self, faults: Iterable[StuckAt]) -> tuple[list[int], dict[int, int]]:
        """Net values, and what is shown instead at outputs whose branch is stuck."""
        logic, n_inputs = self.logic, self.levelled.n_inputs
        values, shown, stuck_place, stuck_row, pending = list(self.good), {}, {}, {}, set()
        for row, place, value in places(self.levelled, list(faults)):
            forced = logic.ones if value else 0
            if place == OUTPUT:
                shown[row] = forced
            elif place == STEM:
                stuck_row[row] = values[row] = forced
                pending.update(self.readers[row])
            else:
                stuck_place[place] = forced
                pending.add(int(self.levelled.place_gate[place]))
        owners = {int(self.levelled.place_gate[place]) for place in stuck_place}
        queue = list(pending)
        heapify(queue)
        while queue:
            gate = heappop(queue)
            out = n_inputs + gate
            value = self._stuck_gate(gate, values, stuck_place) if gate in owners else logic.gate(gate, values)
            value = stuck_row.get(out, value)
            if value == values[out]:
                continue
            values[out] = value
            for reader in self.readers[out]:
                if reader not in pending:
                    pending.add(reader)
                    heappush(queue, reader)
        return values, shown

    def _stuck_gate(self, gate: int, values: list[int], stuck_place: dict[int, int]) -> int:
        """Value of a gate some of whose inputs are stuck."""
        first = int(self.levelled.start[gate])
        seen = [stuck_place.get(first + k, values[row]) for k, row in enumerate(self.logic.fanin[gate])]
        return self.logic.gate_from(gate, seen)
