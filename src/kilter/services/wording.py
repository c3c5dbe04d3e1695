"""Words for people: readings, places, faults and probabilities, said the same way by every face."""

from __future__ import annotations

import math

from kilter.circuit.board import Board
from kilter.measure.measured import Measured, engineering
from kilter.measure.quantities import quantity
from kilter.parts.kinds import modes_of, part_kind
from kilter.records.reading import Reading
from kilter.simulate.prediction import Fault

SURE, NEGLIGIBLE = 0.999, 0.001
"""Probabilities beyond are shown as 'over' and 'under' these; no reading makes anything certain."""
MILLION = 6.0
"""log10 from which a ratio is no longer worth a figure."""


def said(reading: Reading) -> str:
    """
    What was read, with its standard uncertainty where it has one.

    >>> said(Reading("TP1", "voltage", 4.98, uncertainty=0.02)), said(Reading("clk", "level", None, "pulsing"))
    ('4.98 ± 0.02 V', 'pulsing')
    """
    if reading.value is None:
        return reading.word
    return str(Measured(reading.value, quantity(reading.quantity).unit, reading.uncertainty))


def said_shortly(reading: Reading) -> str:
    """
    What was read, to three digits.

    >>> said_shortly(Reading("V1", "current", 0.442, uncertainty=0.004))
    '442 mA'
    """
    return reading.word if reading.value is None else engineering(reading.value, quantity(reading.quantity).unit)


def asked(reading: Reading) -> str:
    """
    Where and what was read; once where both have the same name.

    >>> asked(Reading("sound", "sound", None, "hum")), asked(Reading("V5", "voltage", 5.0))
    ('sound', 'V5 voltage')
    """
    return reading.point if reading.point == reading.quantity else f"{reading.point} {reading.quantity}"


def place_words(board: Board, place: str) -> str:
    """What leads a hand to a point or a part; '' where nobody wrote it down."""
    if place in board.points:
        return board.points[place].label
    if place in board.parts:
        part = board.parts[place]
        return ", ".join(words for words in (part.value, *part.notes) if words and not words.startswith("guessed"))
    return ""


def kind_words(board: Board, ref: str) -> str:
    """What sort of part it is."""
    return part_kind(board.parts[ref].kind).words


def mode_words(board: Board, fault: Fault) -> str:
    """A failure mode in words, such as 'leaks current'."""
    part, mode = fault
    return next((one.words for one in modes_of(board.parts[part]) if one.key == mode), mode)


def percent(share: float) -> str:
    """
    A probability in per cent, never quite nothing and never quite certain.

    >>> percent(0.5), percent(0.034), percent(0.998), percent(1.0), percent(0.0)
    ('50 %', '3.4 %', '99.8 %', 'over 99.9 %', 'under 0.1 %')
    """
    if share > SURE:
        return "over 99.9 %"
    if share < NEGLIGIBLE:
        return "under 0.1 %"
    return f"{100 * share:.0f} %" if 0.0995 <= share < 0.985 else f"{100 * share:.1f} %"


def times(weight: float) -> str:
    """
    A likelihood ratio, given as its log10, in words.

    >>> times(1.97), times(-0.7), times(12.0)
    ('93 times likelier with it than without', '5.0 times likelier without it', 'over a million times likelier with it')
    """
    side = "with it" if weight >= 0 else "without it"
    if abs(weight) >= MILLION:
        return f"over a million times likelier {side}"
    ratio = math.pow(10.0, abs(weight))
    figure = f"{ratio:.1f}" if ratio < 9.95 else f"{ratio:,.0f}"
    return f"{figure} times likelier {side}" + (" than without" if weight >= 0 else "")
