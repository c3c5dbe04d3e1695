"""Value changes in a piece of VCD text (IEEE 1364-2005, clause 18), found by array operations."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kilter.signals.logic_lines import FLOATING, HIGH, LOW, UNKNOWN, Ticks

Bytes = NDArray[np.uint8]
Places = NDArray[np.intp]

SPACE = 32
TIME, SCALAR, VECTOR, REAL, DIRECTIVE, SKIP, WRONG = range(7)
"""What a word is, told by its first letter."""

LONGEST_TIME = 18
"""Digits of a time stamp that fit into 64 bits."""


def _by_letter(letters: dict[str, int], other: int) -> Bytes:
    table = np.full(256, other, np.uint8)
    for some, meaning in letters.items():
        for letter in some:
            table[ord(letter)] = meaning
    return table


KIND = _by_letter({"#": TIME, "01xXzZuUwWlLhH-": SCALAR, "bB": VECTOR, "rRsS": REAL, "$": DIRECTIVE}, WRONG)
LEVEL = _by_letter({"0lL": LOW, "1hH": HIGH, "zZ": FLOATING}, UNKNOWN)
"""Weak levels (l, h) of other dialects count as levels; u, w and - as unknown."""


class Unreadable(Exception):
    """
    A word that cannot be what its place asks for.

    Args:
        offset: Of the word in the piece. [bytes]
        found: What is wrong with it, with the word itself.
    """

    def __init__(self, offset: int, found: str) -> None:
        self.offset, self.found = offset, found
        super().__init__(found)


@dataclass(frozen=True)
class Piece:
    """
    What one piece of text holds.

    Args:
        text: The bytes, of which the places below speak.
        stamps: Every time stamp. [ticks]
        times: Time of each word kept below by its kind, None before any time stamp: -1. [ticks]
        scalars: Where single-line changes start and end; the identifier follows the first letter.
        vectors: Where words of bits start and end, and their identifiers.
        reals: Where numbers start and end, and their identifiers.
        directives: Each with its time (-1 before any stamp) and its word.
    """

    text: Bytes
    stamps: Ticks
    scalars: tuple[Ticks, Places, Places]
    vectors: tuple[Ticks, Places, Places, Places, Places]
    reals: tuple[Ticks, Places, Places, Places, Places]
    directives: tuple[tuple[int, str], ...]


def scan(raw: bytes) -> Piece:
    """
    Takes a piece apart.

    Args:
        raw: Whole words; a comment, and a vector with its identifier, do not go beyond the piece.

    Raises:
        Unreadable: A word that is nothing a VCD body may hold.
    """
    text = np.frombuffer(raw, np.uint8)
    starts, ends = _words(text)
    kind = KIND[text[starts]]
    at_dollar = np.flatnonzero(kind == DIRECTIVE)
    if len(at_dollar):
        _skip_comments(raw, starts, ends, kind, at_dollar)
    named = _set_identifiers_apart(kind, starts)
    _check(raw, starts, ends, kind)
    is_time = kind == TIME
    stamps = _stamps(text, starts[is_time], ends[is_time])
    since = np.cumsum(is_time) - 1
    when = np.concatenate([stamps, [-1]])

    def with_names(wanted: int) -> tuple[Ticks, Places, Places, Places, Places]:
        at = named[kind[named] == wanted]
        return when[since[at]], starts[at], ends[at], starts[at + 1], ends[at + 1]

    single = np.flatnonzero(kind == SCALAR)
    told = tuple((int(when[since[i]]), _word(raw, starts[i], ends[i])) for i in np.flatnonzero(kind == DIRECTIVE))
    scalars = (when[since[single]], starts[single], ends[single])
    return Piece(text, stamps, scalars, with_names(VECTOR), with_names(REAL), told)


def _words(text: Bytes) -> tuple[Places, Places]:
    """Where runs of letters that are no spaces start and end."""
    inside = np.zeros(len(text) + 2, np.bool_)
    np.greater(text, SPACE, out=inside[1:-1])
    edges = np.flatnonzero(inside[1:] != inside[:-1])
    return edges[::2], edges[1::2]


def _word(raw: bytes, start: int, end: int) -> str:
    return raw[start : min(end, start + 40)].decode("latin-1")


def _skip_comments(raw: bytes, starts: Places, ends: Places, kind: Bytes, at_dollar: Places) -> None:
    """Marks the words of comments, from $comment to $end."""
    opened = -1
    for i in at_dollar:
        word = raw[starts[i] : ends[i]]
        if opened < 0 and word == b"$comment":
            opened = int(i)
        elif opened >= 0 and word == b"$end":
            kind[opened : i + 1] = SKIP
            opened = -1
    if opened >= 0:
        raise Unreadable(int(starts[opened]), "a $comment without $end before the next time stamp or the file's end")


def _set_identifiers_apart(kind: Bytes, starts: Places) -> Places:
    """
    Words with a value that their identifier follows; the identifiers themselves are marked to be skipped.

    An identifier may begin with any letter, also with the b of a value: in a run of words with b or r every second one
    is an identifier, because the first is none.
    """
    valued = (kind == VECTOR) | (kind == REAL)
    at = np.flatnonzero(valued)
    if not len(at):
        return at
    new_run = np.concatenate([[True], np.diff(at) > 1])
    first = at[np.maximum.accumulate(np.where(new_run, np.arange(len(at)), 0))]
    named: Places = at[(at - first) % 2 == 0]
    if named[-1] + 1 >= len(kind):
        raise Unreadable(int(starts[named[-1]]), "a value at the end of the text, without its identifier")
    kind[named + 1] = SKIP
    return named


def _check(raw: bytes, starts: Places, ends: Places, kind: Bytes) -> None:
    """Refuses words that are nothing, and single-line changes without identifier."""
    wrong = np.flatnonzero((kind == WRONG) | ((kind == SCALAR) & (ends - starts < 2)))
    if len(wrong):
        i = wrong[0]
        raise Unreadable(int(starts[i]), f"the word '{_word(raw, starts[i], ends[i])}', which is no value change")


def _stamps(text: Bytes, starts: Places, ends: Places) -> Ticks:
    """Time stamps as numbers."""
    if not len(starts):
        return np.zeros(0, np.int64)
    digits = ends - starts - 1
    bad = np.flatnonzero((digits < 1) | (digits > LONGEST_TIME))
    if len(bad):
        word = bytes(text[starts[bad[0]] : ends[bad[0]]][:40]).decode("latin-1")
        raise Unreadable(int(starts[bad[0]]), f"the time stamp '{word}'")
    times = np.zeros(len(starts), np.int64)
    wrong = np.zeros(len(starts), np.bool_)
    for place in range(int(digits.max())):
        inside = place < digits
        letter = text[np.where(inside, starts + 1 + place, starts)] - np.uint8(48)
        wrong |= inside & (letter > 9)
        times = np.where(inside, times * 10 + letter, times)
    if wrong.any():
        first = int(np.flatnonzero(wrong)[0])
        word = bytes(text[starts[first] : ends[first]][:40]).decode("latin-1")
        raise Unreadable(int(starts[first]), f"the time stamp '{word}'")
    return times
