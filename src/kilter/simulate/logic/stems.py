"""The stem method's plan: which nets are stems, and which single place leads from any other net to its stem."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from kilter.simulate.logic.levels import Integers, Levelled, Words


@dataclass(frozen=True)
class StemPlan:
    """
    Fan-out-free regions of a netlist.

    Args:
        after: The only place that reads each net row; -1 where the row is a stem.
        stem_of: Stem that each net row leads to; its own row for a stem.
        stems: Rows that are stems, highest first.
        reader_gate: Gate rows that read each net, laid out as Levelled.reader_start says.
        capacity: Most (stem, output) pairs there can be.
    """

    after: Integers
    stem_of: Integers
    stems: Integers
    reader_gate: Integers
    capacity: int


def stem_plan(levelled: Levelled) -> StemPlan:
    """A stem is a net with several readers, with none, or that is looked at as an output."""
    counts = np.diff(levelled.reader_start)
    single = (counts == 1) & (levelled.output_of < 0)
    after = np.full(len(levelled.nets), -1, np.int32)
    after[single] = levelled.reader[levelled.reader_start[:-1][single]]
    stem_of = np.arange(len(levelled.nets), dtype=np.int32)
    for row in range(len(levelled.nets) - 1, -1, -1):
        if after[row] >= 0:
            stem_of[row] = stem_of[levelled.n_inputs + levelled.place_gate[after[row]]]
    stems = np.flatnonzero(~single)[::-1].astype(np.int32)
    reach = _reached_outputs(levelled)
    return StemPlan(
        after=after,
        stem_of=stem_of,
        stems=stems,
        reader_gate=levelled.place_gate[levelled.reader],
        capacity=sum(reach[row].bit_count() for row in stems) + 1,
    )


def _reached_outputs(levelled: Levelled) -> list[int]:
    """Outputs that each net row can reach, as the bits of an integer."""
    reach = [1 << int(output) if output >= 0 else 0 for output in levelled.output_of]
    for gate in range(len(levelled.gates) - 1, -1, -1):
        for place in range(levelled.start[gate], levelled.start[gate + 1]):
            reach[levelled.fanin[place]] |= reach[levelled.n_inputs + gate]
    return reach


def signature_keys(n_outputs: int, n_words: int) -> Words:
    """
    An odd multiplier for each output and word, shape (n_outputs, n_words), the same on every machine.

    A signature is the sum over outputs and words of (x ^ x >> 32) * key modulo 2 to the 64, x being the difference
    from the good machine: a fingerprint, so equal responses have equal signatures and unequal ones almost surely not.
    """
    number = np.arange(n_outputs * n_words, dtype=np.uint64).reshape(n_words, n_outputs).T
    key = (number + np.uint64(1)) * np.uint64(0x9E37_79B9_7F4A_7C15)
    key = (key ^ (key >> np.uint64(30))) * np.uint64(0xBF58_476D_1CE4_E5B9)
    key = (key ^ (key >> np.uint64(27))) * np.uint64(0x94D0_49BB_1331_11EB)
    return (key ^ (key >> np.uint64(31))) | np.uint64(1)
