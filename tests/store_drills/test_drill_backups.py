"""Backups while others write, restored elsewhere and compared; altered ones refused; a record moved there and back."""

from __future__ import annotations

import json
import shutil
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
from drill import drill
from servers import Server
from sitting import sit

from kilter.measure.errors import BadInput

COPIES = 3


def test_while_others_write(home: Path, address: str, tmp_path: Path, request: pytest.FixtureRequest) -> None:
    told = drill(home, address, "copied", tmp_path, COPIES)
    assert told["journals"] == sorted(set(told["journals"]))  # others did write in between
    elsewhere, copy = tmp_path / "elsewhere", tmp_path / f"copy{COPIES - 1}"
    other = ""
    if not address.startswith("sqlite"):
        server: Server = request.getfixturevalue("server")
        other = server.new_database()
    verified, restored, check = sit(elsewhere, f"verify {copy} --json", f"restore {copy} --json", "check --json",
                                    database=other)  # fmt: skip
    assert verified.json() == {**restored.json(), "folder": str(copy)}
    assert check.code == 0, check.out
    assert (check.json()["entries"], check.json()["head"]) == (restored.json()["journal"], restored.json()["head"])
    assert check.json()["entries"] == told["journals"][-1]
    assert check.json()["files"] == told["files"][-1] - 1


def rows(path: Path) -> dict[str, list[tuple[object, ...]]]:
    """Every row of every table of the record, past Kilter."""
    raw = sqlite3.connect(path)
    tables = raw.execute("SELECT name FROM sqlite_master WHERE type = 'table' AND name LIKE 'store_%'")
    names = [row[0] for row in tables]
    found = {}
    for name in sorted(names):
        columns = sorted(row[1] for row in raw.execute(f"PRAGMA table_info({name})"))
        quoted = ", ".join(f'"{column}"' for column in columns)
        found[name] = sorted(map(plain, raw.execute(f"SELECT {quoted} FROM {name}")), key=repr)
    raw.close()
    return found


def plain(row: tuple[object, ...]) -> tuple[object, ...]:
    """JSON text as what it says: PostgreSQL keeps keys in an order of its own."""
    return tuple(json.loads(one) if isinstance(one, str) and one.startswith("{") else one for one in row)


def test_there_and_back(home: Path, server: Server, tmp_path: Path) -> None:
    drill(home, "", "lived_in")
    there, back = server.new_database(), tmp_path / "back.sqlite3"
    first, head = sit(home, f"move {there} --json", "head --json")
    middle, second, same = sit(home, "check --json", f"move sqlite:///{back} --json", f"move {there}", database=there)
    (last,) = sit(home, "check --json", database=f"sqlite:///{back}")
    told = [{name: one.json()[name] for name in ("journal", "head")} for one in (first, second)]
    assert told == [head.json(), head.json()]
    assert middle.json() == last.json() == {**last.json(), "wrong": []}
    assert same.code == 2
    assert rows(home / "record.sqlite3") == rows(back)
    assert drill(home, there, "one_more")["said"] == []  # keys go on after the last that came over
    assert drill(home, f"sqlite:///{back}", "one_more")["said"] == []


def test_the_other_engines_backup_is_refused(home: Path, server: Server, tmp_path: Path) -> None:
    sit(home, f"backup {tmp_path}/copy")
    (said,) = sit(tmp_path / "new", f"restore {tmp_path}/copy", database=server.new_database())
    assert said.code == 2
    assert "kilter store move" in said.err


def flip(path: Path, at: int = -100) -> None:
    """One bit."""
    data = bytearray(path.read_bytes())
    data[at] ^= 1
    path.chmod(0o644)
    path.write_bytes(data)


def change_list(copy: Path, **changes: object) -> None:
    """What its list says."""
    told = json.loads((copy / "backup.json").read_text("utf-8"))
    (copy / "backup.json").write_text(json.dumps({**told, **changes}), "utf-8")


def a_file_of(copy: Path) -> Path:
    return next(path for path in (copy / "files").rglob("*") if path.is_file())


def rename_in_list(copy: Path) -> None:
    told = json.loads((copy / "backup.json").read_text("utf-8"))
    change_list(copy, files={**told["files"], "../../etc/hostname": "0" * 64})


ALTERED: dict[str, tuple[Callable[[Path], object], str]] = {
    "database": (lambda copy: flip(copy / "record.sqlite3"), "a file record.sqlite3 that was altered"),
    "file": (lambda copy: flip(a_file_of(copy), 0), "that was altered"),
    "file gone": (lambda copy: a_file_of(copy).unlink(), "no file files/"),
    "database gone": (lambda copy: (copy / "record.sqlite3").unlink(), "no file record.sqlite3"),
    "list gone": (lambda copy: (copy / "backup.json").unlink(), "no list"),
    "list cut": (lambda copy: (copy / "backup.json").write_text("{", "utf-8"), "no list"),
    "head": (lambda copy: change_list(copy, head="0" * 64), "does not end as its list says"),
    "edition": (lambda copy: change_list(copy, kilter_backup=99), "edition 99"),
    "a path that leads out": (rename_in_list, "no file ../../etc/hostname"),
}


@pytest.fixture(scope="module")
def copy(tables: None, tmp_path_factory: pytest.TempPathFactory) -> Path:  # noqa: ARG001
    """A backup of a little of everything."""
    from sitting import new_record

    folder = tmp_path_factory.mktemp("backups")
    home = new_record(folder / "home")
    drill(home, "", "lived_in")
    (said,) = sit(home, f"backup {folder}/copy")
    assert said.code == 0, said.err
    return folder / "copy"


@pytest.mark.parametrize("what", ALTERED)
def test_an_altered_backup_is_refused(copy: Path, tmp_path: Path, what: str) -> None:
    from kilter.store.backup import verify

    other = tmp_path / "copy"
    shutil.copytree(copy, other)
    assert verify(other)["journal"] > 10
    alter, found = ALTERED[what]
    alter(other)
    with pytest.raises(BadInput, match=found):
        verify(other)


def test_an_altered_backup_is_not_restored(copy: Path, tmp_path: Path) -> None:
    other = tmp_path / "copy"
    shutil.copytree(copy, other)
    flip(other / "record.sqlite3")
    said = sit(tmp_path / "new", f"restore {other}", f"restore {copy}", "check", f"restore {copy}")
    assert [one.code for one in said] == [2, 0, 0, 2]
