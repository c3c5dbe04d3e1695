"""Read the catalogue's data files into types."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from functools import cache
from importlib.resources import files
from typing import Any

from kilter.measure.tables import table
from kilter.parts.catalogue.equations import Equation, equations
from kilter.parts.catalogue.expression import Expression, expression
from kilter.parts.catalogue.ranges import expand_words
from kilter.parts.catalogue.type import CataloguePin, CatalogueType

SECTIONS = {
    "ttl_gates": "ttl",
    "ttl_buffers": "ttl",
    "ttl_decoders": "ttl",
    "ttl_arithmetic": "ttl",
    "ttl_registers": "ttl",
    "ttl_counters": "ttl",
    "cmos_logic": "cmos",
    "memory": "nmos",
    "processors": "nmos",
    "peripherals": "nmos",
    "analogue": "",
    "regulators": "",
    "transistors": "",
    "others": "",
}
"""Data file to the technology of its types where their marking does not tell."""

USUAL_ROLES = {"GND": "ground", "VSS": "ground", "VCC": "supply", "VDD": "supply", "NC": "none"}


@cache
def catalogue_types() -> Mapping[str, CatalogueType]:
    """Every type in the data files, by key."""
    rows = {key: row for section in SECTIONS for key, row in _rows(section)}
    return {key: _type(key, _complete(key, rows)) for key in rows}


@cache
def other_numbers() -> Mapping[str, str]:
    """Further numbers by which a type is sold, to its key."""
    rows = [(key, row) for section in SECTIONS for key, row in _rows(section)]
    return {number: key for key, row in rows for number in row.get("types", ())}


def _rows(section: str) -> Iterator[tuple[str, dict[str, Any]]]:
    text = files("kilter.data").joinpath("catalogue", f"{section}.toml").read_text("utf-8")
    for key, row in tomllib.loads(text).items():
        yield key, {"technology": SECTIONS[section], **row}


def _complete(key: str, rows: Mapping[str, dict[str, Any]]) -> dict[str, Any]:
    """A row with what it takes over from the type that it is like."""
    row = rows[key]
    return {**_complete(row["like"], rows), **row} if "like" in row else row


def _type(key: str, row: Mapping[str, Any]) -> CatalogueType:
    lines = equations(row.get("logic", ""))
    if row.get("output") == "open_collector":
        lines = tuple(_pulling(line, row) for line in lines)
    function = row.get("function", "gate")
    organisation = row.get("words_bits")
    return CatalogueType(
        key=key,
        words=row.get("words", function.replace("_", " ")),
        function=function,
        kind=table("catalogue/functions")[function],
        technology=row["technology"],
        pins=_pins(row, lines),
        equations=lines,
        drives=expression(row["drives"]) if "drives" in row else None,
        input=row.get("input", "plain"),
        organisation=(organisation[0], organisation[1]) if organisation else None,
        volts=row.get("volts", {}),
        order_varies=row.get("order_varies", False),
        caution=row.get("caution", ""),
        checked=table("catalogue/checked").get(key, "memory"),
    )


def _pulling(line: Equation, row: Mapping[str, Any]) -> Equation:
    """The equation of a pin of an open-collector type; inner nodes stay as they are."""
    if line.target not in _named(row).values() or line.stores:
        return line
    return Equation(line.target, line.value, open_collector=True)


def _named(row: Mapping[str, Any]) -> dict[str, str]:
    """Pin number to name."""
    if "pin_numbers" in row:
        return dict(row["pin_numbers"])
    return {str(number): name for number, name in enumerate(expand_words(row.get("pins", "")), 1)}


def _pins(row: Mapping[str, Any], lines: tuple[Equation, ...]) -> dict[str, CataloguePin]:
    said = {name: role for role, names in row.get("roles", {}).items() for name in expand_words(names)}
    roles = {**USUAL_ROLES, **_roles_in(lines), **said}
    directions = table("catalogue/roles")
    return {
        number: CataloguePin(number, name, role := roles.get(name, "input"), str(directions[role]))
        for number, name in _named(row).items()
    }


def _roles_in(lines: tuple[Equation, ...]) -> dict[str, str]:
    """What the equations tell of the pins that they name; the last rule that fits holds."""
    inner = {line.target: line.value for line in lines if not line.stores}
    found: dict[str, str] = {}
    for line in lines:
        found.update(dict.fromkeys(_single_names(line.clear, inner) + _single_names(line.preset, inner), "reset"))
        found.update(dict.fromkeys(_pin_names(line.enable, inner), "enable"))
    for line in lines:
        if line.edge:
            found.update(dict.fromkeys(_pin_names(line.clock, inner), "clock"))
        elif line.clock is not None:
            found.update(dict.fromkeys(_single_names(line.clock, inner), "enable"))
    outputs = {line.target for line in lines}
    read_back = {name for line in lines for name in line.reads()}
    found.update(dict.fromkeys(outputs, "output"))
    found.update({line.target: "both" for line in lines if line.lets_go and line.target in read_back})
    return found


def _pin_names(part: Expression | None, inner: Mapping[str, Expression]) -> list[str]:
    """Names in an expression, inner nodes replaced by what they are made of."""
    if part is None:
        return []
    return [pin for name in part.names() for pin in (inner[name].names() if name in inner else (name,))]


def _single_names(part: Expression | None, inner: Mapping[str, Expression]) -> list[str]:
    """The name of a lone, perhaps inverted pin; nothing for larger expressions."""
    lone = part.plain() if part is not None else None
    if lone is None:
        return []
    return list(inner[lone[0]].names()) if lone[0] in inner else [lone[0]]
