"""
Compiled loops of the two-valued engine. numba is an optional extra: only `compiled` imports this, late.

Rows are nets, columns the WORDS words of one block. A gate is an AND behind inverters, or a parity gate:
out = ((a ^ flip_in) & (b ^ flip_in) & ...) ^ flip_out. Gate g drives row n_inputs + g. Compiled code is cached beside
this file and looks at this file only: after a change to `wide` touch it.
"""

# mypy: ignore-errors
# The compiler, not Python, gives these functions their types.

import numpy as np
from numba import njit

from kilter.simulate.logic.wide import add, either, load, lowest, ones, shift_right, spread, store, times, total

ZERO, ONE, ONES, HALF = np.uint64(0), np.uint64(1), np.uint64(0xFFFFFFFFFFFFFFFF), np.uint64(32)


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
def settle(values, parity, flip_in, flip_out, start, fanin, n_inputs):
    """Fill the rows of all gates from the rows of the inputs."""
    for gate in range(parity.size):
        store(values, n_inputs + gate, _gate(values, parity, flip_in, flip_out, start, fanin, gate))


@njit(cache=True, nogil=True)
def sensitise(values, parity, flip_in, start, fanin, n_inputs, after, mask):
    """
    Fill, for every fan-in place, the vectors in which a flip there reaches the stem of its fan-out-free region.

    Args:
        after: The only place that reads each net row; -1 where the row is a stem.
        mask: Filled, shape (places, WORDS).
    """
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
def spread_stems(
    values, faulty, parity, flip_in, flip_out, start, fanin, n_inputs, reader_start, reader_gate, output_of,
    stems, stem_of, after, mask, pending, touched, row_first, row_last, row_output, rows, detect,
):  # fmt: skip
    """
    Flip each stem in all vectors and keep the difference at every output it reaches.

    Gates are taken in level order from a bit map. When a single gate is left pending, everything that is still to
    come passes through its output, whose own response is known already (stems come last first): it is only masked.

    Args:
        values: Good machine; faulty: the same values, changed while a stem spreads and then put back.
        stems: Net rows, highest first.
        pending: Bit map of gates, all zero; touched: room for one entry a net row.
        row_first, row_last: Filled: where in `rows` each stem's responses lie.
        row_output, rows: Filled: output number and difference, shapes (capacity,), (capacity, WORDS).
        detect: Filled: difference at any output, shape (nets, WORDS).

    Returns:
        Number of gate evaluations.
    """
    used, evaluated = 0, 0
    for stem in stems:
        row_first[stem] = used
        seen = spread(ZERO)
        if output_of[stem] >= 0:
            row_output[used] = output_of[stem]
            store(rows, used, spread(ONES))
            seen = spread(ONES)
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
                for k in range(row_first[known], row_last[known]):
                    part = difference & load(rows, k)
                    if either(part):
                        store(rows, used, part)
                        row_output[used] = row_output[k]
                        seen = seen | part
                        used += 1
                break
            store(faulty, out, row)
            touched[n_touched] = out
            n_touched += 1
            if output_of[out] >= 0:
                row_output[used] = output_of[out]
                store(rows, used, difference)
                seen = seen | difference
                used += 1
            waiting += _schedule(out, reader_start, reader_gate, pending)
        for k in range(n_touched):
            store(faulty, touched[k], load(values, touched[k]))
        row_last[stem] = used
        store(detect, stem, seen)
    return evaluated


@njit(inline="always")
def _signature(part, key):
    return times(part ^ shift_right(part, spread(HALF)), key)


@njit(cache=True, nogil=True)
def fault_responses(
    values, lanes, n_inputs, place_gate, stem_of, after, mask, output_of,
    row_first, row_last, row_output, rows, detect, fault_row, fault_place, fault_value, keys, detections, signatures,
):  # fmt: skip
    """Add this block's detections and signature to every fault; place -1 is a whole net, -2 an output branch."""
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
        for k in range(row_first[stem], row_last[stem]):
            mixed = add(mixed, _signature(load(rows, k) & active, load(keys, row_output[k])))
        signatures[fault] += total(mixed)
