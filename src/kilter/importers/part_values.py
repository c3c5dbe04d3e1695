"""The number in a part's printed value, as far as it is one: '47uF/63V' is 47 µF, '100' on a capacitor is not known."""

from __future__ import annotations

import re

from kilter.measure.errors import BadInput
from kilter.measure.notation import read_quantity

UNITS = {
    "resistor": "ohm", "composition": "ohm", "resistor_network": "ohm", "potentiometer": "ohm", "capacitor": "F",
    "ceramic": "F", "film": "F", "paper": "F", "electrolytic": "F", "tantalum": "F", "inductor": "H",
}  # fmt: skip
"""Unit of the printed value, for kinds that have one."""


def number_of(kind: str, value: str) -> float | None:
    """
    The value of a part in SI units; None for kinds without one and for what may be read in two ways.

    A network's number of resistors, as in '8x10K', is no part of the value.

    >>> number_of("electrolytic", "47uF/63V"), number_of("resistor_network", "8x10K"), number_of("capacitor", "DNP")
    (4.7e-05, 10000.0, None)
    """
    if kind not in UNITS:
        return None
    value = re.sub(r"^\s*\d+\s*[xX]\s*(?=\d)", "", value) if kind == "resistor_network" else value
    for words in (value, re.split(r"[\s/_;]", value.strip(), maxsplit=1)[0]):
        try:
            number = read_quantity(words, UNITS[kind]).value
        except BadInput:
            continue
        if 0 < number < float("inf"):
            return number
    return None
