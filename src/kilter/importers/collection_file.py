"""
Collection files for `kilter allocate`: objects that want parts, donors, offers, stand-ins (TOML; docs/donors.md).

An object says what it wants itself, or names a board and readings from which its diagnosis will; a donor likewise.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path

from kilter.importers.part_data import OFFERED, WANTED, part_data_of
from kilter.importers.toml_tables import Table, read_toml
from kilter.measure.errors import BadInput
from kilter.parts.substitutes import CONDITIONS, FITS, NOT, UNKNOWN, judge
from kilter.planning.accession import accession_states
from kilter.planning.allocation.problem import Finding, Lot, Offer, StandIn
from kilter.planning.part_types import type_name

VERSION = 1
MOST = 10_000
VERDICTS = {FITS: "fit", CONDITIONS: "conditions", NOT: "not", UNKNOWN: "unknown"}
"""Verdict of the substitution rules to its word in the file."""


@dataclass(frozen=True)
class ObjectEntry:
    """
    An object of the file.

    Args:
        number: Of the object.
        worth: Of its working.
        since: Date from which it waits, or ''.
        title: For people.
        findings: What it may want, where the file says so.
        board: Path of its board where its diagnosis says what it wants.
        readings: Path of its readings.
    """

    number: str
    worth: float
    since: str
    title: str
    findings: tuple[Finding, ...]
    board: Path | None
    readings: Path | None


@dataclass(frozen=True)
class DonorEntry:
    """
    A donor of the file.

    Args:
        number: Of the donor.
        accession: Whose it is, '' where nobody wrote it down.
        approvals: Roles that have agreed in writing.
        reference: It is a known-good board.
        loss: Worth that goes with it; None takes that of the object of the same number, or the setting.
        lots: What it would give, where the file says so.
        board: Path of its board where its diagnosis says how good its parts are.
        readings: Path of its readings.
        words: For people.
    """

    number: str
    accession: str
    approvals: tuple[str, ...]
    reference: bool
    loss: float | None
    lots: tuple[Lot, ...]
    board: Path | None
    readings: Path | None
    words: str


@dataclass(frozen=True)
class CollectionFile:
    """Everything that a collection file says."""

    name: str
    objects: tuple[ObjectEntry, ...]
    donors: tuple[DonorEntry, ...]
    offers: tuple[Offer, ...]
    stand_ins: tuple[StandIn, ...]
    keep: dict[str, int]


def read_collection(path: Path) -> CollectionFile:
    """
    A collection file.

    Raises:
        BadInput: A key or value that cannot be used; the message has its place.
    """
    top = read_toml(path, "the collection file")
    if top.take("kilter") != VERSION:
        raise top.bad(
            "kilter", top.values.get("kilter"), f"kilter = {VERSION}", f"Write kilter = {VERSION} at the top."
        )
    name = top.text("collection", path.stem)
    objects = tuple(_object(number, table, path.parent) for number, table in top.tables("objects"))
    donors = tuple(_donor(number, table, path.parent) for number, table in top.tables("donors"))
    offers = tuple(_offer(at, row) for at, row in enumerate(top.rows("offers"), 1))
    stand_ins = tuple(_stand_in(row) for row in top.rows("stand_ins"))
    keep = _counts(top, "keep")
    top.done()
    return CollectionFile(name, objects, donors, offers, stand_ins, keep)


def _object(number: str, table: Table, folder: Path) -> ObjectEntry:
    board, readings = _diagnosed(table, folder)
    findings = tuple(_finding(row) for row in table.rows("findings"))
    if "needs" in table:
        findings = (*findings, Finding(1.0, _counts(table, "needs"), "as written down"))
    if bool(findings) == bool(board):
        raise table.bad("needs", None, "either needs or findings, or board and readings",
                        "Say what the object wants, or name its board and readings.")  # fmt: skip
    total = sum(one.chance for one in findings)
    if total > 1.0 + 1e-9:
        raise table.bad("findings", round(total, 6), "chances that add up to at most 1", "Correct the chances.")
    since = table.text("since")
    if since:
        _check_date(table, since)
    worth = _worth(table, "worth", 1.0)
    found = ObjectEntry(number, worth, since, table.text("title"), findings, board, readings)
    table.done()
    return found


def _donor(number: str, table: Table, folder: Path) -> DonorEntry:
    board, readings = _diagnosed(table, folder)
    accession = table.text("accession")
    if accession and accession not in accession_states():
        raise table.bad("accession", accession, ", ".join(accession_states()), "Use one of these words.")
    lots = tuple(_lot(name, one) for name, one in table.tables("parts"))
    if bool(lots) == bool(board):
        raise table.bad("parts", None, "either parts, or board and perhaps readings",
                        "Say what the donor would give, or name its board.")  # fmt: skip
    loss = _worth(table, "loss", 0.0) if "loss" in table else None
    found = DonorEntry(number, accession, table.texts("approvals"), table.flag("reference", default=False), loss, lots,
                       board, readings, table.text("words"))  # fmt: skip
    table.done()
    return found


def _diagnosed(table: Table, folder: Path) -> tuple[Path | None, Path | None]:
    board, readings = table.text("board"), table.text("readings")
    if readings and not board:
        raise table.bad("readings", readings, "readings together with a board", "Name the board too.")
    return (folder / board if board else None), (folder / readings if readings else None)


def _finding(row: Table) -> Finding:
    chance = row.share("chance")
    if chance is None:
        raise row.bad("chance", None, "a chance from 0 to 1", "Write chance = 0.7.")
    found = Finding(chance, _counts(row, "needs"), row.text("words"))
    row.done()
    return found


def _lot(name: str, table: Table) -> Lot:
    good = table.share("good")
    if good is None:
        raise table.bad("good", None, "the chance that one of them is good", "Write good = 0.7.")
    found = Lot(name, type_name(name), _count(table, "count", 1), good, table.text("words"))
    table.done()
    return found


def _offer(at: int, row: Table) -> Offer:
    part, good = row.needed_text("part"), row.share("good")
    if good is None:
        raise row.bad("good", None, "the chance that one of them is good", "Write good = 0.9.")
    found = Offer(
        row.text("key", f"offer {at}"), type_name(part), _count(row, "most", 1), good, _worth(row, "cost", None)
    )
    row.done()
    return found


def _stand_in(row: Table) -> StandIn:
    verdict = _judged(row) if "wants" in row or "gives" in row else row.needed_text("verdict")
    if verdict not in VERDICTS.values():
        raise row.bad("verdict", verdict, ", ".join(VERDICTS.values()), "Use the verdict of the substitution rules.")
    found = StandIn(type_name(row.needed_text("wanted")), type_name(row.needed_text("part")), verdict)
    row.done()
    return found


def _judged(row: Table) -> str:
    """The verdict of the substitution rules on two parts that the row describes in place of a verdict."""
    if "verdict" in row:
        raise row.bad("verdict", row.values["verdict"], "either verdict, or wants and gives", "Leave one of them out.")
    wanted, offered = part_data_of(row.table("wants"), WANTED), part_data_of(row.table("gives"), OFFERED)
    return VERDICTS[judge(wanted, offered).verdict]


def _counts(table: Table, key: str) -> dict[str, int]:
    inner = table.table(key)
    found: dict[str, int] = {}
    for name in inner.values:
        part = type_name(name)
        found[part] = found.get(part, 0) + _count(inner, name, None)
    return {part: n for part, n in found.items() if n}


def _count(table: Table, key: str, default: int | None) -> int:
    value = table.take(key)
    if value is None and default is not None:
        return default
    if not isinstance(value, int) or isinstance(value, bool) or not 0 <= value <= MOST:
        raise table.bad(key, value, f"a whole number from 0 to {MOST}", "Write a number.")
    return value


def _worth(table: Table, key: str, default: float | None) -> float:
    value = table.number(key, "", default)
    if value is None or value < 0 or value > 1e6:
        raise table.bad(key, table.values.get(key), "points from 0 to 1 000 000", "Write a number.")
    return value


def _check_date(table: Table, words: str) -> None:
    try:
        date.fromisoformat(words)
    except ValueError:
        raise BadInput(table.doing, f"the date '{words[:40]}' at {table.at('since')}", "a date such as 1998-05-01",
                       "Correct it or leave it out.") from None  # fmt: skip
