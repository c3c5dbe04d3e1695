"""Network files for `kilter sweep forecast` (TOML): collections, what they hold, how often it comes in not working."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from pathlib import Path

from kilter.diagnose.learned_odds_counts import band_of
from kilter.importers.load import load_board
from kilter.importers.toml_tables import Table, read_toml
from kilter.measure.errors import BadInput
from kilter.parts.kinds import part_kind
from kilter.services.forecast_network import Holding, Member

VERSION = 1
MOST = 1_000_000


def read_network(path: Path) -> tuple[str, tuple[Member, ...]]:
    """
    The name of the network and its collections.

    Raises:
        BadInput: A key or value that cannot be used; the message has its place.
    """
    top = read_toml(path, "the network file")
    if top.take("kilter") != VERSION:
        found = top.values.get("kilter")
        raise top.bad("kilter", found, f"kilter = {VERSION}", f"Write kilter = {VERSION} at the top.")
    name, boards = top.text("network", path.stem), dict[Path, dict[str, int]]()
    members = []
    for key, table in top.tables("collections"):
        holdings = tuple(_holding(row, path.parent, boards) for row in table.rows("objects"))
        if not holdings:
            raise table.bad("objects", None, "at least one row of objects", "Say what the collection holds.")
        table.done()
        members.append(Member(key, holdings))
    if not members:
        raise top.bad("collections", None, "at least one [collections.NAME]", "Add the collections.")
    top.done()
    return name, tuple(members)


def _holding(row: Table, folder: Path, boards: dict[Path, dict[str, int]]) -> Holding:
    board, parts = row.text("board"), row.take("parts")
    if bool(board) == (parts is not None):
        raise row.bad("board", board or None, "a board file or a table of parts, one of them", "Name one of them.")
    age = row.number("age")
    arrivals = row.needed_number("arrivals")
    if not 0 <= arrivals <= MOST:
        raise row.bad("arrivals", arrivals, "times a year and object, from 0 on", "Correct it.")
    try:
        band = band_of(age)
    except BadInput as error:
        raise row.bad("age", age, error.allowed, error.do_next) from None
    found = _of_board(folder / board, boards) if board else _of_table(row, parts)
    count = _whole(row, "count", row.take("count"))
    row.done()
    return Holding(found, count, band, arrivals)


def _of_board(path: Path, boards: dict[Path, dict[str, int]]) -> dict[str, int]:
    if path not in boards:
        boards[path] = dict(sorted(Counter(part.kind for part in load_board(path).parts.values()).items()))
    return boards[path]


def _of_table(row: Table, parts: object) -> dict[str, int]:
    if not isinstance(parts, Mapping) or not parts:
        raise row.bad("parts", parts, "kinds of parts with their numbers", "Write parts = { electrolytic = 12 }.")
    found = {str(kind): _whole(row, "parts", count) for kind, count in sorted(parts.items())}
    for kind in found:
        part_kind(kind, doing=row.doing)
    return found


def _whole(row: Table, key: str, value: object) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or not 1 <= value <= MOST:
        raise row.bad(key, value, f"a whole number from 1 to {MOST}", "Write such a number.")
    return value
