"""The stem method with compiled kernels: block after block of vectors through one set of buffers."""

# mypy: disable-error-code="call-arg"
# The kernels' arguments are known to the compiler only.

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from kilter.simulate.logic import kernels
from kilter.simulate.logic.lanes import WORDS, Vectors
from kilter.simulate.logic.levels import Levelled, Words
from kilter.simulate.logic.stems import StemPlan, signature_keys, stem_plan


class Sweep:
    """
    Buffers and plan of one netlist and fault list; not to be shared between threads.

    After a run `evaluations` says how many gates the last block worked out while stems were spread.
    """

    def __init__(self, levelled: Levelled, placed: Sequence[tuple[int, int, int]]) -> None:
        plan = stem_plan(levelled)
        self.levelled = levelled
        self.gates = _gates(levelled)
        self.stems = kernels.Stems(plan.after, plan.stem_of, plan.stems, plan.reader_gate)
        self.block = _block(levelled, plan)
        self.faults = tuple(np.array([fault[k] for fault in placed], np.int32) for k in range(3))
        self.keys: Words = np.zeros((0, 0), np.uint64)
        self.evaluations = 0

    def run(self, vectors: Vectors) -> tuple[NDArray[np.int64], Words]:
        """Detections and signature of every fault."""
        n_words = vectors.words.shape[1]
        if self.keys.shape[1] < n_words:
            self.keys = signature_keys(len(self.levelled.outputs), n_words)
        detections = np.zeros(self.faults[0].size, np.uint64)
        signatures = np.zeros(self.faults[0].size, np.uint64)
        lanes = vectors.mask
        for first in range(0, n_words, WORDS):
            columns = slice(first, first + WORDS)
            self._run_block(vectors.words[:, columns])
            kernels.fault_responses(
                self.gates,
                self.stems,
                self.block,
                self.faults,
                np.ascontiguousarray(lanes[None, columns]),
                np.ascontiguousarray(self.keys[:, columns]),
                detections,
                signatures,
            )
        return detections.astype(np.int64), signatures

    def _run_block(self, inputs: Words) -> None:
        """Good machine, masks and stem responses of one block."""
        self.block.values[: self.levelled.n_inputs] = inputs
        kernels.settle(self.block.values, self.gates)
        self.block.faulty[:] = self.block.values
        kernels.sensitise(self.gates, self.stems, self.block)
        self.evaluations = kernels.spread_stems(self.gates, self.stems, self.block)


def settle(levelled: Levelled, vectors: Vectors) -> Words:
    """Good machine with the compiled kernel, shape (nets, n_words)."""
    gates, n_words = _gates(levelled), vectors.words.shape[1]
    found = np.empty((len(levelled.nets), n_words), np.uint64)
    values = np.zeros((len(levelled.nets), WORDS), np.uint64)
    for first in range(0, n_words, WORDS):
        values[: levelled.n_inputs] = vectors.words[:, first : first + WORDS]
        kernels.settle(values, gates)
        found[:, first : first + WORDS] = values
    return found


def _gates(levelled: Levelled) -> kernels.Gates:
    return kernels.Gates(*(getattr(levelled, name) for name in kernels.Gates._fields))


def _block(levelled: Levelled, plan: StemPlan) -> kernels.Block:
    """Buffers; `touched` and `rows` have room for one more than can be used."""
    n_nets = len(levelled.nets)

    def rows(number: int) -> Words:
        return np.zeros((number, WORDS), np.uint64)

    return kernels.Block(
        values=rows(n_nets),
        faulty=rows(n_nets),
        mask=rows(levelled.fanin.size),
        pending=np.zeros(len(levelled.gates) // 64 + 1, np.uint64),
        touched=np.zeros(n_nets + 1, np.int32),
        first=np.zeros(n_nets, np.int64),
        last=np.zeros(n_nets, np.int64),
        output=np.zeros(plan.capacity, np.int32),
        rows=rows(plan.capacity),
        detect=rows(n_nets),
    )
