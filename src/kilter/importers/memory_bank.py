"""Bank files: where the chips of a memory sit, and by which pins; see docs/memory.md for their form."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from kilter.importers.toml_tables import Table, read_toml
from kilter.signals.memory.bank import Bank, Chip, Driver
from kilter.signals.memory.contents import WIDTHS
from kilter.signals.memory.figures import number


def read_bank(path: Path) -> Bank:
    """
    The bank of a file.

    Raises:
        BadInput: Not readable, a key that is unknown, a chip outside the bank, two chips in the same place.
    """
    file = read_toml(path, "the bank")
    words = _whole(file, "words", 1, int(number("largest_bytes")))
    width = _whole(file, "width", 1, 32)
    if width not in WIDTHS:
        raise file.bad("width", width, ", ".join(map(str, WIDTHS)), "Give the data lines of the whole bank.")
    chips = tuple(_chip(ref, table, words, width) for ref, table in file.tables("chips"))
    drivers = tuple(_driver(ref, table) for ref, table in file.tables("drivers"))
    if not chips:
        raise file.bad("chips", None, "one [chips.NAME] table for each chip", "Add the chips.")
    file.done()
    _refuse_overlap(file, chips)
    return Bank(words, width, chips, drivers)


def _chip(ref: str, table: Table, words: int, width: int) -> Chip:
    first = _whole(table, "first", 0, words - 1, 0)
    last = _whole(table, "last", first, words - 1, words - 1)
    lines = _lines(table, "lines", width) if "lines" in table else tuple(range(width))
    pins = [table.texts(key) for key in ("address_pins", "data_pins", "select_pins", "supply_pins")]
    if pins[1] and len(pins[1]) != len(lines):
        raise table.bad("data_pins", list(pins[1]), f"{len(lines)} pins, one for each line", "Give one pin a line.")
    table.done()
    return Chip(ref, first, last, lines, *pins)


def _driver(ref: str, table: Table) -> Driver:
    pins = [dict(_numbered(table.table(key))) for key in ("address", "data")]
    table.done()
    return Driver(ref, *pins)


def _numbered(table: Table) -> Iterator[tuple[int, str]]:
    for line in table.values:
        pin = table.text(line)
        if not line.isdecimal() or len(line) > 2:
            raise table.bad(line, pin, "a line number = its pin in quotes, as 8 = \"12\"", "Correct the line number.")
        yield int(line), pin


def _lines(table: Table, key: str, width: int) -> tuple[int, ...]:
    values = table.take(key)
    good = isinstance(values, list) and values and all(type(one) is int and 0 <= one < width for one in values)
    if not good or len(set(values)) < len(values):
        raise table.bad(key, values, f"different line numbers from 0 to {width - 1}, as [0, 1]", "Correct the list.")
    return tuple(values)


def _whole(table: Table, key: str, least: int, most: int, default: int | None = None) -> int:
    value = table.take(key)
    value = default if value is None else value
    if type(value) is not int or not least <= value <= most:
        raise table.bad(key, value, f"a whole number from {least} to {most} ({most:#x})", f"Write {key} = ...")
    return value


def _refuse_overlap(file: Table, chips: tuple[Chip, ...]) -> None:
    for at, one in enumerate(chips):
        for two in chips[:at]:
            both = set(one.lines) & set(two.lines)
            if both and one.first <= two.last and two.first <= one.last:
                raise file.bad("chips", f"{two.ref} and {one.ref} in one place", "one chip for each address and line",
                               "Correct first, last or lines of one of them.")  # fmt: skip
