"""Kinds of parts inferred from a letter, a name or a reference; every inference comes with a sentence that says so."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from kilter.measure.tables import table
from kilter.parts.kinds import part_kinds


def kind_from_letter(letter: str) -> str:
    """
    The part kind of a SPICE element letter; 'chip' for a subcircuit.

    >>> kind_from_letter("Q"), kind_from_letter("X")
    ('transistor', 'chip')
    """
    return str(table("guesses")["letters"].get(letter.upper(), "chip"))


def kind_from_name(name: str, letter: str) -> str | None:
    """
    The part kind that a word in a name suggests, for an element or reference of that letter.

    >>> kind_from_name("LM7805", "X"), kind_from_name("BZX79C5V6", "D"), kind_from_name("mystery", "X")
    ('regulator', 'zener', None)
    """
    low = name.lower()
    for row in table("guesses")["names"]:
        if letter.upper() in row["letters"] and any(word in low for word in row["words"]):
            return str(row["kind"])
    return None


def kind_from_reference(ref: str) -> str | None:
    """
    The part kind that the letters of a reference designator suggest.

    >>> kind_from_reference("RN4"), kind_from_reference("U12"), kind_from_reference("ZZ1")
    ('resistor_network', 'chip', None)
    """
    letters = re.match(r"[A-Za-z]*", ref)
    found = table("guesses")["references"].get(letters[0].upper() if letters else "")
    return str(found) if found else None


def kind_from_value(letter: str, number: float | None) -> str | None:
    """The kind that a value suggests: a large capacitor is electrolytic, a diode that breaks down early a Zener."""
    rules = table("guesses")
    if letter == "C" and number is not None and number >= rules["capacitor"]["electrolytic_from"]:
        return "electrolytic"
    if letter == "D" and number is not None and number < rules["diode"]["zener_below"]:
        return "zener"
    return None


def pins_of_kind(kind: str, names: Iterable[str]) -> dict[str, str] | None:
    """
    Given pin names to the kind's own names, where every pin of the kind is found once under some name.

    >>> pins_of_kind("regulator", ("VIN", "GND", "VOUT"))
    {'VIN': 'in', 'GND': 'gnd', 'VOUT': 'out'}
    >>> pins_of_kind("regulator", ("1", "2", "3")) is None
    True
    """
    others: Mapping[str, list[str]] = table("guesses")["pins"].get(kind, {})
    wanted = part_kinds()[kind].pins
    found: dict[str, str] = {}
    for given in names:
        low = given.lower()
        own = [pin for pin in wanted if low == pin or low in others.get(pin, ())]
        found[given] = own[0] if own else given
    complete = all(list(found.values()).count(pin) == 1 for pin in wanted)
    return found if complete else None
