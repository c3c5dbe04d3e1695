"""Descriptions of a wanted or offered part: a TOML file, words 'field=value', or both (docs/substitutes.md)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from kilter.importers.toml_tables import Table, read_toml
from kilter.measure.errors import BadInput
from kilter.measure.notation import possible_readings
from kilter.parts.substitutes.part_data import ANY, PartData, field_types, kind_named

WANTED, OFFERED = "wanted", "offered"


def read_part_data(path: Path | None, words: Iterable[str], side: str) -> PartData:
    """
    A part from a file, from words, or from a file some of whose fields words replace.

    Args:
        path: TOML with `kind` and fields; None where words say all.
        words: Such as 'volts=16'; a list has semicolons between its members, as 'rails=+5V;-5V'.
        side: 'wanted' or 'offered'.

    Raises:
        BadInput: Not readable, an unknown field, or a value that cannot be.
    """
    values: dict[str, Any] = {}
    place = "the words"
    if path is not None:
        values.update(read_toml(path, "the part file").values)
        place = path.name
    values.update(_said(words, side))
    return part_data_of(Table(values, place, f"Cannot read the {side} part"), side)


def part_data_of(table: Table, side: str) -> PartData:
    """
    A part from a table.

    Raises:
        BadInput: An unknown field, or a value that cannot be.
    """
    kind = kind_named(table.needed_text("kind"), f"{table.doing} at {table.place}")
    fields = {}
    for name, row in field_types().items():
        if name in table and not (row.get("wanted_only") and side == OFFERED):
            fields[name] = _value(table, name, row, side)
    table.done([name for name, row in field_types().items() if not (row.get("wanted_only") and side == OFFERED)])
    return PartData(kind, fields)


def _said(words: Iterable[str], side: str) -> Mapping[str, Any]:
    said: dict[str, Any] = {}
    for word in words:
        name, sign, value = word.partition("=")
        if not sign or not name.strip() or not value.strip():
            raise BadInput(f"Cannot read the {side} part", f"'{word[:40]}'", "FIELD=VALUE, as volts=16",
                           "Write it without blanks about the sign.")  # fmt: skip
        name, value = name.strip().replace("-", "_"), value.strip()
        kind = field_types().get(name, {}).get("type")
        if kind == "flag" and value.casefold() in ("yes", "no", "true", "false"):
            said[name] = value.casefold() in ("yes", "true")
        elif kind == "words" and value != ANY:
            said[name] = [one.strip() for one in value.split(";")]
        else:
            said[name] = value
    return said


def _value(table: Table, name: str, row: Mapping[str, Any], side: str) -> Any:
    raw = table.values[name]
    if raw == ANY:
        if side == OFFERED or row.get("essential"):
            raise table.bad(name, raw, "a value, or nothing where it is not known", "Leave it out if it is not known.")
        return table.take(name)
    if row["type"] == "flag":
        return table.flag(name, default=False)
    if row["type"] == "words":
        found = table.texts(name)
        if not found:
            raise table.bad(name, raw, 'a list such as ["LS", "LS"]', f'Write it, or {name} = "{ANY}" for none.')
        return list(found)
    if row["type"] == "word":
        return _word(table, name, row)
    return _number(table, name, row)


def _word(table: Table, name: str, row: Mapping[str, Any]) -> str:
    raw = table.values[name]
    word = str(table.take(name)) if isinstance(raw, int) and not isinstance(raw, bool) else table.needed_text(name)
    choices = {one.casefold(): one for one in row.get("choices", ())}
    if choices and word.casefold() not in choices:
        raise table.bad(name, word, ", ".join(choices.values()), "Use one of these, or leave it out.")
    return str(choices.get(word.casefold(), word))


def _number(table: Table, name: str, row: Mapping[str, Any]) -> float | str:
    if name == "load" and table.values[name] == "series":
        return str(table.take(name))
    large = possible_readings(str(table.values[name]), row["unit"]) if row.get("large") else ()
    value = large[0].measured.value if len(large) == 1 else table.needed_number(name, row["unit"])
    table.take(name)
    if name == "tolerance" and not 0 < value <= 1:
        raise table.bad(name, table.values[name], "a share up to 1, or as \"5 %\"", "Correct it.")
    signed = name in ("output_volts", "celsius_most", "threshold", "zener_volts")
    if value <= 0 and not signed and name != "ppm":
        raise table.bad(name, table.values[name], "a number above 0", "Correct it.")
    return value
