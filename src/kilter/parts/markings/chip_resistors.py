"""Codes of small resistors: three or four digits, and two digits with a letter (EIA-96)."""

from __future__ import annotations

import re
from collections.abc import Iterator

from kilter.measure.tables import table
from kilter.parts.markings.interpretation import Interpretation, code, size_weight, weight
from kilter.parts.markings.tolerances import Tolerance, value_words

DIGITS = re.compile(r"(\d{2,3})(\d)")
PLACE = re.compile(r"(\d{2})([A-Z])")
ONE_PERCENT = Tolerance(-0.01, 0.01)


def chip_resistor(text: str) -> Iterator[Interpretation]:
    """
    Every resistance that a code may stand for.

    >>> [one.words for text in ("103", "1002", "01C", "68X", "000") for one in chip_resistor(text)]
    ['10 kΩ', '10 kΩ', '10 kΩ ±1 %', '49.9 Ω ±1 %', '0 Ω link']
    """
    if re.fullmatch("0{1,4}", text):
        yield Interpretation("digits", "resistor", "0 Ω link", {"resistance": 0.0}, weight("plain_code"), (), SOURCE)
        return
    found = DIGITS.fullmatch(text)
    if found and int(found[1]):
        yield from _digits(found[1], int(found[2]))
    found = PLACE.fullmatch(text)
    if found and 1 <= int(found[1]) <= len(table("e_series")["E96"]) and found[2] in code("e96_letters"):
        value = round(table("e_series")["E96"][int(found[1]) - 1] * 100) * float(code("e96_letters")[found[2]])
        usual, reasons = size_weight(value, "ohm", ONE_PERCENT.above)
        fields = {"resistance": value, "tolerance": [ONE_PERCENT.below, ONE_PERCENT.above]}
        yield Interpretation("e96_code", "resistor", value_words(value, "ohm", ONE_PERCENT), fields,
                             weight("eia96") * usual, reasons, str(code("e96_letters")["source"]))  # fmt: skip


def _digits(figures: str, noughts: int) -> Iterator[Interpretation]:
    value = float(int(figures) * 10**noughts)
    usual, reasons = size_weight(value, "ohm", 0.05 if len(figures) == 2 else 0.01)
    if figures.startswith("0"):
        usual, reasons = usual * weight("leading_nought"), (*reasons, "the first digit is 0")
    yield Interpretation("digits", "resistor", value_words(value, "ohm", None), {"resistance": value},
                         weight("plain_code") * usual, reasons, SOURCE)  # fmt: skip


SOURCE = "digits and number of noughts, in ohm: IEC 60062, and trade tables"
