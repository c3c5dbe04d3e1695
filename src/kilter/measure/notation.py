"""
Bench notation: values as they are printed on parts, shown by meters and typed by hand.

`possible_readings` lists every way to read a text, best first; `read_quantity` gives the one sure reading or says why
there is none. A text that may mean two things is never decided by a guess.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import replace

from kilter.measure.errors import BadInput
from kilter.measure.figures import LIKELY, STANDINGS, UNLIKELY
from kilter.measure.measured import Measured, engineering
from kilter.measure.plus_minus import read_plus_minus
from kilter.measure.suffixes import meanings
from kilter.measure.terms import Candidate, read_term
from kilter.measure.units import Unit, units
from kilter.measure.units import unit as unit_spelled

LONGEST = 80
"""Characters; a longer text is not one value."""

LOOK_ALIKES = str.maketrans(
    {
        "\u2126": "Ω",
        "\u03bc": "µ",
        "\u2212": "-",
        "\u2013": "-",
        "\u2019": "'",
        "\u00a0": " ",
        "\u2009": " ",
        "\u202f": " ",
    }
)
"""The ohm sign, the Greek mu, minus and dash, the apostrophe, hard and thin spaces."""

OVER_LIMIT = re.compile(r"([+-]?) ?(?:\.?[oO0]\.?L\.?|\.?ol|over limit|overload|overflow|inf|∞) *(.*)")

FORMS = "values such as 4k7, 470R, 100n, -12.1 V, 5.03 V ± 0.02, 5.03(2) V, 3.58 MHz, 20 % or OL"


def read_quantity(text: str, unit: str = "") -> Measured:
    """
    The one sure reading of a text.

    Args:
        text: Such as '4k7', '5.03 V ± 0.02', 'OL'. What follows ± or stands in brackets is a standard uncertainty.
        unit: The unit expected, in any spelling; a text without unit is then in it, one in another unit is refused.

    Returns:
        The value without prefix. Over limit is infinity. '20 %' is 0.2 with unit ''.

    Raises:
        BadInput: The text is no value, is in another unit, or can be read in two ways; the message lists them.

    >>> read_quantity("4k7", "ohm").value, read_quantity("-12.1 V").unit, read_quantity("5.03(2) V").uncertainty
    (4700.0, 'V', 0.02)
    >>> read_quantity("10M", "F")
    Traceback (most recent call last):
    ...
    kilter.measure.errors.BadInput: Cannot read the value '10M': found a text that may mean 10.0 µF ('M' written for \
'µ') or 10000 µF ('M' written for 'm'). Allowed: a value that can be read in one way only. Write out what is meant.
    """
    found = possible_readings(text, unit)
    in_question = [way for way in found if way.standing != UNLIKELY]
    if len(in_question) == 1 and in_question[0].standing == LIKELY:
        return in_question[0].measured
    raise _unreadable(text, unit, tuple(in_question) or found)


def possible_readings(text: str, unit: str = "") -> tuple[Candidate, ...]:
    """
    Every way to read a text, best first; empty where it is no value in the expected unit.

    Raises:
        BadInput: The expected unit is unknown.

    >>> for way in possible_readings("1m", "ohm"):
    ...     print(way.measured, way.standing, way.reason, sep=", ")
    1.000 MΩ, possible, 'm' written for 'M'
    1.000 mΩ, possible, 'm' taken at its word
    """
    expected = unit_spelled(unit.strip()) if unit.strip() else None
    if len(text) > LONGEST:
        return ()
    plain = " ".join(text.translate(LOOK_ALIKES).replace("+/-", "±").replace("+-", "±").split())
    best: dict[Measured, Candidate] = {}
    ways = map(_believed, _readings(plain, expected, percent=unit.strip() == "%"))
    for way in sorted(ways, key=lambda way: STANDINGS.index(way.standing)):
        best.setdefault(way.measured, way)
    return tuple(best.values())


def _believed(way: Candidate) -> Candidate:
    """The reading itself, or marked unlikely where no bench meets such a value."""
    entry, value = units()[way.measured.unit], way.measured.value
    if entry.believable(value):
        return way
    found = "below zero" if value < 0 and not entry.signed else "beyond what a bench meets"
    return replace(way, standing=UNLIKELY, reason=", ".join(filter(None, (way.reason, found))))


def _readings(plain: str, expected: Unit | None, *, percent: bool) -> Iterator[Candidate]:
    over = OVER_LIMIT.fullmatch(plain)
    if over:
        yield from _over_limit(over[1], over[2], expected)
    elif plain[:1] in {">", "≥", "<", "≤"}:
        yield from _bound(plain[0], plain[1:].lstrip("=").strip(), expected)
    elif "±" in plain:
        yield from read_plus_minus(plain, expected)
    else:
        yield from read_term(plain, expected, percent=percent)


def _over_limit(sign: str, suffix: str, expected: Unit | None) -> Iterator[Candidate]:
    for key in {meaning.unit.key for meaning in meanings(suffix, expected)}:
        yield Candidate(Measured(-math.inf if sign == "-" else math.inf, key), LIKELY, "over limit")


def _bound(mark: str, rest: str, expected: Unit | None) -> Iterator[Candidate]:
    """'>20M' is over limit; '<0.5 ohm' is anywhere from zero to there, a rectangular distribution (GUM, 4.3.7)."""
    for way in read_term(rest, expected):
        limit, key = way.measured.value, way.measured.unit
        if mark in ">≥" and limit >= units()[key or "ohm"].endless_from:
            yield replace(way, measured=Measured(math.inf, key), reason="over limit")
        elif mark in "<≤" and key == "ohm" and limit > 0:
            middle = Measured(limit / 2, key, limit / math.sqrt(12))
            yield replace(way, measured=middle, reason="anywhere from zero to the bound")


def _unreadable(text: str, wanted: str, ways: tuple[Candidate, ...]) -> BadInput:
    doing = f"Cannot read the value '{text[:LONGEST]}'" + (f" in {wanted}" if wanted and not ways else "")
    if ways:
        listed = " or ".join(_shown(way) for way in ways)
        one_way = "a value that can be read in one way only"
        return BadInput(doing, f"a text that may mean {listed}", one_way, "Write out what is meant.")
    elsewhere = possible_readings(text) if wanted else ()
    if elsewhere:
        found = f"a value in {elsewhere[0].measured.unit or 'no unit'}"
        return BadInput(doing, found, f"a value in {wanted}", "Check the unit, or what the value was given for.")
    if text.lstrip()[:1] in set("<>≤≥"):
        return BadInput(
            doing,
            "a bound where a meter shows a value",
            "'>20M' and the like for a resistance over the limit, '<0.5 ohm' for one near zero",
            "Give the value with its uncertainty, or OL for over limit.",
        )
    if "±" in text or "+/-" in text:
        forms = "5.03 V ± 0.02, (5.03 ± 0.02) V, 5.03 V ± 20 mV, 4k7 ± 5 %"
        return BadInput(doing, "no value with one uncertainty in the same unit", forms, "Give both their unit.")
    return BadInput(doing, "no number with a known unit", FORMS, "Retype it in one of these forms.")


def _shown(way: Candidate) -> str:
    measured = way.measured
    number = str(measured) if measured.uncertainty else engineering(measured.value, measured.unit)
    return f"{number} ({way.reason})" if way.reason else number
