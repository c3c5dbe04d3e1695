"""
Thermal pictures, meter logs and captures that lie about what they are, are too large, or have names of elsewhere.

What a browser does with a type that lies is the WHATWG's MIME Sniffing standard; signatures are those of the formats'
own standards (TIFF 6.0, ISO/IEC 15948, the NumPy format of its reference manual).
"""

from __future__ import annotations

import io
import struct
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from web_world import PNG, World, temperatures, warm_up, written

from kilter.measure.tables import table
from kilter.store.models import Filing
from kilter.store.place import place

SCRIPT = b"<script>alert(1)</script>"
NAMES = ("../../../etc/passwd", "..\\..\\boot.ini", "x.png\r\nSet-Cookie: a=b", 'x";filename=".html', "<b>.csv",
         "файл.csv", ". . .csv", "%2e%2e%2fx", "x.svg", "brought.csv", "a.b/../../c.csv", "x." + "y" * 150)  # fmt: skip


def array(values: Any) -> bytes:
    held = io.BytesIO()
    np.save(held, values)
    return held.getvalue()


def tiff(wide: int, high: int) -> bytes:
    """One strip of 16-bit numbers, little-endian, as TIFF 6.0 has it."""
    tags = ((256, 3, 1, wide), (257, 3, 1, high), (258, 3, 1, 16), (259, 3, 1, 1), (262, 3, 1, 1), (273, 4, 1, 8),
            (277, 3, 1, 1), (278, 3, 1, high), (279, 4, 1, 2 * wide * high))  # fmt: skip
    pixels = np.full(wide * high, 29815, "<u2").tobytes()
    rows = b"".join(struct.pack("<HHII", *one) for one in tags)
    return b"II*\0" + struct.pack("<I", 8 + len(pixels)) + pixels + struct.pack("<H", len(tags)) + rows + bytes(4)


STEPS = "second,Volt\n" + "".join(f"{step / 1000},{5 * (step // 10 % 2)}\n" for step in range(200))
KINDS = {
    "thermal picture": (temperatures(), array(np.full((60, 80), 22.0)), tiff(64, 60)),
    "meter log": (warm_up(), b"Time;V\n12:00:00;4,98\n12:00:01;4,99\n12:00:02;5,00\n"),
    "capture": (STEPS.encode(), array(np.arange(500.0)), b"RIFF\x24\0\0\0WAVEfmt " + bytes(40)),
    "photograph": (PNG, b"\xff\xd8\xff\xe0" + bytes(50), b"GIF89a" + bytes(20), b"II*\0" + bytes(60)),
    "readings": (b"point,quantity,value\nA,voltage,10 V\n",),
    "document": (b"%PDF-1.7\n", SCRIPT, b"<svg onload='x()'></svg>", bytes(range(256)), b"dear colleague,\n",
                 b"PK\x03\x04rest"),
}


def brought(world: World, name: str, content: bytes, kind: str = "") -> Any:
    told = {"kind": kind, "files": [SimpleUploadedFile(name, content)]}
    return world.client().post(world.path("bring_to_visit"), told)


def last() -> Filing:
    return Filing.objects.order_by("-pk")[0]


@pytest.mark.parametrize(("kind", "content"), [(kind, one) for kind, all_ in KINDS.items() for one in all_])
def test_told_by_bytes_whatever_the_name(world: World, kind: str, content: bytes) -> None:
    for name in ("x.csv", "x.jpg", "x"):
        assert brought(world, name, content).status_code == 302
        assert last().kind == kind


@pytest.mark.parametrize("kind", ["thermal picture", "meter log", "capture"])
@pytest.mark.parametrize("content", [
    SCRIPT, PNG + SCRIPT, bytes(3000), b"II*\0" + b"\xff" * 3000, b"\x93NUMPY\x01\0\x10\0{'descr': '|O'}",
    b"PK\x03\x04" + bytes(100), b"1;2\n" * 5, b"\xff" * 500, tiff(64, 60)[:-40], array(np.full((60, 80), np.nan)),
], ids=range(10))  # fmt: skip
def test_a_chosen_kind_that_the_file_is_not(world: World, kind: str, content: bytes) -> None:
    """The page says so in four parts, nothing of the file is run or shown, and no reading comes of it."""
    assert brought(world, "x.html", content, kind).status_code == 302
    address = {"thermal picture": "thermal", "meter log": "log", "capture": "capture"}[kind]
    answer = world.client().get(f"/file/{last().pk}/{address}/")
    assert answer.status_code == 200
    text = answer.body.decode()
    assert "<script>alert" not in text
    assert "/tmp" not in text
    if "Allowed" in text:
        before = written()
        told = {"act": "put", "part": "R1", "point": "A", "at-0": "A", "state": "bench"}
        assert world.client().post(f"/file/{last().pk}/{address}/", told).status_code == 400
        assert written() == before
    shown = world.client().get(f"/file/{last().pk}/")["Content-Disposition"].startswith("attachment")
    assert shown or content[:4] == PNG[:4]


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize(("content", "address"), [(temperatures(), "thermal"), (warm_up(), "log")], ids=["heat", "log"])
def test_names_that_lead_elsewhere(world: World, name: str, content: bytes, address: str) -> None:
    """A name is only ever shown, and there it is text."""

    def there() -> set[Path]:
        return {one for one in place().home.rglob("*") if one.is_file()}

    before = there()
    told = brought(world, name, content + b"\n" + name.encode())
    assert told.status_code in (302, 400)
    if told.status_code == 302:
        text = world.client().get(f"/file/{last().pk}/{address}/").body.decode()
        assert "<b>.csv" not in text
        assert "Set-Cookie" not in world.client().get(f"/file/{last().pk}/{address}/").headers
    assert all(one.is_relative_to(place().files) or one.is_relative_to(place().boards) for one in there() - before)


def test_too_large(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(table("web")["upload"], "most_bytes", 1000)
    before = written()
    for content in (temperatures(), warm_up()):
        assert brought(world, "x.csv", content).status_code == 400
    assert written() == before


def test_a_picture_of_too_many_pixels(world: World) -> None:
    """More than any camera has (data/thermal.toml): refused before anything is drawn."""
    header = b"{'descr': '<f8', 'fortran_order': False, 'shape': (60000, 60000), }".ljust(117) + b"\n"
    content = b"\x93NUMPY\x01\0" + struct.pack("<H", 118) + header + bytes(800)
    assert brought(world, "x.npy", content).status_code == 302
    assert last().kind == "thermal picture"
    text = world.client().get(f"/file/{last().pk}/thermal/").body.decode()
    assert "Allowed" in text
    assert world.client().get(f"/file/{last().pk}/heat.png").status_code == 404


def test_marks_of_a_hostile_file(world: World) -> None:
    """What people said of a picture is kept by the program alone; nobody brings such a file."""
    before = written()
    name = f"thermal-{world.thermal.attachment.sha256[:40]}.json"
    assert brought(world, name, b"{}", "photograph places").status_code == 400
    assert written() == before
