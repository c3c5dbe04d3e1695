"""
Every field that a shared file may hold, and what its values may look like: nothing else goes out or comes in.

Texts are short and match a pattern of their field, so that no sentence, name, number or place of an object fits in.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from math import isfinite
from typing import Any

from kilter.measure.errors import BadInput
from kilter.measure.tables import table
from kilter.services.shared_netlist import first_unfit

Check = Callable[[Any], bool]

WORD = re.compile(r"[A-Za-z0-9_ *+./~#()\[\],:=-]{0,40}")
"""A name of a kind, mode, net, part, pin, point or state."""
AMOUNT = re.compile(r"[-+]?[0-9][0-9.,]*[eE]?[-+]?[0-9]*[A-Za-zΩµμ°%/ ]{0,12}[0-9]*")
"""A number with a unit, as on a drawing."""
TITLE = re.compile(r"[\w .,()/+-]{1,60}")


def word(value: Any) -> bool:
    """A short name."""
    return isinstance(value, str) and WORD.fullmatch(value) is not None


def title(value: Any) -> bool:
    """The name that the sharer gave a board for others."""
    return isinstance(value, str) and TITLE.fullmatch(value) is not None


def amount(value: Any) -> bool:
    """A number, or a number with a unit."""
    return number(value) or (isinstance(value, str) and (not value or AMOUNT.fullmatch(value) is not None))


def number(value: Any) -> bool:
    """A finite number."""
    return isinstance(value, (int, float)) and not isinstance(value, bool) and isfinite(value)


def count(value: Any) -> bool:
    """A whole number from 0 on, not beyond what anybody can count."""
    most = int(table("sharing/limits")["most_counted"]["value"])
    return isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= most


def flag(value: Any) -> bool:
    """A truth value."""
    return isinstance(value, bool)


def day(value: Any) -> bool:
    """A date."""
    try:
        return isinstance(value, str) and date.fromisoformat(value).isoformat() == value
    except ValueError:
        return False


def digest(value: Any) -> bool:
    """A SHA-256."""
    return isinstance(value, str) and re.fullmatch(r"[0-9a-f]{64}", value) is not None


def licence(value: Any) -> bool:
    """One of the free licences listed."""
    return value in table("sharing/limits")["licences"]["value"]


def netlist(value: Any) -> bool:
    """Lines that describe a circuit, and no others."""
    return isinstance(value, str) and not first_unfit(value)


@dataclass(frozen=True)
class Each:
    """A list of things, or a table of things under names."""

    what: Any
    named: bool = False


@dataclass(frozen=True)
class OneOf:
    """Any of several forms."""

    forms: tuple[Any, ...]


def block_numbers() -> set[str]:
    """The names of numbers that blocks of any kind take."""
    kinds = table("block_kinds")["kinds"].values()
    return {name for one in kinds for name in (*one.get("must", ()), *one.get("numbers", ()))}


WORDS = Each(word)
BOARD: Mapping[str, Any] = {
    "kilter": count,
    "revision": word,
    "ground": word,
    "object": {"kinds": WORDS, "chassis": word},
    "parts": Each(
        {"kind": word, "value": OneOf((amount, word)), "tolerance": amount, "drifts": Each(amount),
         "position": Each(number), "socketed": flag, "pins": Each(word, named=True), "draws": amount,
         "limits": Each(amount, named=True)},
        named=True,
    ),
    "rails": Each({"net": word, "nominal": amount, "low": amount, "high": amount}, named=True),
    "points": Each(
        {"net": word, "against": word, "position": Each(number), "grade": count, "reachable": flag, "minutes": amount},
        named=True,
    ),
    "blocks": Each(
        {"kind": word, "parts": WORDS, "rails": WORDS, "inputs": Each(word, named=True),
         "outputs": Each(word, named=True), "needs": Each({"point": word, "low": amount, "high": amount}),
         **dict.fromkeys(sorted(block_numbers()), amount)},
        named=True,
    ),
    "states": Each(
        {"powered": flag, "supplies": Each(amount, named=True), "unplugged": WORDS, "switches": Each(word, named=True),
         "hertz": amount, "offered": flag},
        named=True,
    ),
}  # fmt: skip
READING: Mapping[str, Any] = {
    "point": word,
    "quantity": word,
    "value": OneOf((number, word)),
    "uncertainty": number,
    "state": word,
    "instrument": word,
}
FILE: Mapping[str, Any] = {
    "sequence": count,
    "issued": day,
    "expires": day,
    "licence": licence,
    "counts": Each({"kind": word, "band": word, "parts": count, "objects": count, "failures": Each(count, named=True)}),
    "boards": Each(
        {"title": title, "revision": word, "licence": licence, "digest": digest, "board": BOARD, "netlist": netlist}
    ),
    "known_good": Each({"board": digest, "licence": licence, "readings": Each(READING)}),
}


def check_fields(value: Any, doing: str, form: Any = FILE, place: str = "the file") -> None:
    """
    Nothing, where the value has the fields of the form and no others.

    Raises:
        BadInput: A field that the form lacks, or a value that the field cannot have; the message names the place.
    """
    wrong = first_wrong(value, form, place)
    if wrong:
        raise BadInput(doing, wrong, "the fields of docs/sharing.md, with values of their kind", "Leave it out.")


def first_wrong(value: Any, form: Any, place: str) -> str:
    """
    The first thing that is not as the form has it, in words; '' where there is none.

    >>> first_wrong({"point": "TP1", "who": "N"}, READING, "a reading")
    "a field 'who' in a reading"
    """
    if isinstance(form, OneOf):
        return "" if any(not first_wrong(value, one, place) for one in form.forms) else f"{_short(value)} at {place}"
    if isinstance(form, Each):
        if form.named != isinstance(value, dict) or not isinstance(value, (dict, list)):
            return f"{_short(value)} at {place}"
        rows = value.items() if isinstance(value, dict) else enumerate(value, 1)
        for key, row in rows:
            if form.named and not word(key):
                return f"the name {_short(key)} in {place}"
            wrong = first_wrong(row, form.what, f"{place}, {key}")
            if wrong:
                return wrong
        return ""
    if isinstance(form, Mapping):
        if not isinstance(value, dict):
            return f"{_short(value)} at {place}"
        for key, row in value.items():
            if key not in form:
                return f"a field '{_short(key)}' in {place}"
            wrong = first_wrong(row, form[key], f"{place}, {key}")
            if wrong:
                return wrong
        return ""
    return "" if form(value) else f"{_short(value)} at {place}"


def _short(value: Any) -> str:
    return (value if isinstance(value, str) else repr(value))[:40]
