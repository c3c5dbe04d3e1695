"""
Compiled loops of the two-valued engine. numba is an optional extra: only `compiled` imports this, late.

Rows are nets, columns the WORDS words of one block. A gate is an AND behind inverters, or a parity gate:
out = ((a ^ flip_in) & (b ^ flip_in) & ...) ^ flip_out. Gate g drives row n_inputs + g. Compiled code is cached beside
this file and looks at this file only: after a change to `wide` touch it.
"""

# mypy: ignore-errors
# The compiler, not Python, gives these functions their types.

from typing import NamedTuple

import numpy as np
from numba import njit

from kilter.simulate.logic.wide import add, either, load, lowest, ones, shift_right, spread, store, times, total

ZERO, ONE, ONES, HALF = np.uint64(0), np.uint64(1), np.uint64(0xFFFFFFFFFFFFFFFF), np.uint64(32)


class Gates(NamedTuple):
    """The arrays of the same names of a Levelled netlist."""

    parity: np.ndarray
    flip_in: np.ndarray
    flip_out: np.ndarray
    start: np.ndarray
    fanin: np.ndarray
    place_gate: np.ndarray
    reader_start: np.ndarray
    output_of: np.ndarray
    n_inputs: int


class Stems(NamedTuple):
    """The arrays of the same names of a StemPlan."""

    after: np.ndarray
    stem_of: np.ndarray
    stems: np.ndarray
    reader_gate: np.ndarray


class Block(NamedTuple):
    """
    What is worked out for one block of vectors.

    Args:
        values: Good machine, shape (nets, WORDS).
        faulty: The same, changed while a stem spreads and then put back.
        mask: Where a flip at a fan-in place reaches the stem of its region, shape (places, WORDS).
        pending: Bit map of gates that wait; all zero between stems.
        touched: Rows of `faulty` to put back.
        first, last: Where in `rows` each stem's responses lie, shape (nets,).
        output, rows: Output number and difference of each response, shapes (capacity,), (capacity, WORDS).
        detect: Difference at any output for each stem, shape (nets, WORDS).
    """

    values: np.ndarray
    faulty: np.ndarray
    mask: np.ndarray
    pending: np.ndarray
    touched: np.ndarray
    first: np.ndarray
    last: np.ndarray
    output: np.ndarray
    rows: np.ndarray
    detect: np.ndarray


@njit(inline="always")
def _gate(values, parity, flip_in, flip_out, start, fanin, gate):
    """Value of one gate."""
    first, last = start[gate], start[gate + 1]
    into, onto = spread(flip_in[gate]), spread(flip_out[gate])
    if last - first == 2:
        a, b = load(values, fanin[first]), load(values, fanin[first + 1])
        if parity[gate]:
            return a ^ b ^ onto
        return ((a ^ into) & (b ^ into)) ^ onto
    row = spread(ZERO) if parity[gate] else spread(ONES)
    for place in range(first, last):
        a = load(values, fanin[place])
        row = row ^ a if parity[gate] else row & (a ^ into)
    return row ^ onto


@njit(cache=True, nogil=True)
def settle(values, gates):
    """Fill the rows of all gates from the rows of the inputs."""
    parity, flip_in, flip_out, start, fanin, _, _, _, n_inputs = gates
    for gate in range(parity.size):
        store(values, n_inputs + gate, _gate(values, parity, flip_in, flip_out, start, fanin, gate))


@njit(cache=True, nogil=True)
def sensitise(gates, stems, block):
    """Fill the block's masks, readers first."""
    parity, flip_in, _, start, fanin, _, _, _, n_inputs = gates
    after, values, mask = stems.after, block.values, block.mask
    for gate in range(parity.size - 1, -1, -1):
        onward = after[n_inputs + gate]
        base = load(mask, onward) if onward >= 0 else spread(ONES)
        into = spread(flip_in[gate])
        for place in range(start[gate], start[gate + 1]):
            row = base
            if not parity[gate]:
                for other in range(start[gate], start[gate + 1]):
                    if other != place:
                        row = row & (load(values, fanin[other]) ^ into)
            store(mask, place, row)


@njit(inline="always")
def _schedule(row, reader_start, reader_gate, pending):
    """Mark the gates that read a row as pending; how many were not yet."""
    added = 0
    for k in range(reader_start[row], reader_start[row + 1]):
        gate = reader_gate[k]
        bit = ONE << np.uint64(gate & 63)
        if not pending[gate >> 6] & bit:
            pending[gate >> 6] |= bit
            added += 1
    return added


@njit(cache=True, nogil=True)
def spread_stems(gates, stems, block):
    """
    Flip each stem in all vectors, last stem first, and keep the difference at every output it reaches.

    Gates are taken in level order from a bit map. When a single gate is left pending, everything that is still to
    come passes through its output, whose own response is known already: it is only masked. The tuples are taken
    apart first: reaching into them inside the loop costs a third of the speed.

    Returns:
        Number of gate evaluations.
    """
    parity, flip_in, flip_out, start, fanin, _, reader_start, output_of, n_inputs = gates
    after, stem_of, order, reader_gate = stems
    values, faulty, mask, pending, touched, first, last, output, rows, detect = block
    used, evaluated = 0, 0
    for stem in order:
        first[stem] = used
        seen = spread(ZERO)
        if output_of[stem] >= 0:
            seen = spread(ONES)
            store(rows, used, seen)
            output[used] = output_of[stem]
            used += 1
        store(faulty, stem, load(values, stem) ^ spread(ONES))
        touched[0], n_touched = stem, 1
        waiting = _schedule(stem, reader_start, reader_gate, pending)
        word = reader_gate[reader_start[stem]] >> 6 if waiting else 0
        while waiting:
            while not pending[word]:
                word += 1
            gate = (word << 6) + lowest(pending[word])
            pending[word] &= pending[word] - ONE
            waiting -= 1
            evaluated += 1
            out = n_inputs + gate
            row = _gate(faulty, parity, flip_in, flip_out, start, fanin, gate)
            difference = row ^ load(values, out)
            if not either(difference):
                continue
            if waiting == 0:
                if after[out] >= 0:
                    difference = difference & load(mask, after[out])
                known = stem_of[out]
                for k in range(first[known], last[known]):
                    part = difference & load(rows, k)
                    if either(part):
                        seen = seen | part
                        store(rows, used, part)
                        output[used] = output[k]
                        used += 1
                break
            store(faulty, out, row)
            touched[n_touched] = out
            n_touched += 1
            if output_of[out] >= 0:
                seen = seen | difference
                store(rows, used, difference)
                output[used] = output_of[out]
                used += 1
            waiting += _schedule(out, reader_start, reader_gate, pending)
        for k in range(n_touched):
            store(faulty, touched[k], load(values, touched[k]))
        last[stem] = used
        store(detect, stem, seen)
    return evaluated


@njit(inline="always")
def _signature(part, key):
    return times(part ^ shift_right(part, spread(HALF)), key)


@njit(cache=True, nogil=True)
def fault_responses(gates, stems, block, faults, lanes, keys, detections, signatures):
    """
    Add this block's detections and signature to every fault.

    Args:
        faults: Net row, fan-in place (-1 for a whole net, -2 for an output branch) and value of each fault.
        lanes: Ones where a vector is real, shape (1, WORDS).
        keys: See signature_keys, this block's words, shape (outputs, WORDS).
    """
    _, _, _, _, _, place_gate, _, output_of, n_inputs = gates
    after, stem_of, _, _ = stems
    values, _, mask, _, _, first, last, output, rows, detect = block
    fault_row, fault_place, fault_value = faults
    real = load(lanes, 0)
    for fault in range(fault_row.size):
        row, place = fault_row[fault], fault_place[fault]
        active = (load(values, row) ^ spread(ONES if fault_value[fault] else ZERO)) & real
        if place == -2:
            detections[fault] += total(ones(active))
            signatures[fault] += total(_signature(active, load(keys, output_of[row])))
            continue
        stem, onward = stem_of[row], after[row]
        if place >= 0:
            stem, onward = stem_of[n_inputs + place_gate[place]], place
        if onward >= 0:
            active = active & load(mask, onward)
        found = active & load(detect, stem)
        if not either(found):
            continue
        detections[fault] += total(ones(found))
        mixed = spread(ZERO)
        for k in range(first[stem], last[stem]):
            mixed = add(mixed, _signature(load(rows, k) & active, load(keys, output[k])))
        signatures[fault] += total(mixed)
