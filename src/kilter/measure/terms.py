"""Terms: one number with its suffix, as '4k7', '5.03(2) V' or '3.58 MHz', and every way to read it."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from decimal import Decimal

from kilter.measure.figures import LIKELY, POSSIBLE, Figure, read_figure, worst
from kilter.measure.measured import Measured
from kilter.measure.suffixes import Meaning, meanings
from kilter.measure.units import Unit, prefixes, units

PLAIN = re.compile(r"([+-] ?)?([0-9.,][0-9 .,']*?)(\([0-9.,]+\))?(?:([eE])([+-]?[0-9]{1,3}))? *([^0-9.,()]*)")
INFIX = re.compile(r"([+-] ?)?([0-9]{0,4})([pnuµmkKMGRrΩ])([0-9]{1,3})( ?[^0-9.,()]*)")
INFIX_VOLTS = re.compile(r"([+-] ?)?([0-9]{1,3})([Vv])([0-9]{1,2})()")


@dataclass(frozen=True, slots=True)
class Candidate:
    """
    One way to read a text.

    Args:
        measured: The value.
        standing: 'likely', 'possible' (asked about) or 'unlikely'.
        reason: Why it may be read so; '' where nothing else comes to mind.
    """

    measured: Measured
    standing: str = LIKELY
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Term:
    """
    A number with its suffix, as cut from the text.

    Args:
        digits: With sign, comma and group marks as written; '4.7' for '4k7'.
        suffix: Prefix and unit; '' for none.
        spread: What stood in brackets behind the digits; '' for nothing.
        exponent: With its sign; '' for none.
        capital_e: Whether the exponent came with a capital E.
        infix: Whether a letter stood in place of the decimal point.
    """

    digits: str
    suffix: str
    spread: str = ""
    exponent: str = ""
    capital_e: bool = False
    infix: bool = False


def cut(text: str) -> Term | None:
    """
    The parts of one number with suffix; None where the text is none.

    >>> cut("4k7").digits, cut("4k7").suffix, cut("5.03(2) V").spread
    ('4.7', 'k', '2')
    """
    found = PLAIN.fullmatch(text)
    if found:
        sign, body, spread, mark, exponent, suffix = found.groups(default="")
        return Term(sign.strip() + body.strip(), suffix.strip(), spread.strip("()"), exponent, capital_e=mark == "E")
    found = INFIX.fullmatch(text) or INFIX_VOLTS.fullmatch(text)
    if found:
        sign, whole, letter, decimals, suffix = found.groups(default="")
        return Term(f"{sign.strip()}{whole or '0'}.{decimals}", letter + suffix, infix=True)
    return None


def read_term(text: str, expected: Unit | None, *, percent: bool = False) -> Iterator[Candidate]:
    """
    The ways to read one number with its suffix, not yet weighed by what a bench meets.

    Args:
        text: Without white space at its ends.
        expected: The unit that the value is wanted in; None where any will do.
        percent: Whether a percentage is wanted, so that a bare number may lack its sign.
    """
    term = cut(text)
    if term is None:
        return
    for figure in read_figure(term.digits, term.exponent):
        spread = _in_brackets(term, figure)
        if spread is not None:
            for meaning in _meant(term, figure, expected, percent=percent):
                yield from candidate(figure, meaning, spread)


def candidate(figure: Figure, meaning: Meaning, spread: Decimal, standing: str = LIKELY) -> Iterator[Candidate]:
    """The value of a figure with one meaning of its suffix; nothing where a float cannot hold it."""
    exact = figure.value * meaning.factor
    value, uncertainty = float(exact), float(abs(spread * meaning.factor))
    if math.isfinite(value) and math.isfinite(uncertainty) and (value != 0) == (exact != 0):
        reason = ", ".join(filter(None, (figure.reason, meaning.reason)))
        together = worst(figure.standing, meaning.standing, standing)
        yield Candidate(Measured(value, meaning.unit.key, uncertainty), together, reason)


def _in_brackets(term: Term, figure: Figure) -> Decimal | None:
    """The uncertainty in brackets, on the figure's own scale: '5.03(2)' or '5.03(0.02)' (GUM, 7.2.2)."""
    if not term.spread:
        return Decimal(0)
    if term.spread.isdigit():
        return Decimal(term.spread) * figure.last
    inside = read_figure(term.spread, term.exponent)
    return inside[0].value if len(inside) == 1 else None


def _meant(term: Term, figure: Figure, expected: Unit | None, *, percent: bool) -> Iterator[Meaning]:
    """What the suffix means, and the doubts that a missing suffix or a capital E brings."""
    bare = not term.suffix and not term.exponent and figure.value != 0
    others = [*(expected.doubt_bare if expected and bare else ()), *(["%"] if percent and bare else [])]
    codes = [*_capital_e_code(term, figure, expected), *_digit_code(term, figure, expected)]
    for meaning in meanings(term.suffix, expected):
        yield replace(meaning, standing=worst(meaning.standing, POSSIBLE)) if others or codes else meaning
    for word in others:
        yield from (replace(way, standing=POSSIBLE, reason=f"'{word}' left out") for way in meanings(word, expected))
    yield from codes


def _capital_e_code(term: Term, figure: Figure, expected: Unit | None) -> Iterator[Meaning]:
    """'4E7', which old resistors print for 4.7 ohm."""
    unit = expected or units()["ohm"]
    plain = term.capital_e and term.exponent.isdigit() and len(term.exponent) <= 2 and term.digits.isdigit()
    if plain and unit.key == "ohm" and figure.value != 0:
        factor = Decimal(f"{term.digits}.{term.exponent}") / figure.value
        yield Meaning(unit, factor, POSSIBLE, "'E' printed for the decimal point")


def _digit_code(term: Term, figure: Figure, expected: Unit | None) -> Iterator[Meaning]:
    """'104', which small capacitors print for 10 with four noughts, in picofarad; there is no third digit 7."""
    bare = not term.suffix and not term.exponent and re.fullmatch(r"[1-9][0-9][0-689]", term.digits)
    if expected and expected.digit_code and bare:
        noughts = {"8": -2, "9": -1}.get(term.digits[2], int(term.digits[2]))
        unit_of_code = Decimal(repr(prefixes()[expected.digit_code].factor))
        factor = Decimal(term.digits[:2]).scaleb(noughts) * unit_of_code / figure.value
        yield Meaning(expected, factor, POSSIBLE, "read as a three-digit code")
