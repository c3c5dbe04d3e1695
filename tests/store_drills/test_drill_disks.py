"""A full disk and one that may only be read: four parts, nothing half recorded, and on again afterwards."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from drill import drill
from sitting import new_record, sit

Mount = Callable[..., Path]


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Mount]:
    """A small disk in memory, made or changed by its options; only root may, so that others see this skipped."""
    place = tmp_path / "disk"
    place.mkdir()

    def mount(wishes: str) -> Path:
        told = subprocess.run(["mount", "-t", "tmpfs", "-o", wishes, "tmpfs", place], capture_output=True, check=False)
        if told.returncode:
            pytest.skip("no rights to mount a small disk on this machine")
        return place

    yield mount
    subprocess.run(["umount", place], capture_output=True, check=False)


def four_parts(said: list[str]) -> bool:
    return len(said) == 4 and all(said)


def test_a_disk_that_fills_up(disk: Mount, tables: None) -> None:  # noqa: ARG001
    place = disk("size=3m")
    home = new_record(place / "home")
    told = drill(home, "", "until_it_fails", 5000)
    assert four_parts(told["said"]), told
    assert told["said"][1] in ("a full disk", "a disk that does not take what is written")
    assert "Nothing of this was recorded" in told["said"][3]
    assert 10 < told["taken"] == told["there"]  # as many as were acknowledged
    disk("remount,size=40m")
    after, check = drill(home, "", "one_more"), sit(home, "check --json")[0]
    assert after["said"] == []
    assert check.json()["wrong"] == []


def test_a_file_that_the_disk_does_not_hold(disk: Mount, tables: None) -> None:  # noqa: ARG001
    home = new_record(disk("size=3m") / "home")
    told = drill(home, "", "a_large_file", 4_000_000)
    assert told["said"][1].startswith("a full disk")
    assert told["left"] == []
    assert sit(home, "check --json")[0].json()["wrong"] == []


def test_a_backup_that_the_disk_does_not_hold(disk: Mount, home: Path) -> None:
    place = disk("size=200k")
    (said,) = sit(home, f"backup {place}/copy")
    assert said.code == 2
    assert "full" in said.err or "does not take" in said.err
    assert "Traceback" not in said.err
    assert list(place.iterdir()) == []


def test_a_disk_that_may_only_be_read(disk: Mount, tables: None) -> None:  # noqa: ARG001
    place = disk("size=9m")
    home = new_record(place / "home")
    drill(home, "", "lived_in")
    disk("remount,ro")
    told = drill(home, "", "one_more")
    assert four_parts(told["said"]), told
    assert "cannot be written" in told["said"][1]
    for said in sit(home, "init", "person add x --role reader --password-stdin"):
        assert said.code == 2
        assert "Traceback" not in said.err
    disk("remount,rw")
    assert drill(home, "", "one_more")["said"] == []
    assert sit(home, "check --json")[0].json()["wrong"] == []


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_without_rights(home: Path) -> None:
    home.chmod(0o500)
    (home / "record.sqlite3").chmod(0o400)
    assert four_parts(drill(home, "", "one_more")["said"])
    home.chmod(0o700)


def test_a_damaged_file(home: Path) -> None:
    """Bytes changed by a failing disk: SQLite's own check finds them, or the journal does."""
    drill(home, "", "lived_in")
    data = bytearray((home / "record.sqlite3").read_bytes())
    shutil.copy(home / "record.sqlite3", home / "kept")
    for at in range(8192, len(data), 4096):
        data[at : at + 64] = b"\xff" * 64
    (home / "record.sqlite3").write_bytes(data)
    (said,) = sit(home, "check")
    assert said.code in (2, 3)
    assert "Traceback" not in said.err
    (home / "record.sqlite3").write_bytes(b"this is no database at all, but a letter" * 200)
    (said,) = sit(home, "check")
    assert said.code == 2
    assert "no database" in said.err
    shutil.copy(home / "kept", home / "record.sqlite3")
    assert sit(home, "check")[0].code == 0
