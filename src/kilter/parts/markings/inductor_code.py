"""Codes of small inductors: three digits or R for the point, in microhenry."""

from __future__ import annotations

import re
from collections.abc import Iterator

from kilter.parts.markings.interpretation import Interpretation, size_weight, weight
from kilter.parts.markings.letter_code import letter_code
from kilter.parts.markings.tolerances import tolerance, value_words

FORM = re.compile(r"(\d{2})(\d)([A-Z]?)")
MICRO = 1e-6
SOURCE = "digits and number of noughts, in microhenry: common practice, no source"


def inductor_code(text: str) -> Iterator[Interpretation]:
    """
    Every inductance that a code may stand for.

    >>> [one.words for text in ("101K", "4R7", "R47", "10N") for one in inductor_code(text)]
    ['100 µH ±10 %', '4.7 µH', '470 nH', '10 nH']
    """
    yield from letter_code(text, "inductor")
    found = FORM.fullmatch(text)
    if not found or not int(found[1]):
        return
    within = tolerance(found[3]) if found[3] else None
    if found[3] and within is None:
        return
    value = float(f"{int(found[1]) * 10.0 ** int(found[2]) * MICRO:.6g}")
    usual, reasons = size_weight(value, "henry", 0.05)
    fields: dict[str, object] = {"inductance": value}
    if within:
        fields["tolerance"] = [within.below, within.above]
    yield Interpretation("three_digits", "inductor", value_words(value, "H", within), fields,
                         weight("plain_code") * usual, reasons, SOURCE)  # fmt: skip
