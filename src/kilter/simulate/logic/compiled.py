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
from kilter.simulate.logic.stems import signature_keys, stem_plan


class CompiledSweep:
    """
    Buffers and plan of one netlist and fault list; not to be shared between threads.

    After a run `evaluations` says how many gates the last block worked out while stems were spread.
    """

    def __init__(self, levelled: Levelled, placed: Sequence[tuple[int, int, int]]) -> None:
        n_nets = len(levelled.nets)
        self.levelled, self.plan = levelled, stem_plan(levelled)
        self.faults = tuple(np.array([fault[k] for fault in placed], np.int32) for k in range(3))
        self.values, self.faulty, self.detect = (np.zeros((n_nets, WORDS), np.uint64) for _ in range(3))
        self.mask = np.zeros((levelled.fanin.size, WORDS), np.uint64)
        self.pending = np.zeros(len(levelled.gates) // 64 + 1, np.uint64)
        self.touched = np.zeros(n_nets + 1, np.int32)
        self.row_first, self.row_last = np.zeros(n_nets, np.int64), np.zeros(n_nets, np.int64)
        self.row_output = np.zeros(self.plan.capacity, np.int32)
        self.rows = np.zeros((self.plan.capacity, WORDS), np.uint64)
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
            block = slice(first, first + WORDS)
            self._run_block(vectors.words[:, block], lanes[block], self.keys[:, block], detections, signatures)
        return detections.astype(np.int64), signatures

    def _run_block(self, inputs: Words, lanes: Words, keys: Words, detections: Words, signatures: Words) -> None:
        logic, plan = self.levelled, self.plan
        gates = (logic.parity, logic.flip_in, logic.flip_out, logic.start, logic.fanin, logic.n_inputs)
        responses = (self.row_first, self.row_last, self.row_output, self.rows, self.detect)
        self.values[: logic.n_inputs] = inputs
        kernels.settle(self.values, *gates)
        self.faulty[:] = self.values
        kernels.sensitise(
            self.values, logic.parity, logic.flip_in, logic.start, logic.fanin, logic.n_inputs, plan.after, self.mask
        )
        self.evaluations = kernels.spread_stems(
            self.values, self.faulty, *gates, logic.reader_start, plan.reader_gate, logic.output_of,
            plan.stems, plan.stem_of, plan.after, self.mask, self.pending, self.touched, *responses,
        )  # fmt: skip
        kernels.fault_responses(
            self.values, np.ascontiguousarray(lanes), logic.n_inputs, logic.place_gate, plan.stem_of, plan.after,
            self.mask, logic.output_of, *responses, *self.faults, np.ascontiguousarray(keys), detections, signatures,
        )  # fmt: skip


def settle(levelled: Levelled, vectors: Vectors) -> Words:
    """Good machine with the compiled kernel, shape (nets, n_words)."""
    n_words = vectors.words.shape[1]
    found = np.empty((len(levelled.nets), n_words), np.uint64)
    values = np.zeros((len(levelled.nets), WORDS), np.uint64)
    for first in range(0, n_words, WORDS):
        values[: levelled.n_inputs] = vectors.words[:, first : first + WORDS]
        kernels.settle(
            values, levelled.parity, levelled.flip_in, levelled.flip_out,
            levelled.start, levelled.fanin, levelled.n_inputs,
        )  # fmt: skip
        found[:, first : first + WORDS] = values
    return found
