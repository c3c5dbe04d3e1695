"""Letter-and-digit code of IEC 60062: the letter stands where the decimal point would, as in 4K7, R47, 6n8, µ1."""

from __future__ import annotations

import re
from collections.abc import Iterator

from kilter.parts.markings.interpretation import Interpretation, code, size_weight, weight
from kilter.parts.markings.tolerances import tolerance, value_words

FORM = re.compile(r"(\d{0,4})([LREKkMGTΩrmgpnµuFPNU])(\d{0,4})([FH]?)([A-Z]?)")
UNITS = {"resistor": "ohm", "capacitor": "farad", "inductor": "henry"}
SIZES = {"resistor": "ohm", "inductor": "henry"}
KEYS = {"resistor": "resistance", "capacitor": "capacitance", "inductor": "inductance"}
SYMBOLS = {"resistor": "ohm", "capacitor": "F", "inductor": "H"}
MICRO = 1e-6


def letter_code(text: str, kind: str) -> Iterator[Interpretation]:
    """
    Every value that such a code may stand for.

    Args:
        text: Without blanks.
        kind: 'resistor', 'capacitor' or 'inductor'.

    >>> for text in ("4K7J", "R47", "33L", "47R"):
    ...     print(next(letter_code(text, "resistor")).words)
    4.7 kΩ ±5 %
    470 mΩ
    33 mΩ
    47 Ω
    >>> next(letter_code("6n8K", "capacitor")).words
    '6.8 nF ±10 %'
    """
    found = FORM.fullmatch(text)
    if not found or not (found[1] or found[3]):
        return
    whole, letter, decimals, unit, tail = found.groups()
    if unit and unit != {"capacitor": "F", "inductor": "H"}.get(kind):
        tail, unit = unit + tail, ""
    if len(tail) > 1:
        return
    for factor, times, reason in _factors(letter, kind):
        value = float(f"{whole or '0'}.{decimals or '0'}") * factor
        yield from _read(value, kind, tail, times, (reason,) if reason else ())


def _factors(letter: str, kind: str) -> Iterator[tuple[float, float, str]]:
    """Factor, weight and reason for each meaning of the letter."""
    unit = UNITS[kind]
    own = code("letters")[unit]
    if letter in own:
        yield own[letter], weight("plain_code") * (weight("other_kind") if kind == "inductor" else 1.0), ""
    for factor in code("other_case")[unit].get(letter, ()):
        yield factor, weight("capitals"), f"'{letter}' in another case than the standard's"
    if kind == "resistor" and letter == "M":
        yield 1e-3, weight("milli_letter"), "'M' for milli, on current-sensing resistors"


def _read(value: float, kind: str, tail: str, times: float, reasons: tuple[str, ...]) -> Iterator[Interpretation]:
    within = tolerance(tail, value if kind == "capacitor" else None) if tail else None
    if tail and within is None:
        return
    if value == 0:
        if kind == "resistor" and not tail:
            yield Interpretation("letter_code", kind, "0 Ω link", {"resistance": 0.0}, times, reasons, source())
        return
    size = SIZES.get(kind) or ("electrolytic" if value > MICRO else "ceramic")
    usual, more = size_weight(value, size, None if within is None else within.above)
    fields: dict[str, object] = {KEYS[kind]: value}
    if within:
        fields["tolerance"] = [within.below, within.above]
    words = value_words(value, SYMBOLS[kind], within)
    yield Interpretation("letter_code", kind, words, fields, times * usual, (*reasons, *more), source())


def source() -> str:
    """Where the code is from."""
    return str(code("letters")["source"])
