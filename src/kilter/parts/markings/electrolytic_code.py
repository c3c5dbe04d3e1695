"""Markings of aluminium electrolytic and tantalum capacitors, and which end is positive."""

from __future__ import annotations

import re
from collections.abc import Iterator

from kilter.parts.markings.capacitor_words import beside, together
from kilter.parts.markings.interpretation import Interpretation, code, size_weight, weight
from kilter.parts.markings.tolerances import value_words

NUMBER = re.compile(r"(\d{1,6}(?:[.,]\d{1,3})?|[.,]\d{1,3}) ?(µF|uF|UF|MFD|mfd|Mfd|MF|mF|µ|u)?(.*)")
INFIX = re.compile(r"(\d{0,4})[µu](\d{0,3})(?:F\b)?(.*)")
CODE = re.compile(r"(?P<before>[eGJACDEVHT])?(?P<digits>\d{2})(?P<power>[3-8])(?P<after>[eGJACDEVHT])?")
JOINED = re.compile(r"[/×x-](?=\d)")
TAIL = re.compile(r"(?P<tolerance>[A-Z](?=$|\d))?(?P<volts>\d{1,4}(?:\.\d)?(?:V\w*|-)?|V\w*)?")
MICRO, PICO = 1e-6, 1e-12
USUAL_TOLERANCE = 0.1
"""Values of E12 are as usual as those of E6."""

Found = tuple[float, float, list[str], tuple[str, ...], str]
"""Farad, weight, words beside it, reasons, scheme."""


def electrolytic_code(text: str, kind: str = "electrolytic") -> Iterator[Interpretation]:
    """
    Every way to read the marking.

    >>> for text in ("47µF 16V", "10/35", "1µ35", "106C", "A475", "100 6.3"):
    ...     print(max(electrolytic_code(text), key=lambda one: one.weight).words)
    47 µF, 16 V
    10 µF, 35 V
    1 µF, 35 V
    10 µF, 16 V
    4.7 µF, 10 V
    100 µF, 6.3 V
    """
    joined = together(JOINED.sub(" ", text)).split()
    for value, times, words, reasons, scheme in _forms(joined):
        said = beside(words, value, big=True)
        usual, more = size_weight(value, "electrolytic", USUAL_TOLERANCE)
        fields: dict[str, object] = {"capacitance": value, **said.fields}
        if said.volts is not None:
            fields["volts"] = said.volts
        if said.within:
            fields["tolerance"] = [said.within.below, said.within.above]
        if said.unread:
            fields["unread"] = list(said.unread)
        told = (*reasons, *more, *said.reasons)
        yield Interpretation(scheme, kind, value_words(value, "F", said.within) + said.words(), fields,
                             times * usual * said.weight, told, str(code("volts_letter")["source"]))  # fmt: skip


def _forms(words: list[str]) -> Iterator[Found]:
    if not words:
        return
    yield from _plain(words[0], words[1:])
    yield from _infix(words[0], words[1:])
    yield from _digits(words[0], words[1:])


def _plain(first: str, words: list[str]) -> Iterator[Found]:
    """'47µF', '22uF16V', '100' with a voltage behind it."""
    found = NUMBER.fullmatch(first)
    if not found:
        return
    unit, rest = found[2], found[3]
    if not unit and words and words[0] in code("units"):
        unit, words = words[0], words[1:]
    tail = TAIL.fullmatch(rest)
    value = float(found[1].replace(",", "."))
    if tail is None or not value or (unit and unit in code("units") and code("units")[unit][0] != MICRO):
        return
    behind = [tail["tolerance"] or "", tail["volts"] or "", *words]
    told = () if unit else ("no unit: microfarad",)
    times = weight("whole_microfarad" if any(behind) or unit else "whole_number")
    yield _rounded(value), times, behind, told, "plain_value"


def _infix(first: str, words: list[str]) -> Iterator[Found]:
    """'4µ7', and '1µ35', which may be 1 µF for 35 V."""
    found = INFIX.fullmatch(first)
    if not found or not (found[1] or found[2]):
        return
    tail = TAIL.fullmatch(found[3])
    if tail is None:
        return
    behind = [tail["tolerance"] or "", tail["volts"] or "", *words]
    value = float(f"{found[1] or 0}.{found[2] or 0}")
    if value:
        yield _rounded(value), weight("plain_code"), behind, (), "letter_code"
    if found[1] and int(found[1]) and len(found[2]) >= 2 and not tail["volts"]:
        told = f"'{found[2]}' as the voltage"
        yield _rounded(float(found[1])), weight("voltage_infix"), [found[2], *behind], (told,), "plain_value"


def _digits(first: str, words: list[str]) -> Iterator[Found]:
    """'106C', 'A475', '476 10V': a picofarad code, with a letter for the voltage before or behind it."""
    found = CODE.fullmatch(first)
    if not found or not int(found["digits"]) or (found["before"] and found["after"]):
        return
    powers = code("third_digit")["powers"]
    power = powers.get(found["power"], int(found["power"]) if found["power"] == "7" else None)
    if power is None or power < 0:
        return
    letter = found["before"] or found["after"]
    value = _rounded(int(found["digits"]) * 10.0**power * PICO / MICRO)
    yield value, weight("letter_volts"), [letter or "", *words], (), "digits_and_voltage_letter"


def _rounded(micro: float) -> float:
    return float(f"{micro * MICRO:.9g}")


POLARITY = {
    "aluminium, radial": "the stripe with minus signs and the shorter lead are negative",
    "aluminium, axial": "the end with the groove is positive; arrows point to the negative end",
    "aluminium can on the surface": "the painted segment is negative",
    "tantalum, moulded": "the bar, notch or chamfer is positive: the opposite of aluminium",
    "tantalum, dipped": "the plus sign and the longer lead are positive; on beads with a spot, see the maker's table",
}
"""Which end is which. Source: a distributor's page, common practice. The silk screen of a board can be wrong."""
