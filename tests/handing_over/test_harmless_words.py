"""Whatever people write: it can stand in XML, makes a file name that every system bears, and is no formula in CSV."""

from __future__ import annotations

import csv
import io
import re
from html import escape
from pathlib import Path

from hypothesis import example, given, settings
from hypothesis import strategies as st
from lxml import etree

from kilter.exporters.harmless import clean, file_name
from kilter.exporters.spreadsheet import OBJECT_HEADS, csv_bytes, csv_text, object_rows
from kilter.importers.object_table import read_objects
from kilter.records.dossier import ObjectFields

ANYTHING = st.text(st.characters(categories=None), max_size=200)
"""Every code point, halves of characters among them."""
UNHURRIED = settings(deadline=None)
"""A machine may be busy."""
RESERVED = re.compile(r"(?i)(con|prn|aux|nul|com\d|lpt\d)(\..*)?")
"""Names that one common system keeps for itself: from memory."""


@UNHURRIED
@given(ANYTHING)
@example("]]>\x00\x85\u2028\ufffe\ud800")
def test_clean_words_stand_in_xml(words: str) -> None:
    """XML 1.0, 2.2 and 2.11: characters that may stand, and line ends that become one."""
    root = etree.fromstring(f"<a b='{escape(clean(words))}'>{escape(clean(words))}</a>".encode())
    assert (root.text or "") == clean(words)


@UNHURRIED
@given(ANYTHING)
def test_cleaning_twice_changes_nothing_more(words: str) -> None:
    assert clean(clean(words)) == clean(words)


@UNHURRIED
@given(ANYTHING)
@example("COM1.tar.gz")
@example("." * 300)
@example("a" * 99 + ".jpeg")
@example("x. ")
def test_names_of_files(words: str) -> None:
    """POSIX portable file name characters (POSIX.1-2017, 3.282), no path, no reserved name."""
    name = file_name(words)
    assert re.fullmatch(r"[A-Za-z0-9_][A-Za-z0-9._-]*", name)
    assert not name.endswith((".", "-", " "))
    assert not RESERVED.fullmatch(name)
    assert 0 < len(name) <= 105
    assert Path("/bag", name).resolve().parent == Path("/bag")


@UNHURRIED
@given(ANYTHING)
def test_ending_of_a_name_is_kept(words: str) -> None:
    name = file_name(f"{words}.jpg")
    assert name.endswith(".jpg") or name == "jpg"


@UNHURRIED
@given(ANYTHING)
@example("=cmd|' /C calc'!A0")
def test_no_cell_begins_like_a_formula(words: str) -> None:
    (cell,) = list(csv.reader(io.StringIO(csv_text(["a"], [[words]]), newline=""), strict=True))[1] or [""]
    assert not cell.lstrip(" ").startswith(("=", "+", "-", "@", "\t", "\r", "\n"))


NUMBERS = st.text("ab0=+-@' 19;,\"|%#", min_size=1, max_size=20)
NAMES = st.text("xyz=+-@'\";,\n 0#", min_size=1, max_size=30)


@UNHURRIED
@given(number=NUMBERS, name=NAMES)
def test_a_list_comes_back_as_it_went(tmp_path_factory: object, number: str, name: str) -> None:
    number, name = number.strip() or "1", name.strip() or "x"
    path = tmp_path_factory.mktemp("list") / "list.csv"  # type: ignore[attr-defined]
    one = ObjectFields(number, name)
    path.write_bytes(csv_bytes(OBJECT_HEADS, object_rows([one])))
    found = read_objects(path)
    assert [row.fields for row in found.rows] == [one], found.errors
