"""
The run in plain NumPy, on rows of words.

A row holds eight lanes for each fault set. Values are those of `kilter.simulate.logic.planes`: a high and a low
plane. A data input that changes together with its clock is taken as it was before. What goes on changing after many
passes is made unknown where it changes.
"""

# mypy: ignore-errors
# It goes step by step with `kernel_compiled`, and is no more abstract than that.

from __future__ import annotations

import numpy as np

from kilter.simulate.logic.running.rows import Rows, rows_at_rest
from kilter.simulate.logic.running.tables import Tables


def run_words(tables: Tables, state, given, set_at, is_set, set_to, watched, looking_from, most):
    """What was noted, shape (notes, watched nets, words), and how often something would not come to rest."""
    rows = rows_at_rest(tables, state.shape[2], len(watched))
    high, low = state[0].copy(), state[1].copy()
    for register in range(len(high)):
        put_register(tables, rows, register, high[register], low[register], False)
    for net in range(len(tables.pull)):
        resolve(tables, rows, net, False)
    restless = play(tables, rows, high, low, given, (set_at, is_set, set_to), watched, looking_from, most)
    return rows.seen, restless


def seen_by(tables: Tables, rows: Rows, net, place, code):
    """What an input sees of a net: its planes, an open one as the family reads it, the bites of the place on top."""
    high, low = rows.high[net].copy(), rows.low[net].copy()
    nobody = ~(high | low)
    if code > 0:
        high |= nobody
    if code < 2:
        low |= nobody
    bite(tables.reads, place, high, low)
    return high, low


def bite(bites, place, high, low):
    """Set whole fault sets to a value."""
    for row in range(bites.start[place], bites.start[place + 1]):
        word, keep = bites.word[row], ~bites.mask[row]
        high[word] = (high[word] & keep) | bites.high[row]
        low[word] = (low[word] & keep) | bites.low[row]


def resolve(tables: Tables, rows: Rows, net, widen):
    """Work a net out from its drivers, bridges, pull and short; its readers become due where it changed."""
    first, last = tables.driver_start[net], tables.driver_start[net + 1]
    high, low = np.zeros_like(rows.high[net]), np.zeros_like(rows.high[net])
    for row in range(first, last):
        high |= rows.drive_high[tables.driver[row]]
        low |= rows.drive_low[tables.driver[row]]
    bridged = tables.bridge_start[net + 1] > tables.bridge_start[net]
    if bridged:
        rows.raw_high[net] = high
        rows.raw_low[net] = low
        join_bridges(tables, rows, net, high, low)
    if tables.pull[net]:
        nobody = ~(high | low)
        for row in range(tables.unpulled.start[net], tables.unpulled.start[net + 1]):
            nobody[tables.unpulled.word[row]] &= ~tables.unpulled.mask[row]
        if tables.pull[net] == 2:
            high |= nobody
        else:
            low |= nobody
    bite(tables.nets, net, high, low)
    if widen:
        high |= rows.high[net]
        low |= rows.low[net]
    if np.any(high != rows.high[net]) or np.any(low != rows.low[net]):
        rows.high[net] = high
        rows.low[net] = low
        rows.net_due[net] = True
        for row in range(tables.reader_start[net], tables.reader_start[net + 1]):
            rows.gate_due[tables.reader[row]] = True
        for row in range(tables.watcher_start[net], tables.watcher_start[net + 1]):
            rows.register_due[tables.watcher[row]] = True


def join_bridges(tables: Tables, rows: Rows, net, high, low):
    """Lay what bridged fault sets carry over the two planes."""
    for row in range(tables.bridge_start[net], tables.bridge_start[net + 1]):
        word, mask, winner = tables.bridge_word[row], tables.bridge_mask[row], tables.bridge_winner[row]
        own_high, own_low = rows.raw_high[net, word], rows.raw_low[net, word]
        other = tables.bridge_other[row]
        its_high, its_low = rows.raw_high[other, word], rows.raw_low[other, word]
        own_nobody, its_nobody = ~(own_high | own_low), ~(its_high | its_low)
        if winner == 0:
            new_high, new_low = own_high | (its_high & own_nobody), own_low | (its_low & own_nobody)
        elif winner == 1:
            new_high, new_low = its_high | (own_high & its_nobody), its_low | (own_low & its_nobody)
        elif winner == 2:
            new_high = (own_high & its_high) | (own_high & its_nobody) | (its_high & own_nobody)
            new_low = own_low | its_low
        else:
            new_high = own_high | its_high
            new_low = (own_low & its_low) | (own_low & its_nobody) | (its_low & own_nobody)
        high[word] = (high[word] & ~mask) | (new_high & mask)
        low[word] = (low[word] & ~mask) | (new_low & mask)


def changed(tables: Tables, rows: Rows, net, widen):
    """Resolve a net of which a driver changed, and those bridged to it."""
    resolve(tables, rows, net, widen)
    for row in range(tables.bridge_start[net], tables.bridge_start[net + 1]):
        resolve(tables, rows, tables.bridge_other[row], widen)


def work_out(tables: Tables, rows: Rows, gate):
    """What a gate drives; whether that changed."""
    first, last, code = tables.fanin_start[gate], tables.fanin_start[gate + 1], tables.gate_open[gate]
    kind = tables.kind[gate]
    if kind == 3:
        high, low = np.zeros_like(rows.high[0]), ~np.zeros_like(rows.high[0])
    else:
        high, low = seen_by(tables, rows, tables.fanin[first], first, code)
    if kind <= 2:
        for place in range(first + 1, last):
            other_high, other_low = seen_by(tables, rows, tables.fanin[place], place, code)
            if kind == 0:
                high &= other_high
                low |= other_low
            elif kind == 1:
                high |= other_high
                low &= other_low
            else:
                both = (high & other_low) | (low & other_high)
                low = (high & other_high) | (low & other_low)
                high = both
    elif kind >= 4:
        if kind == 6:
            on_high, on_low = low.copy(), high.copy()
        else:
            on_high, on_low = seen_by(tables, rows, tables.fanin[first + 1], first + 1, code)
        if kind == 5:
            on_high, on_low = on_low, on_high
        high = on_high & (high | on_low)
        low = on_high & (low | on_low)
    if tables.inverted[gate]:
        high, low = low, high
    return drive(tables, rows, gate, high, low)


def drive(tables: Tables, rows: Rows, place, high, low):
    """Put planes on a drive row, the bites of the place on top; whether it changed."""
    high, low = high.copy(), low.copy()
    bite(tables.drives, place, high, low)
    if np.any(high != rows.drive_high[place]) or np.any(low != rows.drive_low[place]):
        rows.drive_high[place] = high
        rows.drive_low[place] = low
        return True
    return False


def settle(tables: Tables, rows: Rows, most):
    """Work out gates that are due until none is; the number of passes beyond the most that there should be."""
    passes = 0
    while np.any(rows.gate_due):
        passes += 1
        for gate in range(len(tables.kind)):
            if rows.gate_due[gate]:
                rows.gate_due[gate] = False
                if work_out(tables, rows, gate):
                    changed(tables, rows, tables.gate_net[gate], passes > most)
    return max(0, passes - most)


def register_output(tables: Tables, rows: Rows, register, held_high, held_low, widen):
    """What a register holds after the nets have changed; its record of the nets before is brought up to date."""
    code, base = tables.register_open[register], len(tables.fanin) + 4 * register
    new_high, new_low = held_high, held_low
    if tables.register_net[register, 0] >= 0:
        data_high, data_low = seen_by(tables, rows, tables.register_net[register, 0], base, code)
        if tables.register_net[register, 1] >= 0:
            clock_high, clock_low = seen_by(tables, rows, tables.register_net[register, 1], base + 1, code)
            if tables.register_falling[register]:
                clock_high, clock_low = clock_low, clock_high
            if tables.register_latch[register]:
                surely, perhaps = clock_high & ~clock_low, clock_high
                taken_high, taken_low = data_high, data_low
            else:
                was_high, was_low = rows.before_high[register, 1], rows.before_low[register, 1]
                surely = was_low & ~was_high & clock_high & ~clock_low
                perhaps = was_low & clock_high
                taken_high, taken_low = rows.before_high[register, 0], rows.before_low[register, 0]
            new_high = (taken_high & perhaps) | (held_high & ~surely)
            new_low = (taken_low & perhaps) | (held_low & ~surely)
            rows.before_high[register, 1] = clock_high
            rows.before_low[register, 1] = clock_low
        rows.before_high[register, 0] = data_high
        rows.before_low[register, 0] = data_low
    for role in range(2, 4):
        if tables.register_net[register, role] >= 0:
            seen_high, seen_low = seen_by(tables, rows, tables.register_net[register, role], base + role, code)
            surely, perhaps = seen_low & ~seen_high, seen_low
            if role == 2:
                new_high, new_low = new_high & ~surely, (new_low & ~surely) | perhaps
            else:
                new_low, new_high = new_low & ~surely, (new_high & ~surely) | perhaps
    if widen:
        new_high, new_low = new_high | held_high, new_low | held_low
    return new_high, new_low


def clock_on(tables: Tables, rows: Rows, state_high, state_low, most):
    """Let edges run through the registers until none is due; how often it would not come to rest."""
    turns, restless = 0, 0
    while np.any(rows.register_due):
        turns += 1
        due = np.flatnonzero(rows.register_due)
        rows.register_due[:] = False
        for register in due:
            high, low = register_output(tables, rows, register, state_high[register], state_low[register], turns > most)
            state_high[register] = high
            state_low[register] = low
        for register in due:
            put_register(tables, rows, register, state_high[register], state_low[register], turns > most)
        restless += settle(tables, rows, most)
    return restless + max(0, turns - most)


def put_register(tables: Tables, rows: Rows, register, high, low, widen):
    """Drive the two outputs of a register."""
    place = len(tables.kind) + 2 * register
    net, inverse = tables.register_drives[register, 0], tables.register_drives[register, 1]
    if net >= 0 and drive(tables, rows, place, high, low):
        changed(tables, rows, net, widen)
    if inverse >= 0 and drive(tables, rows, place + 1, low, high):
        changed(tables, rows, inverse, widen)


def note(tables: Tables, rows: Rows, watched, everything):
    """Add what the watched nets show now to what was seen of them: low, high, let go, unknown, fighting."""
    for number in range(len(watched)):
        net = watched[number]
        if not (everything or rows.net_due[net]):
            continue
        rows.net_due[net] = False
        high, low = rows.high[net], rows.low[net]
        rows.seen[0, number] |= low & ~high
        rows.seen[1, number] |= high & ~low
        rows.seen[2, number] |= ~(high | low)
        rows.seen[3, number] |= high & low
        first, last = tables.driver_start[net], tables.driver_start[net + 1]
        if last > first + 1:
            up, down = np.zeros_like(high), np.zeros_like(high)
            for row in range(first, last):
                its_high, its_low = rows.drive_high[tables.driver[row]], rows.drive_low[tables.driver[row]]
                up |= its_high & ~its_low
                down |= its_low & ~its_high
            rows.seen[4, number] |= up & down & high & low


def play(tables: Tables, rows: Rows, state_high, state_low, given, setting, watched, looking_from, most):
    """
    Run all steps.

    Args:
        given: Codes 0, 1, 2 (Z), 3 (X) of each input, shape (steps, inputs).
        setting: Steps at which registers are set, whether each of them is, and to which words: see `run`.
        watched: Nets whose appearance is noted from a step on.

    Returns:
        How often something would not come to rest.
    """
    every = ~np.zeros_like(rows.high[0])
    restless = 0
    for step in range(len(given)):
        base = len(tables.kind) + 2 * len(tables.register_latch)
        for number in range(len(tables.input_net)):
            code = given[step, number]
            if step == 0 or code != given[step - 1, number]:
                high = every if code % 2 else ~every
                low = every if code == 0 or code == 3 else ~every
                if drive(tables, rows, base + number, high, low):
                    changed(tables, rows, tables.input_net[number], False)
        restless += settle(tables, rows, most)
        restless += clock_on(tables, rows, state_high, state_low, most)
        for number in np.flatnonzero(setting[0] == step):
            for register in np.flatnonzero(setting[1][number]):
                state_high[register] = setting[2][number, register]
                state_low[register] = ~setting[2][number, register]
                put_register(tables, rows, register, state_high[register], state_low[register], False)
                rows.register_due[register] = True
            restless += settle(tables, rows, most)
            restless += clock_on(tables, rows, state_high, state_low, most)
        if step >= looking_from:
            note(tables, rows, watched, step == looking_from)
    return restless
