"""Values with an uncertainty behind a ±: '5.03 V ± 0.02', '(5.03 ± 0.02) V', '5.03 V ± 20 mV', '4k7 ± 5 %'."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import replace

from kilter.measure.figures import LIKELY, POSSIBLE, UNLIKELY, read_figure, worst
from kilter.measure.suffixes import meanings
from kilter.measure.terms import Candidate, Term, candidate, cut, read_term
from kilter.measure.units import Unit, units


def read_plus_minus(text: str, expected: Unit | None) -> Iterator[Candidate]:
    """
    The ways to read a value with its standard uncertainty.

    Args:
        text: With exactly one ±, without white space at its ends.
        expected: The unit that the value is wanted in; None where any will do.
    """
    left_text, _, right_text = (side.strip() for side in _without_brackets(text).partition("±"))
    left, right = cut(left_text), cut(right_text)
    if left is None or right is None or left.spread or right.spread or right.digits[0] in "-+":
        return
    if right.suffix == "%" and left.suffix != "%" and not left.suffix.endswith("%"):
        yield from _share(left_text, right, expected)
    elif (left.infix and right.infix) or (left.suffix and right.suffix and left.suffix != right.suffix):
        yield from _own_suffixes(left_text, right_text, expected)
    elif not (left.infix or right.infix):
        yield from _shared_suffix(left, right, expected)


def _without_brackets(text: str) -> str:
    found = re.fullmatch(r"\(([^()]*)\) *([^()]*)", text)
    return f"{found[1]} {found[2]}".strip() if found else text


def _share(left_text: str, right: Term, expected: Unit | None) -> Iterator[Candidate]:
    """The uncertainty as a share of the value."""
    for way in read_term(left_text, expected):
        for share in read_figure(right.digits, right.exponent):
            spread = abs(way.measured.value) * float(share.value) / 100
            if math.isfinite(spread):
                kept = replace(way.measured, uncertainty=spread)
                yield replace(way, measured=kept, standing=worst(way.standing, share.standing))


def _own_suffixes(left_text: str, right_text: str, expected: Unit | None) -> Iterator[Candidate]:
    """The uncertainty with a prefix or unit of its own, which must be the value's unit."""
    for way in read_term(left_text, expected):
        unit = units()[way.measured.unit]
        for spread in read_term(right_text, unit):
            if spread.standing != UNLIKELY and unit.believable(spread.measured.value):
                kept = replace(way.measured, uncertainty=spread.measured.value)
                yield replace(way, measured=kept, standing=worst(way.standing, spread.standing))


def _shared_suffix(left: Term, right: Term, expected: Unit | None) -> Iterator[Candidate]:
    """One suffix for both; asked about where the uncertainty would then exceed the value by a prefix's help."""
    for figure in read_figure(left.digits, left.exponent):
        for spread in read_figure(right.digits, right.exponent):
            for meaning in meanings(left.suffix or right.suffix, expected):
                if meaning.factor != 1 and abs(figure.value) < spread.value:
                    reason = "the uncertainty exceeds the value"
                    yield from candidate(figure, replace(meaning, reason=reason), spread.value, POSSIBLE)
                else:
                    yield from candidate(figure, meaning, spread.value, worst(LIKELY, spread.standing))
