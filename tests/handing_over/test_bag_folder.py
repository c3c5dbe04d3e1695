"""The bag, checked by the reference implementation of BagIt and by sha256sum."""

from __future__ import annotations

import dataclasses
import os
import shutil
import subprocess
import zipfile
from pathlib import Path

import bagit
import pytest
from dossiers import HOSTILE, file_of, full, hostile

from kilter.exporters.bag import write_bag, zip_bag
from kilter.measure.errors import BadInput
from kilter.records.dossier import Dossier, ObjectFields

FILES = {"README.txt", "dossier.json", "dossier.schema.json", "report.html", "report.pdf", "lido.xml", "readings.csv",
         "journal.jsonl"}  # fmt: skip


@pytest.fixture
def whole(tmp_path: Path) -> Path:
    (tmp_path / "files").mkdir()
    assert write_bag(full(tmp_path / "files"), tmp_path / "bag") == ()
    return tmp_path / "bag"


def test_the_reference_implementation_accepts_it(whole: Path) -> None:
    bag = bagit.Bag(str(whole))
    bag.validate()
    assert bag.info["External-Identifier"] == "HC 0417"
    assert bag.info["Source-Organization"] == "Halden Cross Museum"
    assert {Path(name).name for name in bag.payload_files()} == FILES | {"vorn.jpg", "danach.jpg", "letter.txt"}


@pytest.mark.skipif(shutil.which("sha256sum") is None, reason="sha256sum is not on this machine")
def test_the_readme_s_command_works(whole: Path) -> None:
    command = ["sha256sum", "--check", "--strict", "--quiet", "manifest-sha256.txt"]
    assert subprocess.run(command, cwd=whole, check=False).returncode == 0


@pytest.mark.parametrize("name", ["data/readings.csv", "data/attachments/vorn.jpg", "bag-info.txt"])
def test_alterations_are_found(whole: Path, name: str) -> None:
    with (whole / name).open("ab") as file:
        file.write(b"x")
    with pytest.raises(bagit.BagValidationError):
        bagit.Bag(str(whole)).validate()


def test_readme_names_every_file(whole: Path) -> None:
    told = (whole / "data" / "README.txt").read_text("utf-8")
    for path in (whole / "data").rglob("*"):
        assert path.is_dir() or path.name == "README.txt" or path.name in told, path
    assert "letter.txt" in told


def test_nothing_is_overwritten_and_no_half_bag_is_left(whole: Path, tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="there already"):
        write_bag(Dossier(ObjectFields("A 1")), whole, pdf=False)
    with pytest.raises(BadInput):
        write_bag(Dossier(ObjectFields("A 1")), tmp_path / "no folder" / "bag", pdf=False)
    assert sorted(os.listdir(tmp_path)) == ["bag", "files"]


@pytest.mark.parametrize("name", ["../../up.txt", "/etc/passwd", "C:\\up.txt", "a/b.txt", ".", "..", "", "CON",
                                  "a\nb\r%0A.txt", HOSTILE, "x" * 500 + ".txt", "漢字.txt"])  # fmt: skip
def test_names_of_files_are_made_harmless(tmp_path: Path, name: str) -> None:
    (tmp_path / "files").mkdir()
    dossier = Dossier(ObjectFields("A 1"), attachments=(file_of(tmp_path / "files", name, "document", b"words"),))
    assert write_bag(dossier, tmp_path / "bag", pdf=False) == ()
    bagit.Bag(str(tmp_path / "bag")).validate()
    (kept,) = (tmp_path / "bag" / "data" / "attachments").iterdir()
    assert kept.read_bytes() == b"words"
    assert kept.name.isascii()
    assert len(kept.name) <= 100
    assert sorted(os.listdir(tmp_path)) == ["bag", "files"]


def test_files_of_one_name_stay_apart_and_one_file_filed_twice_is_there_once(tmp_path: Path) -> None:
    (tmp_path / "files").mkdir()
    one = file_of(tmp_path / "files", "A.txt", "document", b"1")
    other = file_of(tmp_path / "files", "a.txt", "document", b"2")
    dossier = Dossier(ObjectFields("A 1"), attachments=(one, other, dataclasses.replace(one, name="again.txt")))
    write_bag(dossier, tmp_path / "bag", pdf=False)
    kept = {path.name: path.read_bytes() for path in (tmp_path / "bag" / "data" / "attachments").iterdir()}
    assert kept == {"A.txt": b"1", "a-2.txt": b"2"}


def test_what_is_missing_is_told(tmp_path: Path) -> None:
    gone = dataclasses.replace(file_of(tmp_path, "a.txt", "document", b"1"), path=tmp_path / "gone")
    missing = write_bag(Dossier(ObjectFields("A 1"), attachments=(gone,)), tmp_path / "bag", pdf=False)
    assert missing == ("a.txt: No such file or directory where it should be",)
    assert missing[0] in (tmp_path / "bag" / "data" / "README.txt").read_text("utf-8")


def test_hostile_words_make_a_bag_all_the_same(tmp_path: Path) -> None:
    (tmp_path / "files").mkdir()
    write_bag(hostile(tmp_path / "files"), tmp_path / "bag")
    bagit.Bag(str(tmp_path / "bag")).validate()


def test_one_file_of_it(tmp_path: Path) -> None:
    (tmp_path / "files").mkdir()
    dossier = full(tmp_path / "files")
    zip_bag(dossier, tmp_path / "one.zip")
    zip_bag(dossier, tmp_path / "two.zip")
    assert (tmp_path / "one.zip").read_bytes() == (tmp_path / "two.zip").read_bytes()
    with zipfile.ZipFile(tmp_path / "one.zip") as packed:
        packed.extractall(tmp_path / "out")
    bagit.Bag(str(tmp_path / "out" / "HC-0417")).validate()
    with pytest.raises(BadInput):
        zip_bag(dossier, tmp_path / "one.zip")
