"""Values on small capacitors: three digits, decimals, plain numbers, with what stands beside them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace

from kilter.parts.markings.capacitor_words import SAFETY, Beside, beside, together
from kilter.parts.markings.interpretation import Interpretation, code, size_weight, weight
from kilter.parts.markings.letter_code import letter_code
from kilter.parts.markings.letter_code import source as letter_source
from kilter.parts.markings.tolerances import value_words

FRONT = re.compile(r"(?P<volts>[0-3][A-HJKVW])(?=\d[\dR]\d)(?P<rest>.*)")
VALUE = re.compile(
    r"(?P<letter>\d{0,4}[pnµumPNUR](?!F\b|[A-Z]*F)\d{0,3}|\d{0,2}F\d)"
    r"|(?P<code>\d{3}(?!\d)(?![.,]))|(?P<number>\d{0,4}[.,]\d{1,4}|\d{1,6})"
)
UNIT = re.compile("|".join(sorted((re.escape(one) for one in
    ("µµF", "uuF", "UUF", "MMFD", "mmfd", "MMF", "mmF", "MFD", "mfd", "Mfd", "µF", "uF", "UF", "nF", "NF", "pF", "PF",
     "mF", "MF")), key=len, reverse=True)))  # fmt: skip
TAIL = re.compile(r"(?P<tolerance>[A-Z](?![A-Z0-9]?V?[A-Z]))?(?P<volts>\d{1,4}(?:\.\d)?(?:V\w*|~|-)?|\d[A-Z])?")
PICO, NANO, MICRO = 1e-12, 1e-9, 1e-6

Value = tuple[float, float, tuple[str, ...], str]
"""Farad, weight, reasons, scheme."""


def capacitor_code(text: str, kind: str = "capacitor") -> Iterator[Interpretation]:
    """
    Every way to read the marking of a ceramic or film capacitor.

    Args:
        text: One or more words.
        kind: Written into the readings.

    >>> for text in ("104K", "2A474J", "4R7D", ".047K250", "n47", "103Z 50V Z5U"):
    ...     print(next(capacitor_code(text)).words)
    100 nF ±10 %
    470 nF ±5 %, 100 V
    4.7 pF ±0.5 pF
    47 nF ±10 %, 250 V
    470 pF
    10 nF -20 %/+80 %, 50 V, Z5U
    """
    first, *words = _value_first(together(text).split()) or [""]
    front = FRONT.fullmatch(first)
    if front and front["volts"] in code("volts_code"):
        for one in _read(front["rest"], [front["volts"], *words], kind):
            yield replace(one, weight=one.weight * weight("voltage_in_code"))
    yield from _read(first, words, kind)


def _value_first(words: list[str]) -> list[str]:
    """The words with those at the end that stood before the value: 'KP 1000pF 630V'."""
    at = next((place for place, word in enumerate(words) if VALUE.match(word) and not SAFETY.fullmatch(word)), 0)
    return words[at:] + words[:at]


def _read(first: str, words: list[str], kind: str) -> Iterator[Interpretation]:
    found = VALUE.match(first)
    if not found:
        return
    rest = first[found.end() :]
    unit = UNIT.match(rest)
    if unit:
        rest = rest[unit.end() :]
    elif words and UNIT.fullmatch(words[0]):
        unit, words = UNIT.fullmatch(words[0]), words[1:]
    tail = TAIL.fullmatch(rest)
    if tail is None:
        return
    behind = [tail["tolerance"] or "", tail["volts"] or "", *words]
    if tail["tolerance"] == "K" and found.lastgroup == "number" and not unit and found[0].isdigit():
        said = beside(behind[1:], int(found[0]) * NANO, big=False)
        told = ("'K' for thousand picofarad, in old print",)
        yield _interpretation(int(found[0]) * NANO, weight("kilo_picofarad"), told, "plain_value", said, kind)
    for value, times, reasons, scheme in _values(found.lastgroup or "", found[0], unit[0] if unit else ""):
        said = beside(behind, value, big=False)
        yield _interpretation(value, times, reasons, scheme, said, kind)


def _values(form: str, text: str, unit: str) -> Iterator[Value]:
    if unit:
        if form == "letter":
            return
        for place, factor in enumerate(code("units")[unit]):
            doubt = weight("capitals") if place else 1.0
            yield float(text.replace(",", ".")) * factor, doubt, (), "plain_value"
    elif form == "code":
        yield from _three_digits(text)
    elif form == "letter":
        for one in letter_code(text, "capacitor"):
            yield one.fields["capacitance"], _form_weight(text), _capital_reason(text), "letter_code"
    else:
        yield from _number(text)


def _form_weight(text: str) -> float:
    return weight("capitals") if any(mark in text for mark in "PNU") or text.startswith("R") else weight("plain_code")


def _capital_reason(text: str) -> tuple[str, ...]:
    return ("the letter is in capitals",) if any(mark in text for mark in "PNU") else ()


def _three_digits(text: str) -> Iterator[Value]:
    powers = code("third_digit")["powers"]
    figures, last = int(text[:2]), text[2]
    if figures and last in powers:
        yield figures * 10.0 ** powers[last] * PICO, weight("plain_code"), (), "three_digits"
    if last == "0" and figures:
        told = "three digits at their word, as before the code was usual"
        yield int(text) * PICO, weight("plain_picofarad"), (told,), "plain_value"


def _number(text: str) -> Iterator[Value]:
    value = float(text.replace(",", "."))
    if value <= 0:
        return
    if value < 1 or "." in text or "," in text:
        yield value * MICRO, weight("microfarad_point" if value < 1 else "bare_microfarad"), ("no unit: microfarad",), \
            "plain_value"  # fmt: skip
    if value >= 1:
        yield value * PICO, weight("two_digit_picofarad"), ("no unit: picofarad",), "plain_value"


def _interpretation(
    value: float, times: float, reasons: tuple[str, ...], scheme: str, said: Beside, kind: str
) -> Interpretation:
    value = float(f"{value:.9g}")
    usual, more = size_weight(value, "ceramic", None if said.within is None or said.within.farad else said.within.above)
    fields: dict[str, object] = {"capacitance": value, **said.fields}
    if said.volts is not None:
        fields["volts_ac" if said.alternating else "volts"] = said.volts
    if said.within:
        fields["tolerance"] = [said.within.below, said.within.above]
    if said.unread:
        fields["unread"] = list(said.unread)
    words = value_words(value, "F", said.within) + said.words()
    source = letter_source() if scheme == "letter_code" else str(code("third_digit")["source"])
    return Interpretation(scheme, kind, words, fields, times * usual * said.weight, (*reasons, *more, *said.reasons),
                          source)  # fmt: skip


def ceramic_chip(text: str) -> Iterator[Interpretation]:
    """
    The two characters on ceramic chips, perhaps behind a maker's letter.

    >>> [one.words for one in ceramic_chip("A5")], [one.words for one in ceramic_chip("KJ3")]
    (['100 nF'], ['2.2 nF'])
    """
    found = re.fullmatch(r"[A-Z]?([A-Za-z])(\d)", text)
    letters, powers = code("chip_letters"), code("third_digit")["powers"]
    if found and found[1] in letters and (found[2] in powers or found[2] == "7"):
        power = powers.get(found[2], int(found[2]))
        value = float(f"{letters[found[1]] * 10.0 ** power * PICO:.6g}")
        usual, reasons = size_weight(value, "ceramic", None)
        yield Interpretation("chip_code", "ceramic", value_words(value, "F", None), {"capacitance": value},
                             weight("chip_code") * usual, reasons, str(letters["source"]))  # fmt: skip
