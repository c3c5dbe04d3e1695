"""Tables out and in: workbooks are read back by an outside reader, CSV by the standard library; no formula anywhere."""

from __future__ import annotations

import csv
import io
import zipfile
from pathlib import Path

import openpyxl
import pytest
from dossiers import HOSTILE, full, hostile

from kilter.exporters.harmless import clean
from kilter.exporters.spreadsheet import (
    OBJECT_HEADS,
    READING_HEADS,
    csv_bytes,
    csv_text,
    object_rows,
    reading_rows,
    workbook,
)
from kilter.importers.object_table import changes, read_objects
from kilter.measure.errors import BadInput
from kilter.records.dossier import ObjectFields

FORMULAS = ["=1+1", "+5V", "-12V", "@SUM(A1)", "\t=1", " =1", "=HYPERLINK(\"http://x\")", "＝1+1", "|cmd", "%x", "'=1",
            "=cmd|' /C calc'!A0", "\r=1", "\n=1"]  # fmt: skip
"""Starts that common guidance on formula injection names, from memory."""


def cells(data: bytes) -> list[list[openpyxl.cell.Cell]]:
    return [list(row) for row in openpyxl.load_workbook(io.BytesIO(data)).active.iter_rows()]


@pytest.mark.parametrize("words", FORMULAS)
def test_no_cell_of_a_workbook_is_a_formula(words: str) -> None:
    ((_,), (cell,)) = cells(workbook("x", ["a"], [[words]]))
    assert cell.data_type == "s"
    assert cell.value == clean(words)
    assert cell.quotePrefix


@pytest.mark.parametrize("words", FORMULAS)
def test_no_cell_of_csv_begins_like_a_formula(words: str) -> None:
    (cell,) = list(csv.reader(io.StringIO(csv_text(["a"], [[words]])), strict=True))[1]
    assert cell.startswith("'")
    assert cell[1:] == clean(words)


def test_numbers_stay_numbers(tmp_path: Path) -> None:
    rows = reading_rows([full(tmp_path)])
    _, first, second, _, fourth = cells(workbook("readings", READING_HEADS, rows))
    column = READING_HEADS.index("value")
    assert (first[column].value, first[column].data_type) == (1.524, "n")
    assert (second[column].value, fourth[column].value) == ("over limit", -12.1)
    told = list(csv.DictReader(io.StringIO(csv_bytes(READING_HEADS, rows).decode("utf-8-sig"))))
    assert (told[0]["value"], told[3]["value"], told[3]["who"]) == ("1.524", "-12.1", "Ilse Varn")
    assert (told[2]["read"], told[2]["standing"]) == ("silent", "no")


def test_hostile_words_come_back_as_words(tmp_path: Path) -> None:
    rows = reading_rows([hostile(tmp_path)])
    back = cells(workbook("readings", READING_HEADS, rows))[1]
    assert back[READING_HEADS.index("point")].value == clean(HOSTILE)
    with zipfile.ZipFile(io.BytesIO(workbook("readings", READING_HEADS, rows))) as packed:
        assert not any(b"<f>" in packed.read(one) for one in packed.namelist())


def test_a_cell_that_is_too_long_says_so() -> None:
    """ECMA-376: 32,767 characters."""
    ((_,), (cell,)) = cells(workbook("x", ["a"], [["y" * 40_000]]))
    assert len(cell.value) == 32_767
    assert cell.value.endswith("[cut here: 40,000 characters; the CSV has them]")


OBJECTS = [ObjectFields("HC 0417", "Step computer", "teaching computer", "1983", accession="accessioned"),
           ObjectFields("00123", "Organ; with, \"quotes\"", limits="one hour\na day"),
           ObjectFields("=1+1", "-12V radio", owner="'s-Gravenmoer club")]  # fmt: skip


@pytest.mark.parametrize("ending", ["csv", "xlsx"])
def test_what_goes_out_comes_in_again(tmp_path: Path, ending: str) -> None:
    rows, path = object_rows(OBJECTS), tmp_path / f"objects.{ending}"
    path.write_bytes(csv_bytes(OBJECT_HEADS, rows) if ending == "csv" else workbook("objects", OBJECT_HEADS, rows))
    found = read_objects(path)
    assert found.errors == ()
    assert [one.fields for one in found.rows] == OBJECTS
    known = {one.number: one for one in OBJECTS}
    assert {one.verb for one in changes(found.rows, known)} == {"same"}


def listed(folder: Path, text: str) -> Path:
    path = folder / "list.csv"
    path.write_text(text, "utf-8")
    return path


def test_a_dry_run_tells_what_would_change(tmp_path: Path) -> None:
    found = read_objects(listed(tmp_path, "number;name;location\nA 1;Radio;\nA 2;Organ;Store 2\nA 3;Clock;\n"))
    kept = (ObjectFields("A 1", "Radio", location="Store 1"), ObjectFields("A 2", "Organ", location="Hall"))
    known = {one.number: one for one in kept}
    told = [(one.verb, dict(one.other)) for one in changes(found.rows, known)]
    assert told == [("same", {}), ("other", {"location": ("Hall", "Store 2")}), ("new", {})]


def test_rows_that_cannot_be_used_are_named_and_the_rest_is_read(tmp_path: Path) -> None:
    text = ("# a list\nnumber,name,accession\nA 1,Radio,accessioned\n,No number,\nA 2,,\nA 1,Again,\n"
            f"A 3,Clock,accesioned\nA 4,{'x' * 300},\nA 5,Fine,,spare\n"
            "A 6,\"on two\nlines\",\n\nA 7,\x07,\n")  # fmt: skip
    found = read_objects(listed(tmp_path, text))
    assert [(one.place, one.fields.number) for one in found.rows] == [("line 3", "A 1"), ("line 10", "A 6")]
    assert [one.doing.split(" of ")[1] for one in found.errors] == [f"line {n}" for n in (4, 5, 6, 7, 8, 9, 13)]
    assert all(one.found and one.allowed and one.do_next for one in found.errors)
    assert "Did you mean 'accessioned'?" in str(found.errors[3])


@pytest.mark.parametrize(("text", "words"), [
    ("", "no column 'number'"), ("number\nA 1\n", "no column 'name'"), ("number,nmae\n", "Did you mean 'name'?"),
    ("number,name,name\n", "twice"), ('number,name\nA 1,"open\n', "no CSV"), ("\x00\x01", "no text"),
])  # fmt: skip
def test_lists_that_cannot_be_used_at_all(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(BadInput, match=words.replace("?", r"\?")):
        read_objects(listed(tmp_path, text))


def test_a_workbook_that_is_none_or_would_fill_the_memory(tmp_path: Path) -> None:
    path = tmp_path / "list.xlsx"
    path.write_bytes(b"no workbook")
    with pytest.raises(BadInput, match="no workbook"):
        read_objects(path)
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/workbook.xml", b"0" * 250_000_000)
    assert path.stat().st_size < 1_000_000
    with pytest.raises(BadInput, match="once unpacked"):
        read_objects(path)
    with pytest.raises(BadInput, match="No such file"):
        read_objects(tmp_path / "absent.xlsx")
