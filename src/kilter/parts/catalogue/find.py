"""Find a type by what is printed on a part or in a drawing."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import cache

from kilter.measure.tables import table
from kilter.parts.catalogue.read import catalogue_types, other_numbers
from kilter.parts.catalogue.type import CatalogueType

LONGEST = 40
"""Letters of a marking that are looked at."""


def find_type(marking: str) -> CatalogueType | None:
    """
    The likeliest type of a marking; None where the catalogue has none.

    >>> for words in ("SN74LS138N", "74HCT138", "Z80A CPU", "uA7805", "CD4011BE", "HM6116P-3 8432"):
    ...     found = find_type(words)
    ...     print((found.key, found.family, found.volts.get("output")))
    ('74138', 'LS', None)
    ('74138', 'HCT', None)
    ('Z80', '', None)
    ('78xx', '', 5.0)
    ('4011', '', None)
    ('6116', '', None)
    >>> find_type("RESISTOR") is None
    True
    """
    found = find_types(marking)
    return found[0] if found else None


@cache
def find_types(marking: str) -> tuple[CatalogueType, ...]:
    """
    Every type that a marking may stand for, the likeliest first.

    >>> [found.key for found in find_types("4164")]
    ['4164']
    """
    found: dict[str, CatalogueType] = {}
    for text in _texts(marking):
        for pattern, template in _patterns():
            match = pattern.fullmatch(text)
            key = _key(match, template) if match else ""
            if match and key:
                found.setdefault(key, _as_marked(catalogue_types()[key], match.groupdict()))
    return tuple(found.values())


def _texts(marking: str) -> Iterator[str]:
    """The whole marking without blanks, then its words: a date code or a maker's sign may stand among them."""
    plain = marking.upper().split(":")[-1][:LONGEST]
    words = re.split(r"[\s,;()]+", plain.strip())
    for text in ["".join(words), *words]:
        squeezed = re.sub(r"[/_.]", "", text)
        if squeezed:
            yield squeezed


@cache
def _patterns() -> tuple[tuple[re.Pattern[str], str], ...]:
    data = table("catalogue/markings")
    return tuple((re.compile(row["pattern"].replace("TAIL", data["tail"])), row["type"]) for row in data["marking"])


def _key(match: re.Match[str], template: str) -> str:
    """The key that a match stands for; '' where the catalogue has no such type."""
    named = match.expand(template)
    if "digits" in match.groupdict():
        named = other_numbers().get(named, named)
    return named if named in catalogue_types() else _padded(named)


def _padded(key: str) -> str:
    """28C64 is the 28064: short numbers of such memories are filled up with a nought."""
    longer = f"{key[:2]}0{key[2:]}"
    return longer if longer in catalogue_types() else ""


def _as_marked(found: CatalogueType, groups: Mapping[str, str | None]) -> CatalogueType:
    """The type with the family and voltage that its marking tells."""
    family = groups.get("family") or ""
    if family:
        found = replace(found, family=family, technology=_technology(family) or found.technology)
    if groups.get("volts"):
        sign = -1 if found.key.startswith("79") else 1
        found = replace(found, volts={**found.volts, "output": sign * float(groups["volts"] or 0)})
    return found


def _technology(family: str) -> str:
    """Key of the simulation's logic family for the letters after 74."""
    data = table("catalogue/families")
    for row in data.values():
        if row.get("tail") == family:
            return str(row["technology"])
    return next((key for key, letters in data["others"].items() if family in letters), "")
