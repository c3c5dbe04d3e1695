"""Kinds of parts from their value and prefix: 74LS00 is logic, 2114 is a memory, Conn_02x05 is a connector."""

from __future__ import annotations

import re
from functools import cache

from kilter.measure.tables import table

ANY = "*"
"""Stands in the data for every reference."""
LONGEST = 40
"""Letters of a type that are looked at."""


def kind_of_type(words: str) -> str | None:
    """
    The kind of chip that a printed type is; only the first word counts, and what follows a dash may be a speed.

    >>> [kind_of_type(word) for word in ("74LS00", "HM6116P-3", "LM7805", "Z80A-CPU", "74HCT4040", "MCP23017")]
    ['logic', 'memory', 'regulator', 'processor', 'counter', None]
    """
    first = _first_word(words)
    spellings = [re.sub(r"[^A-Z0-9]", "", one)[:LONGEST] for one in (first, first.split("-")[0])]
    for kind, pattern in _patterns():
        if any(plain and pattern.fullmatch(plain) for plain in spellings):
            return kind
    return None


def kind_of_words(ref: str, words: str) -> str | None:
    """
    The kind that a library name suggests for a reference that begins with certain letters.

    >>> kind_of_words("K3", "Connector:Conn_01x08"), kind_of_words("C4", "Device:CP_Small"), kind_of_words("C4", "C")
    ('connector', 'electrolytic', None)
    """
    match = re.match(r"[A-Za-z]*", ref)
    letters = match[0].upper() if match else ""
    upper = words.upper()
    for row in table("board_inference")["prefixes"]:
        if (letters in row["letters"] or ANY in row["letters"]) and any(word in upper for word in row["words"]):
            return str(row["kind"])
    return None


def function_number(words: str) -> str:
    """
    The function of a 74-series or 4000-series type without family and maker; '' for other types.

    >>> function_number("SN74LS138N"), function_number("CD4049UBE"), function_number("2114")
    ('74138', '4049', '')
    """
    plain = re.sub(r"[^A-Z0-9]", "", _first_word(words))
    match = re.fullmatch(r"[A-Z]{0,3}(?:74|54)[A-Z]{0,4}(\d{2,5})(?:[A-Z].*)?", plain)
    if match:
        return "74" + match[1]
    match = re.fullmatch(r"(?:CD|HEF|HCF|MC1|TC)(4[05]\d{2})(?:U?B?)(?:[A-Z].*)?", plain)
    return match[1] if match else ""


def _first_word(words: str) -> str:
    """The first word without its library; an apostrophe stands for the family's digits, as in 'HC161."""
    first = re.split(r"[\s,;(]", words.strip().upper(), maxsplit=1)[0].split(":")[-1]
    return "74" + first[1:] if first.startswith("'") else first


@cache
def _patterns() -> tuple[tuple[str, re.Pattern[str]], ...]:
    return tuple((row["kind"], re.compile(row["pattern"])) for row in table("board_inference")["chips"])
