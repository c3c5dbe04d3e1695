"""Stock lists: what is read, that no row is dropped in silence, and that a spreadsheet says the same as CSV."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kilter.importers.stock_table import read_stock
from kilter.measure.errors import BadInput
from kilter.planning.stock import chance_good, conditions

ROWS = [
    ["lot", "part", "count", "condition", "tested", "words"],
    ["box 1", "SN74LS00N 8312", "3", "unused", "yes", ""],
    ["box 2", "4116", "2", "", "", "bag without a label"],
    ["00123", "resistor 4k7", "10", "pulled", "no", "=1+1"],
    ["box 4", "", "1", "", "", ""],
    ["box 5", "4116", "two", "", "", ""],
    ["box 6", "4116", "1", "shiny", "", ""],
    ["box 7", "4116", "1", "", "perhaps", ""],
    ["box 1", "4116", "1", "", "", ""],
]


def as_csv(folder: Path, delimiter: str = ",") -> Path:
    path = folder / "stock.csv"
    path.write_text("\n".join(delimiter.join(row) for row in ROWS), encoding="utf-8")
    return path


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_good_rows_are_read_and_bad_ones_are_named(tmp_path: Path, delimiter: str) -> None:
    table = read_stock(as_csv(tmp_path, delimiter))
    assert [(lot.key, lot.part, lot.count) for lot in table.lots] == [
        ("box 1", "74LS00", 3), ("box 2", "4116", 2), ("00123", "resistor 4k7", 10)]  # fmt: skip
    assert len(table.lots) + len(table.problems) == len(ROWS) - 1
    assert [one.place for one in table.problems] == ["line 5", "line 6", "line 7", "line 8", "line 9"]
    said = " ".join(one.found for one in table.problems)
    assert all(word in said for word in ("no part", "'two'", "'shiny'", "'perhaps'", "again, which stands in line 2"))


def test_what_nobody_wrote_down_is_not_taken_for_good(tmp_path: Path) -> None:
    known, unknown, _ = read_stock(as_csv(tmp_path)).lots
    assert unknown.good < known.good
    assert "condition not known" in unknown.words
    for tested in (False, True):
        others = [chance_good(one, tested=tested) for one in conditions() if one != "faulty"]
        assert chance_good("unknown", tested=tested) == min(others)


def test_a_spreadsheet_says_the_same(tmp_path: Path) -> None:
    """Written by openpyxl; a text cell with leading zeros stays what it is, and a formula is not run."""
    books = pytest.importorskip("openpyxl", reason="openpyxl is not installed")
    book = books.Workbook()
    for row in ROWS:
        book.active.append([int(cell) if cell in ("1", "2", "3", "10") else cell for cell in row])
    book.active["F4"].data_type = "s"
    book.save(tmp_path / "stock.xlsx")
    sheet, text = read_stock(tmp_path / "stock.xlsx"), read_stock(as_csv(tmp_path))
    assert sheet.lots == text.lots
    assert [one.found.replace("row", "line") for one in sheet.problems] == [one.found for one in text.problems]


@pytest.mark.parametrize(
    ("name", "raw"),
    [("a.csv", b""), ("a.csv", b"lot,count\n1,2"), ("a.csv", b"part,part\n1,2"), ("a.csv", b"part,colour\n1,2"),
     ("a.csv", b'part\n"open'), ("a.xlsx", b"no zip"), ("absent.csv", None), ("absent.xlsx", None)],
)  # fmt: skip
def test_files_that_are_no_list(tmp_path: Path, name: str, raw: bytes | None) -> None:
    if raw is not None:
        (tmp_path / name).write_bytes(raw)
    with pytest.raises(BadInput, match="Cannot read"):
        read_stock(tmp_path / name)


@given(st.text(max_size=200))
def test_any_text_is_read_or_refused_in_words(tmp_path_factory: pytest.TempPathFactory, text: str) -> None:
    path = tmp_path_factory.getbasetemp() / "any.csv"
    path.write_bytes(("part,count,good\n" + text).encode("utf-8", "replace"))
    refused = ""
    try:
        table = read_stock(path)
    except BadInput as error:
        refused = error.do_next
        table = None
    assert refused or (table is not None and all(0.0 <= lot.good <= 1.0 and lot.part for lot in table.lots))
