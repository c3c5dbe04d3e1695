"""Resistors that say their value in words: a number or letter code, watts, percent or tolerance letter."""

from __future__ import annotations

import re
from collections.abc import Iterator

from kilter.parts.markings.interpretation import Interpretation, size_weight, weight
from kilter.parts.markings.letter_code import letter_code
from kilter.parts.markings.tolerances import Tolerance, tolerance, value_words

WATTS = re.compile(r"(\d{1,3}(?:[.,]\d{1,3})?|1/[248]) ?W", re.IGNORECASE)
PERCENT = re.compile(r"±?(\d{1,2}(?:[.,]\d{1,2})?)%")
NUMBER = re.compile(r"(\d{1,6}(?:[.,]\d{1,4})?|[.,]\d{1,4})([kKM]?)(?:Ω|OHMS?)", re.IGNORECASE)
FACTORS = {"": 1.0, "k": 1e3, "K": 1e3, "M": 1e6, "m": 1e6}
SOURCE = "value, watts and percent written out: common practice, no source"


def resistor_words(text: str) -> Iterator[Interpretation]:
    """
    The reading of a resistor's words; none where one of them is nothing that a resistor says.

    >>> [one.words for text in ("5W 0R22J", "0.22Ω 5 W 10%", "100 ohm 5%") for one in resistor_words(text)]
    ['220 mΩ ±5 %, 5 W', '220 mΩ ±10 %, 5 W', '100 Ω ±5 %']
    """
    words = re.sub(r"(?<=\d) (?=(?:W|%|Ω|[kM]Ω|ohms?)(?: |$))", "", text, flags=re.IGNORECASE).split()
    watts: float | None = None
    within: Tolerance | None = None
    values: list[tuple[float, Tolerance | None]] = []
    for word in words:
        power, percent = WATTS.fullmatch(word), PERCENT.fullmatch(word)
        value = _value(word)
        if power and watts is None:
            watts = 1 / float(power[1][2:]) if "/" in power[1] else float(power[1].replace(",", "."))
        elif percent and within is None:
            share = float(percent[1].replace(",", ".")) / 100
            within = Tolerance(-share, share)
        elif value is not None:
            values.append(value)
        elif re.fullmatch("[A-Z]", word) and within is None and tolerance(word):
            within = tolerance(word)
        else:
            return
    if len(values) == 1 and (len(words) > 1 or NUMBER.fullmatch(words[0])):
        yield _reading(values[0][0], within or values[0][1], watts)


def _value(word: str) -> tuple[float, Tolerance | None] | None:
    """Resistance and tolerance of a word that is a value."""
    found = NUMBER.fullmatch(word)
    if found and float(found[1].replace(",", ".")) > 0:
        return float(f"{float(found[1].replace(',', '.')) * FACTORS[found[2]]:.9g}"), None
    for one in letter_code(word, "resistor"):
        pair = one.fields.get("tolerance")
        return one.fields["resistance"], Tolerance(*pair) if pair else None
    return None


def _reading(value: float, within: Tolerance | None, watts: float | None) -> Interpretation:
    fields: dict[str, object] = {"resistance": value}
    words = value_words(value, "ohm", within)
    if within:
        fields["tolerance"] = [within.below, within.above]
    if watts is not None:
        fields["watts"], words = watts, f"{words}, {watts:g} W"
    usual, reasons = size_weight(value, "ohm", within.above if within else None) if value else (1.0, ())
    return Interpretation("plain_value", "resistor", words, fields, weight("plain_code") * usual, reasons, SOURCE)
