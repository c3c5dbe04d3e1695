"""
The run, compiled: one word of lanes after another, so that all it needs stays in the fastest cache.

It does what `kernel` does on whole rows. Only `engine` imports it: numba is an optional extra.
"""

# mypy: ignore-errors
# The functions are compiled: branches cost less than calls there.

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit

from kilter.simulate.logic.running.rows import NOTES
from kilter.simulate.logic.running.tables import Bites, Tables, Words
from kilter.simulate.logic.wide import lowest

ALL, NONE, ONE = ~np.uint64(0), np.uint64(0), np.uint64(1)


def without_counting(**options):
    """Compile without counting references: nothing here makes an array, and counting takes most of the time."""
    return njit(cache=True, _nrt=False, **options)


class WordBites(NamedTuple):
    """The same changes as in `Bites`, sorted by word: rows start[word] to start[word + 1] of (place, ...)."""

    start: np.ndarray
    place: np.ndarray
    mask: Words
    high: Words
    low: Words


class Bridges(NamedTuple):
    """Bridges sorted by word."""

    start: np.ndarray
    net: np.ndarray
    mask: Words
    other: np.ndarray
    winner: np.ndarray


class Now(NamedTuple):
    """One word of lanes of everything: planes as rows 0 (high) and 1 (low); changes as keep, high, low."""

    net: Words
    raw: Words
    drive: Words
    held: Words
    before: Words
    reads: Words
    drives: Words
    nets: Words
    unpulled: Words
    bridged: np.ndarray
    gate_due: Words
    register_due: Words
    net_due: np.ndarray
    pending: np.ndarray


def run_words(tables: Tables, state: Words, given, set_at, is_set, set_to, watched, looking_from, most):
    """What was noted, shape (notes, watched nets, words), and how often something would not come to rest."""
    n_words = state.shape[2]
    seen = np.zeros((NOTES, len(watched), n_words), np.uint64)
    bites = [_by_word(one, n_words) for one in (tables.reads, tables.drives, tables.nets, tables.unpulled)]
    net = np.repeat(np.arange(len(tables.pull)), np.diff(tables.bridge_start)).astype(np.int32)
    order = np.argsort(tables.bridge_word, kind="stable")
    start = np.searchsorted(tables.bridge_word[order], np.arange(n_words + 1))
    rows = (net, tables.bridge_mask, tables.bridge_other, tables.bridge_winner)
    bridges = Bridges(start, *(row[order] for row in rows))
    restless = 0
    for word in range(n_words):
        restless += play_word(
            word, tables, bridges, at_rest(tables, bites, bridges, state, word), given, set_at, is_set, set_to, watched,
            looking_from, most, seen,
        )  # fmt: skip
    return seen, int(restless)


def _by_word(bites: Bites, n_words: int) -> WordBites:
    place = np.repeat(np.arange(len(bites.start) - 1), np.diff(bites.start)).astype(np.int32)
    order = np.argsort(bites.word, kind="stable")
    start = np.searchsorted(bites.word[order], np.arange(n_words + 1))
    return WordBites(start, place[order], bites.mask[order], bites.high[order], bites.low[order])


def at_rest(tables: Tables, bites: list[WordBites], bridges: Bridges, state: Words, word: int) -> Now:
    """One word of everything before the first step: nets unknown, everything due, no clock seen low."""
    n_gates, n_registers, n_nets = len(tables.kind), len(tables.register_latch), len(tables.pull)
    n_drives = n_gates + 2 * n_registers + len(tables.input_net)
    before = np.full((4, n_registers), ALL)
    before[3] = NONE
    bridged = np.zeros(n_nets, np.bool_)
    bridged[bridges.net[bridges.start[word] : bridges.start[word + 1]]] = True
    sizes = (len(tables.fanin) + 4 * n_registers, n_drives, n_nets, n_nets)
    reads, drives, nets, unpulled = (laid(one, word, size) for one, size in zip(bites, sizes, strict=True))
    return Now(
        np.full((2, n_nets), ALL), np.full((2, n_nets), ALL), np.full((2, n_drives), ALL),
        state[:, :, word].copy(), before, reads, drives, nets, unpulled[0].copy(), bridged,
        _all_due(n_gates), _all_due(n_registers), np.ones(n_nets, np.bool_), np.arange(n_registers + 1),
    )  # fmt: skip


def laid(bites: WordBites, word: int, places: int) -> Words:
    """The changes of one word by place: what is kept, set high, set low."""
    found = np.zeros((3, places), np.uint64)
    rows = slice(bites.start[word], bites.start[word + 1])
    np.bitwise_or.at(found[0], bites.place[rows], bites.mask[rows])
    np.bitwise_or.at(found[1], bites.place[rows], bites.high[rows])
    np.bitwise_or.at(found[2], bites.place[rows], bites.low[rows])
    found[0] = ~found[0]
    return found


def _all_due(count: int) -> Words:
    flags = np.zeros(64 * (count // 64 + 1), np.bool_)
    flags[:count] = True
    return np.packbits(flags, bitorder="little").view("<u8").astype(np.uint64)


@without_counting(inline="always")
def mark(due, number):
    """Make a gate or register due."""
    due[number >> 6] |= ONE << np.uint64(number & 63)


@without_counting(inline="always")
def seen_by(now, net, place, code):
    """What an input sees of a net."""
    high, low = now.net[0, net], now.net[1, net]
    nobody = ~(high | low)
    if code > 0:
        high |= nobody
    if code < 2:
        low |= nobody
    return (high & now.reads[0, place]) | now.reads[1, place], (low & now.reads[0, place]) | now.reads[2, place]


@without_counting(inline="always")
def resolve(tables, bridges, now, word, net, widen):
    """Work a net out; what reads it becomes due where it changed."""
    high, low = NONE, NONE
    for row in range(tables.driver_start[net], tables.driver_start[net + 1]):
        high |= now.drive[0, tables.driver[row]]
        low |= now.drive[1, tables.driver[row]]
    if now.bridged[net]:
        now.raw[0, net], now.raw[1, net] = high, low
        own_high, own_low, own_nobody = high, low, ~(high | low)
        for row in range(bridges.start[word], bridges.start[word + 1]):
            if bridges.net[row] == net:
                mask, winner, other = bridges.mask[row], bridges.winner[row], bridges.other[row]
                its_high, its_low = now.raw[0, other], now.raw[1, other]
                its_nobody = ~(its_high | its_low)
                new_high, new_low = own_high | its_high, own_low | its_low
                if winner == 0:
                    new_high, new_low = own_high | (its_high & own_nobody), own_low | (its_low & own_nobody)
                elif winner == 1:
                    new_high, new_low = its_high | (own_high & its_nobody), its_low | (own_low & its_nobody)
                elif winner == 2:
                    new_high = (own_high & its_high) | (own_high & its_nobody) | (its_high & own_nobody)
                else:
                    new_low = (own_low & its_low) | (own_low & its_nobody) | (its_low & own_nobody)
                high, low = (high & ~mask) | (new_high & mask), (low & ~mask) | (new_low & mask)
    if tables.pull[net]:
        nobody = ~(high | low) & now.unpulled[net]
        if tables.pull[net] == 2:
            high |= nobody
        else:
            low |= nobody
    high, low = (high & now.nets[0, net]) | now.nets[1, net], (low & now.nets[0, net]) | now.nets[2, net]
    if widen:
        high |= now.net[0, net]
        low |= now.net[1, net]
    if high != now.net[0, net] or low != now.net[1, net]:
        now.net[0, net], now.net[1, net] = high, low
        now.net_due[net] = True
        for row in range(tables.reader_start[net], tables.reader_start[net + 1]):
            mark(now.gate_due, tables.reader[row])
        for row in range(tables.watcher_start[net], tables.watcher_start[net + 1]):
            mark(now.register_due, tables.watcher[row])


@without_counting()
def resolve_bridged(tables, bridges, now, word, net, widen):
    """Resolve what is bridged to a net."""
    for row in range(bridges.start[word], bridges.start[word + 1]):
        if bridges.net[row] == net:
            resolve(tables, bridges, now, word, bridges.other[row], widen)


@without_counting(inline="always")
def drive(tables, bridges, now, word, place, net, high, low, widen):
    """Put a value on a drive; the net and those bridged to it follow."""
    high = (high & now.drives[0, place]) | now.drives[1, place]
    low = (low & now.drives[0, place]) | now.drives[2, place]
    if high != now.drive[0, place] or low != now.drive[1, place]:
        now.drive[0, place], now.drive[1, place] = high, low
        resolve(tables, bridges, now, word, net, widen)
        if now.bridged[net]:
            resolve_bridged(tables, bridges, now, word, net, widen)


@without_counting(inline="always")
def gate_value(tables, now, gate):
    """What a gate makes of its inputs."""
    first, last, code, kind = (
        tables.fanin_start[gate],
        tables.fanin_start[gate + 1],
        tables.gate_open[gate],
        tables.kind[gate],
    )
    high, low = NONE, ALL
    if kind != 3:
        high, low = seen_by(now, tables.fanin[first], first, code)
    if kind <= 2:
        for place in range(first + 1, last):
            its_high, its_low = seen_by(now, tables.fanin[place], place, code)
            if kind == 0:
                high, low = high & its_high, low | its_low
            elif kind == 1:
                high, low = high | its_high, low & its_low
            else:
                high, low = (high & its_low) | (low & its_high), (high & its_high) | (low & its_low)
    elif kind >= 4:
        on, off = low, high
        if kind != 6:
            on, off = seen_by(now, tables.fanin[first + 1], first + 1, code)
        if kind == 5:
            on, off = off, on
        high, low = on & (high | off), on & (low | off)
    if tables.inverted[gate]:
        high, low = low, high
    return high, low


@without_counting()
def settle(tables, bridges, now, word, most):
    """Work out gates that are due until none is; the number of passes beyond the most that there should be."""
    passes, busy = 0, True
    while busy:
        busy = False
        for block in range(len(now.gate_due)):
            waiting = now.gate_due[block]
            while waiting:
                busy = True
                bit = lowest(waiting)
                now.gate_due[block] &= ~(ONE << np.uint64(bit))
                gate = block * 64 + bit
                high, low = gate_value(tables, now, gate)
                drive(tables, bridges, now, word, gate, tables.gate_net[gate], high, low, passes >= most)
                # gates before this one wait for the next pass
                waiting = now.gate_due[block] & ~((ONE << np.uint64(bit)) | ((ONE << np.uint64(bit)) - ONE))
        passes += 1
    return max(0, passes - 1 - most)


@without_counting()
def register_value(tables, now, register, widen):
    """What a register holds after the nets have changed; what it saw is kept for the next time."""
    code, base = tables.register_open[register], len(tables.fanin) + 4 * register
    old_high, old_low = now.held[0, register], now.held[1, register]
    high, low = old_high, old_low
    data_high, data_low = seen_by(now, tables.register_net[register, 0], base, code)
    if tables.register_net[register, 1] >= 0:
        clock_high, clock_low = seen_by(now, tables.register_net[register, 1], base + 1, code)
        if tables.register_falling[register]:
            clock_high, clock_low = clock_low, clock_high
        surely, perhaps, new_high, new_low = clock_high & ~clock_low, clock_high, data_high, data_low
        if not tables.register_latch[register]:
            was_high, was_low = now.before[2, register], now.before[3, register]
            surely, perhaps = was_low & ~was_high & clock_high & ~clock_low, was_low & clock_high
            new_high, new_low = now.before[0, register], now.before[1, register]
        high, low = (new_high & perhaps) | (high & ~surely), (new_low & perhaps) | (low & ~surely)
        now.before[2, register], now.before[3, register] = clock_high, clock_low
    now.before[0, register], now.before[1, register] = data_high, data_low
    for role in range(2, 4):
        if tables.register_net[register, role] >= 0:
            its_high, its_low = seen_by(now, tables.register_net[register, role], base + role, code)
            surely = its_low & ~its_high
            if role == 2:
                high, low = high & ~surely, (low & ~surely) | its_low
            else:
                high, low = (high & ~surely) | its_low, low & ~surely
    if widen:
        high, low = high | old_high, low | old_low
    now.held[0, register], now.held[1, register] = high, low


@without_counting()
def put_registers(tables, bridges, now, word, count, widen):
    """Drive the outputs of registers that are pending."""
    for number in range(count):
        register = now.pending[number]
        for side in range(2):
            net = tables.register_drives[register, side]
            if net >= 0:
                place = len(tables.kind) + 2 * register + side
                high, low = now.held[side, register], now.held[1 - side, register]
                drive(tables, bridges, now, word, place, net, high, low, widen)


@without_counting()
def come_to_rest(tables, bridges, now, word, count, most):
    """Settle, and let edges run through the registers until none is due; how often it would not come to rest."""
    turns, restless = 0, 0
    while True:
        put_registers(tables, bridges, now, word, count, turns > most)
        restless += settle(tables, bridges, now, word, most)
        count = 0
        for block in range(len(now.register_due)):
            while now.register_due[block]:
                bit = lowest(now.register_due[block])
                now.register_due[block] &= now.register_due[block] - ONE
                now.pending[count] = block * 64 + bit
                count += 1
        if count == 0:
            return restless + max(0, turns - most)
        turns += 1
        for number in range(count):
            register_value(tables, now, now.pending[number], turns > most)


@without_counting()
def note(tables, now, word, watched, everything, seen):
    """Add what the watched nets show to what was seen of them."""
    for number in range(len(watched)):
        net = watched[number]
        if not (everything or now.net_due[net]):
            continue
        now.net_due[net] = False
        high, low = now.net[0, net], now.net[1, net]
        seen[0, number, word] |= low & ~high
        seen[1, number, word] |= high & ~low
        seen[2, number, word] |= ~(high | low)
        seen[3, number, word] |= high & low
        if tables.driver_start[net + 1] > tables.driver_start[net] + 1:
            up, down = NONE, NONE
            for row in range(tables.driver_start[net], tables.driver_start[net + 1]):
                its_high, its_low = now.drive[0, tables.driver[row]], now.drive[1, tables.driver[row]]
                up |= its_high & ~its_low
                down |= its_low & ~its_high
            seen[4, number, word] |= up & down & high & low


@without_counting()
def play_word(word, tables, bridges, now, given, set_at, is_set, set_to, watched, looking_from, most, seen):
    """Run all steps of one word; what the arguments are, see `kernel.play`."""
    put_registers(tables, bridges, now, word, len(tables.register_latch), False)
    for net in range(len(tables.pull)):
        resolve(tables, bridges, now, word, net, False)
    first_input = len(tables.kind) + 2 * len(tables.register_latch)
    restless = 0
    for step in range(len(given)):
        for number in range(len(tables.input_net)):
            code = given[step, number]
            if step == 0 or code != given[step - 1, number]:
                high, low = (ALL if code % 2 else NONE), (ALL if code == 0 or code == 3 else NONE)
                net = tables.input_net[number]
                drive(tables, bridges, now, word, first_input + number, net, high, low, False)
        restless += come_to_rest(tables, bridges, now, word, 0, most)
        for number in range(len(set_at)):
            if step != set_at[number]:
                continue
            count = 0
            for register in range(len(tables.register_latch)):
                if is_set[number, register]:
                    now.held[0, register] = set_to[number, register, word]
                    now.held[1, register] = ~set_to[number, register, word]
                    mark(now.register_due, register)
                    now.pending[count] = register
                    count += 1
            restless += come_to_rest(tables, bridges, now, word, count, most)
        if step >= looking_from:
            note(tables, now, word, watched, step == looking_from, seen)
    return restless
