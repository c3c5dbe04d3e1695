"""`kilter store` as a person types it: set up, people, check, backup, verify, restore, move, head."""

from __future__ import annotations

import sqlite3
import stat
import subprocess
import sys
from pathlib import Path

import pytest
from django.db import connection
from sitting import new_record, sit

pytestmark = pytest.mark.skipif(connection.vendor != "sqlite", reason="has a place of its own; once is enough")
GOOD = "eleven teal kettles\n"
WHATS = ["check", "backup FOLDER", "move sqlite:////nowhere/x.sqlite3", "head", "person list", "person password x"]


@pytest.fixture
def record_home(tables: None, tmp_path: Path) -> Path:  # noqa: ARG001
    """A data folder with an empty record."""
    return new_record(tmp_path / "home")


def test_from_nothing_to_a_restored_backup(tmp_path: Path) -> None:
    home, copy = tmp_path / "home", tmp_path / "copy"
    init, add, again, short, people, check, backup, verify, head = sit(
        home,
        "init --json",
        ("person add first --role administrator --role registrar --name Zylphine --password-stdin --json", GOOD),
        ("person add First --role reader --password-stdin", GOOD),
        ("person add second --role reader --password-stdin", "short\n"),
        "person list --json",
        "check --json",
        f"backup {copy} --json",
        f"verify {copy} --json",
        "head --json",
    )
    assert init.json() == {"home": str(home), "database": f"sqlite:///{home}/record.sqlite3", "people": False}
    assert "person add" in init.err
    assert {path.name: stat.S_IMODE(path.stat().st_mode) for path in home.iterdir()} == {
        "record.sqlite3": 0o600, "secret.key": 0o600
    }  # fmt: skip
    key = add.json()["key"]
    assert add.json() == {"key": key, "login": "first", "roles": ["administrator", "registrar"]}
    assert (again.code, short.code) == (2, 2)
    assert "twice" in again.err
    assert "too easy" in short.err
    assert people.json()["people"] == [
        {"key": key, "login": "first", "name": "Zylphine", "active": True, "roles": ["registrar", "administrator"]}
    ]
    assert check.code == 0
    whole = {"entries": 1, "rows": 0, "files": 0, "wrong": [], "finished": True}
    assert check.json() == {**whole, "head": head.json()["head"]}
    assert backup.json() == verify.json()
    assert {name: backup.json()[name] for name in ("journal", "head")} == head.json() == {
        "journal": 1, "head": check.json()["head"]
    }  # fmt: skip

    elsewhere = tmp_path / "elsewhere"
    restored, same, twice, moved, other = sit(
        elsewhere, f"restore {copy} --json", "check --json", f"restore {copy}",
        f"move sqlite:///{tmp_path}/moved.sqlite3 --json", f"verify {tmp_path}",
    )  # fmt: skip
    assert restored.json() == backup.json()
    assert same.json() == check.json()
    assert (twice.code, other.code) == (2, 2)
    assert "a place without a record" in twice.err
    assert "no list backup.json" in other.err
    assert {name: moved.json()[name] for name in ("journal", "head")} == head.json()
    (after,) = sit(elsewhere, "check --json", database=f"sqlite:///{tmp_path}/moved.sqlite3")
    assert after.json() == check.json()


def test_a_record_that_is_not_whole(record_home: Path) -> None:
    home = record_home
    sit(home, ("person add first --role administrator --password-stdin", GOOD))
    raw = sqlite3.connect(home / "record.sqlite3")
    raw.execute("DROP TRIGGER append_only_store_journalrow_update")
    raw.execute("UPDATE store_journalrow SET why = 'nobody'")
    raw.commit()
    raw.close()
    text, plain = sit(home, "check --no-files", "check --json")
    assert text.code == plain.code == 3
    wrong = plain.json()["wrong"]
    assert wrong[0] == "the table store_journalrow lost its triggers"
    assert wrong[1].startswith("journal: entry 1 ")
    assert len(wrong) == 2
    assert "2 wrong" in text.out


def test_before_there_is_a_record(tmp_path: Path) -> None:
    home = tmp_path / "none"
    for said in sit(home, *(one.replace("FOLDER", str(tmp_path / "b")) for one in WHATS)):
        assert said.code == 2
        assert "Run 'kilter store init'" in said.err
        assert "Traceback" not in said.err
    assert not home.exists()
    (tmp_path / "file").write_text("x")
    (said,) = sit(tmp_path / "file" / "home", "init")
    assert said.code == 2
    assert "Allowed" in said.err


LOCKED = {
    ("person add first --role reader --password-stdin", GOOD): "first person who is no administrator",
    ("person add first --role administrator --password-stdin", ""): "too easy",
    ("person add first --role administrator --password-stdin", "1234567890123\n"): "too easy",
    ("person add first --role administrator", GOOD): "no terminal",
    ("person add first --role king --password-stdin", GOOD): "invalid choice",
    ("person add first --password-stdin", GOOD): "--role",
}


def test_nobody_gets_in_by_default_and_a_lost_password(record_home: Path) -> None:
    *refused, nobody, _, changed, unknown = sit(
        record_home,
        *LOCKED,
        "person list --json",
        ("person add first --role administrator --password-stdin", GOOD),
        ("person password FIRST --password-stdin --json", "twelve green pans\n"),
        ("person password nobody --password-stdin", GOOD),
    )
    for said, expected in zip(refused, LOCKED.values(), strict=True):
        assert said.code == 2
        assert expected in said.err
    assert nobody.json() == {"people": []}
    assert changed.json()["login"] == "first"
    assert unknown.code == 2
    assert "person list" in unknown.err


def test_the_help_loads_no_framework() -> None:
    code = "import sys; from kilter.cli.main import parser; parser(); sys.exit('django' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
