"""Photographs: orientation, bytes, location, outlines, marks; the picture library (Pillow) makes the files."""

from __future__ import annotations

import contextlib
import hashlib
import io
import json
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kilter.cli.main import run
from kilter.importers.photograph import pixels, plain_copy, read_photograph
from kilter.measure.errors import BadInput
from kilter.services.mark_photograph import look_readings, mark_photograph
from kilter.thermal.outlines import Outline

Image = pytest.importorskip("PIL.Image", reason="Pillow, extra 'vision', reads photographs")

BOARD = """kilter = 1
board = "photographed"
[parts.C1]
kind = "electrolytic"
pins = { plus = "vcc", minus = "0" }
[parts.R1]
kind = "resistor"
pins = { 1 = "vcc", 2 = "out" }
[points.out]
net = "out"
[points.vcc]
net = "vcc"
"""
OUTLINES = """kilter_outlines = 1
unit = "mm"
[outlines.C1]
box = [10, 10, 20, 20]
[outlines.R1]
box = [21, 12, 30, 15]
"""
SQUARE = {
    "C1": Outline("C1", ((10.0, 10.0), (20, 10), (20, 20), (10, 20))),
    "R1": Outline("R1", ((21.0, 12.0), (30, 12), (30, 15), (21, 15))),
}


def picture(path: Path, orientation: int = 1) -> Path:
    """A picture with a red corner at the top left of what the sensor saw, and a location in it."""
    numbers = np.full((120, 200, 3), 90, np.uint8)
    numbers[:30, :50] = (250, 10, 10)
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x010F] = "some maker"
    exif.get_ifd(0x8825)[1] = "N"
    exif.get_ifd(0x8825)[2] = (52.0, 30.0, 0.0)
    Image.fromarray(numbers).save(path, exif=exif, quality=95)
    return path


# Exif 2.3, orientation: 3 is turned half round, 6 wants a quarter turn clockwise, 8 one anticlockwise (from memory)
TURNS = [
    (1, (200, 120), "top left"),
    (3, (200, 120), "bottom right"),
    (6, (120, 200), "top right"),
    (8, (120, 200), "bottom left"),
]


@pytest.mark.parametrize(("orientation", "size", "red"), TURNS)
def test_orientation_is_heeded(tmp_path: Path, orientation: int, size: tuple[int, int], red: str) -> None:
    photo = read_photograph(picture(tmp_path / "a.jpg", orientation))
    assert (photo.width, photo.height) == size
    seen = pixels(photo)
    assert seen.shape[:2] == size[::-1]
    row = slice(0, 20) if "top" in red else slice(-20, None)
    column = slice(0, 20) if "left" in red else slice(-20, None)
    assert seen[row, column, 0].mean() > 200
    assert (seen[..., 0] > 200).mean() < 0.1


def test_bytes_are_kept_and_copies_carry_no_place(tmp_path: Path) -> None:
    path = picture(tmp_path / "a.jpg")
    before = path.read_bytes()
    photo = read_photograph(path)
    assert photo.has_place
    copy = plain_copy(photo)
    assert path.read_bytes() == photo.raw == before
    assert photo.sha256 == hashlib.sha256(before).hexdigest()
    assert b"some maker" in before
    assert b"some maker" not in copy
    again = Image.open(io.BytesIO(copy))
    assert len(again.getexif()) == 0
    assert again.info == {}


def test_marks_find_their_parts() -> None:
    marked = mark_photograph([("C1", "Bulged"), ((12.0, 12.0), "burnt"), ((28.0, 14.0), "clean")], SQUARE, 0.4)
    told = [(one.part, one.sign, one.others) for one in marked]
    assert told == [("C1", "bulged", ()), ("C1", "burnt", ()), ("R1", "clean", ())]


def test_mark_between_two_parts_is_doubtful() -> None:
    one = mark_photograph([((20.3, 13.0), "corroded")], SQUARE, 0.6)[0]
    assert {one.part, *one.others} == {"C1", "R1"}
    assert look_readings([one], "off", "a.jpg", "00")[0].doubtful


@pytest.mark.parametrize("mark", [("C1", "tired"), ("C9", "burnt"), ((90.0, 90.0), "burnt")])
def test_marks_that_cannot_be_used(mark: tuple[str, str]) -> None:
    with pytest.raises(BadInput) as told:
        mark_photograph([mark], SQUARE, 0.5)
    assert told.value.allowed


def files(tmp_path: Path) -> list[str]:
    """A board, its outlines in millimetres, a photograph, and four matched points one of which is a pixel off."""
    (tmp_path / "board.toml").write_text(BOARD, "utf-8")
    (tmp_path / "outlines.toml").write_text(OUTLINES, "utf-8")
    picture(tmp_path / "a.jpg")
    words = ["photo", str(tmp_path / "board.toml"), "--photo", str(tmp_path / "a.jpg")]
    words += ["--outlines", str(tmp_path / "outlines.toml"), "--match", "C1=80,71"]
    for x, y in ((0, 0), (40, 0), (0, 25)):
        words += ["--match", f"{x},{y}={20 + 4 * x},{10 + 4 * y}"]
    return words


def test_marks_move_the_diagnosis(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """From photograph to suspects: a bulged electrolytic comes first (common practice, no source)."""
    assert run([*files(tmp_path), "--mark", "85,75=bulged", "--write", str(tmp_path / "r.csv"), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["marks"][0]["part"] == "C1"
    assert 0 < told["error"] < 2
    (tmp_path / "clean.csv").write_text("point,quantity,value,state\nC1,look,clean,off\n", "utf-8")
    chances = []
    for name in ("r.csv", "clean.csv"):
        run(["diagnose", str(tmp_path / "board.toml"), "--readings", str(tmp_path / name), "--json"])
        chances.append({s["part"]: s["probability"] for s in json.loads(capsys.readouterr().out)["suspects"]})
    assert max(chances[0], key=lambda part: chances[0][part]) == "C1"
    assert chances[0]["C1"] > chances[1].get("C1", 0.0)


def test_text_and_picture(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    pytest.importorskip("matplotlib")
    assert run([*files(tmp_path), "--mark", "C1=bulged", "--plot", str(tmp_path / "p")]) == 0
    assert "not marked is not the same as clean" in " ".join(capsys.readouterr().out.split())
    for name in ("photo.svg", "photo.png"):
        assert b"some maker" not in (tmp_path / "p" / name).read_bytes()


def test_no_readings_file_is_overwritten(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "r.csv").write_text("mine", "utf-8")
    assert run([*files(tmp_path), "--mark", "C1=bulged", "--write", str(tmp_path / "r.csv")]) == 2
    assert (tmp_path / "r.csv").read_text("utf-8") == "mine"
    assert "Allowed:" in capsys.readouterr().err


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(st.floats(0, 1), st.integers(0, 255)), max_size=20), st.floats(0, 1))
def test_spoilt_files(tmp_path: Path, changes: list[tuple[float, int]], kept: float) -> None:
    """Spoilt bytes give a photograph or an error in four parts, and nothing else."""
    raw = bytearray(picture(tmp_path / "a.jpg").read_bytes())
    for place, byte in changes:
        raw[int(place**3 * (len(raw) - 1))] = byte
    (tmp_path / "b.jpg").write_bytes(bytes(raw[: max(1, int((1 - kept**6) * len(raw)))]))
    with contextlib.suppress(BadInput):
        assert read_photograph(tmp_path / "b.jpg").width > 0


def test_picture_of_absurd_size_is_refused(tmp_path: Path) -> None:
    """60,000 pixels square in a few bytes."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", 60_000, 60_000, 8, 2, 0, 0, 0)
    body = chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0" * 10_000)) + chunk(b"IEND", b"")
    (tmp_path / "a.png").write_bytes(b"\x89PNG\r\n\x1a\n" + body)
    with pytest.raises(BadInput):
        read_photograph(tmp_path / "a.png")
