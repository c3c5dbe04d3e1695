"""Numbers on chips: looked up in the catalogue, with the levels of the logic family and a memory's organisation."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from kilter.measure.tables import table
from kilter.parts.catalogue import CatalogueType, find_types
from kilter.parts.markings.interpretation import Interpretation, weight

LEVELS = ("high_in", "low_in", "high_out", "low_out", "in_high_ma", "in_low_ma", "out_high_ma", "out_low_ma")
TRANSISTORS = ("transistor", "jfet", "mosfet", "diode")


def chip(text: str) -> Iterator[Interpretation]:
    """
    Every type of the catalogue that a marking may stand for.

    >>> first = next(chip("SN74LS00N"))
    >>> first.words, first.fields["family"], first.fields["high_out"]
    ('74LS00: four 2-input NAND gates, low-power Schottky TTL', 'LS', 2.7)
    """
    bare = re.fullmatch(r"[\d\s]+", text) is not None
    times = weight("chip_digits_only") if bare else weight("chip")
    for found in find_types(text):
        if found.kind in TRANSISTORS:
            continue
        number = _number(found, text)
        yield Interpretation("catalogue", found.kind, _words(found, number), _fields(found, number), times,
                             _because(found), "catalogue of types (docs/catalogue.md)")  # fmt: skip
        times *= weight("later_chip")


def family_of(found: CatalogueType) -> dict[str, Any]:
    """Levels and currents of a chip's logic family at 5 V; empty where the family has none in the data."""
    rows = table("catalogue/families")
    tail = found.family or ("-" if found.technology == "cmos" and re.match(r"4\d{3}|40\d{3}", found.key) else "")
    if not found.technology or (not tail and not found.key.startswith("74")):
        return {}
    return next((dict(row) for row in rows.values() if row.get("tail") == tail), {})


def _number(found: CatalogueType, text: str) -> str:
    """The type with its family, or what was written where the catalogue only knows a group of types."""
    if found.key.startswith("74") and found.family:
        return f"74{found.family}{found.key[2:]}"
    return found.key if re.fullmatch(r"[A-Z]*\d+[A-Z\d]*", found.key) else text.strip()


def _words(found: CatalogueType, number: str) -> str:
    words = f"{number}: {found.words}"
    if found.organisation:
        words += f", {found.organisation[0]} × {found.organisation[1]} bit"
    if "output" in found.volts:
        words += f", {found.volts['output']:g} V"
    family = family_of(found)
    return f"{words}, {family['words']}" if family else words


def _fields(found: CatalogueType, number: str) -> dict[str, Any]:
    fields: dict[str, Any] = {"number": number, "type": found.key, "function": found.function}
    if found.family:
        fields["family"] = found.family
    if found.organisation:
        fields["words"], fields["bits"] = found.organisation
    if "output" in found.volts:
        fields["output_volts"] = found.volts["output"]
    family = family_of(found)
    return fields | {key: family[key] for key in LEVELS if key in family}


def _because(found: CatalogueType) -> tuple[str, ...]:
    told = ["the order of the pins varies by maker"] if found.order_varies else []
    return (*told, found.caution) if found.caution else tuple(told)
