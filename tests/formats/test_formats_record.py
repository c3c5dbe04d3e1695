"""
Records of every release stay readable: each file is a backup made by that release (make_record_*.py beside it).

What is expected is the project's own output, frozen when the file was made; nothing outside knows this format.
"""

from __future__ import annotations

import json
import sqlite3
import sys
import zipfile
from pathlib import Path

import pytest

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parent / "store"))

from sitting import sit  # noqa: E402  it lies in the folder named above

RECORDS = sorted(HERE.glob("record-*.zip"))


@pytest.mark.parametrize("path", RECORDS, ids=lambda path: path.stem)
def test_an_old_record(path: Path, tmp_path: Path) -> None:
    expected = json.loads(path.with_suffix(".json").read_text("utf-8"))
    with zipfile.ZipFile(path) as file:
        file.extractall(tmp_path / "copy")
    home = tmp_path / "home"
    restored, check, head = sit(home, f"restore {tmp_path / 'copy'} --json", "check --json", "head --json")
    assert (restored.code, check.code) == (0, 0), restored.err + check.out
    found = {name: expected[name] for name in ("entries", "head", "rows", "files")}
    assert check.json() == {**found, "wrong": [], "finished": True}
    assert head.json() == {"journal": expected["entries"], "head": expected["head"]}
    raw = sqlite3.connect(home / "record.sqlite3")
    values = raw.execute("SELECT value FROM store_visitentry ORDER BY id").fetchall()
    raw.close()
    assert [str(row[0]) for row in values] == expected["values"]


def test_there_are_some() -> None:
    assert RECORDS
