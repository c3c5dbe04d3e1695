"""Display files: objects that run for visitors, how much, what wears in them, what was done; see docs/display.md."""

from __future__ import annotations

from collections import Counter
from datetime import date
from pathlib import Path

from kilter.importers.load import load_board
from kilter.importers.toml_tables import Table, read_toml
from kilter.planning.display.due import inspection_keys
from kilter.planning.display.models import wear_kinds, wear_of_part
from kilter.planning.display.showing import Climate, DisplayObject, Renewed, Seen, Shelf, Showing
from kilter.planning.display.usage import WEEKS, Count

MOST_PARTS = 10_000


def read_display(path: Path) -> Showing:
    """
    What stands in a display file.

    Raises:
        BadInput: Not readable, a key unknown or missing, a date or number that cannot be.
    """
    file = read_toml(path, "the display file")
    if file.take("kilter") != 1:
        raise file.bad("kilter", file.values.get("kilter"), "kilter = 1", "Write kilter = 1.")
    title = file.needed_text("display")
    objects = tuple(_object(name, row, path.parent) for name, row in file.tables("objects"))
    if not objects:
        raise file.bad("objects", None, 'one object or more, [objects."HC 0417"]', "Name the objects on display.")
    shelves = {_known(file, key): _shelf(row) for key, row in file.tables("shelf")}
    seen = {_known(file, key): _seen(key, row) for key, row in file.tables("seen")}
    file.done()
    return Showing(title, objects, shelves, seen)


def _object(name: str, row: Table, folder: Path) -> DisplayObject:
    since = _day(row, "since")
    if since is None:
        raise row.bad("since", None, "the first day on display, since = 2024-03-01", "Add it.")
    found = DisplayObject(
        number=name, title=row.text("title"), since=since, made=_year(row, since),
        hours_a_year=_a_year(row, "hours_a_week"), switch_ons_a_year=_a_year(row, "switch_ons_a_week"),
        hours_before=_optional(row, "hours_before"), switch_ons_before=_optional(row, "switch_ons_before"),
        warmth=_optional(row, "warmth"), parts=_parts(row, folder),
        renewed=tuple(_renewed(r) for r in row.rows("renewed")),
        counts=tuple(sorted((_count(r) for r in row.rows("counts")), key=lambda one: one.day)),
        climate=tuple(_climate(r) for r in row.rows("climate")), done=_done(row),
    )  # fmt: skip
    row.done()
    for one in found.renewed:
        there = found.parts.get(one.kind, 0)
        if one.count > there:
            raise row.bad("renewed", one.count, f"at most {there} of {one.kind}, as many as there are",
                          "Correct the count, or the parts.")  # fmt: skip
    return found


def _parts(row: Table, folder: Path) -> dict[str, int]:
    """Places by kind of wear: counted on a board, and what a table adds or sets."""
    found: Counter[str] = Counter()
    board = row.text("board")
    if board:
        kinds = (wear_of_part(part.kind) for part in load_board(folder / board).parts.values())
        found.update(kind for kind in kinds if kind)
    table = row.table("parts")
    for key in table.values:
        kind = _known(table, key)
        found[kind] = _whole(table, key)
    if not found:
        raise row.bad("parts", None, "parts = { lamp = 2 } or board = \"board.toml\"", "Say what wears in it.")
    return {kind: count for kind, count in found.items() if count}


def _known(table: Table, key: str) -> str:
    if key not in wear_kinds():
        raise table.bad(key, key, ", ".join(wear_kinds()), "Use one of these kinds of wear.")
    return key


def _renewed(row: Table) -> Renewed:
    kind, count, day = _known(row, row.needed_text("kind")), _whole(row, "count", 1), _day(row, "date")
    if day is None:
        raise row.bad("date", None, "the day, date = 2024-03-01", "Add it.")
    failed = _whole(row, "failed", -1)
    row.done()
    if failed > count:
        raise row.bad("failed", failed, f"at most {count}, as many as were renewed", "Correct it.")
    return Renewed(kind, count, day, failed if failed >= 0 else None)


def _count(row: Table) -> Count:
    day = _day(row, "date")
    if day is None:
        raise row.bad("date", None, "the day, date = 2024-03-01", "Add it.")
    found = Count(day, _optional(row, "hours"), _optional(row, "switch_ons"))
    row.done()
    return found


def _climate(row: Table) -> Climate:
    day = _day(row, "date")
    if day is None:
        raise row.bad("date", None, "the day, date = 2024-03-01", "Add it.")
    celsius, humidity = row.number("celsius"), row.number("humidity")
    if humidity is not None and not 0 <= humidity <= 100:
        raise row.bad("humidity", humidity, "per cent, 0 to 100", "Correct it.")
    if celsius is not None and not -40 <= celsius <= 70:
        raise row.bad("celsius", celsius, "degrees Celsius, -40 to 70", "Correct it.")
    row.done()
    return Climate(day, celsius, humidity)


def _done(row: Table) -> dict[str, date]:
    """Last day of every inspection."""
    table, found = row.table("inspected"), {}
    for key in table.values:
        if key not in inspection_keys():
            raise table.bad(key, key, ", ".join(inspection_keys()), "Use one of these.")
        day = _day(table, key)
        if day is not None:
            found[key] = day
    return found


def _seen(key: str, row: Table) -> Seen:
    if not wear_kinds()[key].by_chance:
        chance = ", ".join(kind.key for kind in wear_kinds().values() if kind.by_chance)
        raise row.bad("failures", key, f"kinds that fail by chance: {chance}",
                      "For kinds that wear write 'renewed' with how many had failed.")  # fmt: skip
    found = Seen(_whole(row, "failures"), _amount(row, "hours"))
    row.done()
    return found


def _shelf(row: Table) -> Shelf:
    found = Shelf(_whole(row, "here", 0), _whole(row, "store", 0), max(1, _whole(row, "houses", 1)),
                  _amount(row, "fetch_days"), _amount(row, "buy_days"))  # fmt: skip
    row.done()
    return found


def _year(row: Table, since: date) -> int | None:
    value = row.take("made")
    if value is None:
        return None
    if not isinstance(value, int) or isinstance(value, bool) or not 1900 <= value <= since.year:
        raise row.bad("made", value, f"a year from 1900 to {since.year}", "Write the year, such as made = 1983.")
    return value


def _day(row: Table, key: str) -> date | None:
    value = row.take(key)
    if value is None:
        return None
    if isinstance(value, str):
        try:
            return date.fromisoformat(value)
        except ValueError:
            value = value[:40]
    if type(value) is not date:
        raise row.bad(key, value, "a day such as 2024-03-01", "Write year, month and day.")
    return value


def _a_year(row: Table, key: str) -> float | None:
    """Of a week to a year; None where the file does not say."""
    a_week = _optional(row, key)
    return None if a_week is None else a_week * WEEKS


def _amount(row: Table, key: str) -> float:
    return _optional(row, key) or 0.0


def _optional(row: Table, key: str) -> float | None:
    value = row.number(key)
    if value is not None and value < 0:
        raise row.bad(key, value, "a number from 0", "Correct it, or leave it out if not known.")
    return value


def _whole(row: Table, key: str, default: int = 0) -> int:
    value = row.take(key)
    if value is None:
        return default
    if not isinstance(value, int) or isinstance(value, bool) or not 0 <= value <= MOST_PARTS:
        raise row.bad(key, value, f"a whole number from 0 to {MOST_PARTS}", "Correct it.")
    return value
