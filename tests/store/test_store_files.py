"""Files are kept once, by the SHA-256 of their content (FIPS 180-4: the standard's own example 'abc')."""

from __future__ import annotations

import stat
from io import BytesIO
from pathlib import Path

import pytest
from record_scene import Scene, last_entry

from kilter.measure.errors import BadInput
from kilter.store.files import FileStore
from kilter.store.models import Attachment
from kilter.store.verbs.files import attach, file_store

ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_the_standards_example(tmp_path: Path) -> None:
    store = FileStore(tmp_path / "files")
    assert store.keep(BytesIO(b"abc")) == (ABC, 3)
    path = store.path(ABC)
    assert path == tmp_path / "files" / "ba" / ABC
    assert stat.S_IMODE(path.stat().st_mode) == 0o444
    first = path.stat().st_mtime_ns
    store.keep(BytesIO(b"abc"))
    assert path.stat().st_mtime_ns == first
    with store.open(ABC) as file:
        assert file.read() == b"abc"
    assert [one.name for one in (tmp_path / "files").iterdir()] == ["ba"]


@pytest.mark.parametrize("content", [b"", b"x" * 11])
def test_empty_and_too_large(tmp_path: Path, content: bytes) -> None:
    store = FileStore(tmp_path)
    with pytest.raises(BadInput):
        store.keep(BytesIO(content), most=10)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", ["../../etc/passwd", "ab", ABC.upper(), ABC + "0", "x" * 64, ""])
def test_a_path_comes_from_a_digest_alone(tmp_path: Path, name: str) -> None:
    with pytest.raises(BadInput, match="64 hexadecimal digits"):
        FileStore(tmp_path).path(name)


def test_what_breaks_off_leaves_nothing(tmp_path: Path) -> None:
    class Cut(BytesIO):
        def read(self, _: int | None = -1) -> bytes:
            raise OSError(5, "cut off")

    with pytest.raises(OSError, match="cut off"):
        FileStore(tmp_path).keep(Cut())
    assert list(tmp_path.iterdir()) == []


def test_the_same_content_twice(record: Scene) -> None:
    one = record.an_object()
    first, second = record.a_file(one, b"abc", "front.png"), record.a_file(one, b"abc", "../../back.png")
    assert first.attachment == second.attachment
    assert Attachment.objects.get().sha256 == ABC
    assert second.name == "../../back.png"  # as it was called; no path was made of it
    assert last_entry().evidence == ABC


def test_a_file_belongs_somewhere(record: Scene) -> None:
    visit = record.a_visit()
    entry = record.an_entry(visit)
    who = record.who("recorder")
    filing = attach(who, BytesIO(b"x"), "", "capture", "text/csv", entry=entry)
    assert (filing.visit, filing.object) == (visit, visit.object)
    assert filing.name == filing.attachment.sha256[:12]
    with pytest.raises(BadInput, match="belongs nowhere"):
        attach(who, BytesIO(b"x"), "x", "capture", "text/csv")
    with pytest.raises(BadInput, match="another object"):
        attach(who, BytesIO(b"x"), "x", "capture", "text/csv", about=record.an_object("HC 0418"), visit=visit)
    with pytest.raises(BadInput, match="'selfie' as kind"):
        attach(who, BytesIO(b"x"), "x", "selfie", "image/png", visit=visit)


def test_a_lost_content_is_told(record: Scene) -> None:
    filing = record.a_file(record.an_object())
    file_store().path(filing.attachment.sha256).unlink()
    with pytest.raises(BadInput, match="Restore it from a backup"):
        file_store().open(filing.attachment.sha256)
