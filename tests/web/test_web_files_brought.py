"""
Files that lie about what they are, and names that lead elsewhere: kept as they came, shown only where nothing can run.

What a browser does with a type that lies is the WHATWG's MIME Sniffing standard (X-Content-Type-Options: nosniff), and
with a file to be saved RFC 6266; signatures of the pictures are those of their own standards.
"""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from web_world import LADDER, PNG, World, written

from kilter.measure.tables import table
from kilter.store.models import Attachment, Filing
from kilter.store.place import place

SVG = b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>"
HTML = b"<!doctype html><html><script>alert(1)</script></html>"
LIES = {
    "picture.png": SVG, "photo.jpg": HTML, "picture.svg": SVG, "page.html": HTML, "shot.png": b"\xef\xbb\xbf" + HTML,
    "other.gif": b"\n\n" + HTML, "wide.webp": HTML.decode().encode("utf-16"), "old.png": b"<?xml version='1.0'?>" + SVG,
    "page.pdf": b"%PDF-1.7\n" + HTML, "style.css": b"body{}", "run.js": b"alert(1)", "x.xhtml": HTML,
}  # fmt: skip
NAMES = ("../../../etc/passwd", "..\\..\\boot.ini", "/etc/cron.d/x", "C:\\x.png", "a/../../b.png", "....//x.png",
         ".htaccess", "con.png", "x.png\r\nSet-Cookie: a=b", 'x";filename=".html', "файл.png", "a" * 300 + ".png",
         ". . .png", "%2e%2e%2fx")  # fmt: skip
MOST = int(table("web")["upload"]["most_bytes"])


def brought(world: World, *files: tuple[str, bytes], **more: Any) -> Any:
    told = {"kind": "photograph", "files": [SimpleUploadedFile(name, content) for name, content in files], **more}
    return world.client().post(world.path("bring"), told)


def last() -> Filing:
    return Filing.objects.order_by("-pk")[0]


def within_home() -> set[Path]:
    return {one for one in place().home.rglob("*") if one.is_file()}


@pytest.mark.parametrize("name", LIES)
def test_types_that_lie(world: World, name: str) -> None:
    assert brought(world, (name, LIES[name])).status_code == 302
    for address in (f"/file/{last().pk}/", f"/file/{last().pk}/?download"):
        told = world.client().get(address)
        assert told["Content-Type"] == "application/octet-stream"
        assert told["Content-Disposition"].startswith("attachment")
        assert told["X-Content-Type-Options"] == "nosniff"
        assert "sandbox" in told["Content-Security-Policy"]
        assert told.body == LIES[name]
    page = world.client().get(world.path("object")).body.decode()
    assert f'<img src="/file/{last().pk}/"' not in page


def test_a_picture_with_a_program_behind_it(world: World) -> None:
    """It begins as a picture, so it is shown as one, and a browser told not to guess runs nothing of it."""
    assert brought(world, ("x.html", PNG + HTML)).status_code == 302
    told = world.client().get(f"/file/{last().pk}/")
    assert told["Content-Type"] == "image/png"
    assert told["X-Content-Type-Options"] == "nosniff"
    assert "sandbox" in told["Content-Security-Policy"]


@pytest.mark.parametrize("name", NAMES)
def test_names_that_lead_elsewhere(world: World, name: str) -> None:
    """Content is kept by its digest; a name is only ever shown."""
    before, content = within_home(), name.encode() + PNG
    told = brought(world, (name, PNG + content))
    assert told.status_code in (302, 400)
    if told.status_code == 302:
        digest = hashlib.sha256(PNG + content).hexdigest()
        assert within_home() - before == {place().files / digest[:2] / digest}
        fetched = world.client().get(f"/file/{last().pk}/?download")
        assert fetched.status_code == 200
        assert "\n" not in fetched["Content-Disposition"]
        assert "Set-Cookie" not in fetched.headers
        assert "/" not in last().name
        assert "\\" not in last().name


@pytest.mark.parametrize("name", NAMES)
def test_names_in_a_board(world: World, name: str) -> None:
    before = within_home()
    files = [SimpleUploadedFile("ladder.toml", (LADDER / "ladder.toml").read_bytes() + b"\n# again"),
             SimpleUploadedFile("ladder.cir", (LADDER / "ladder.cir").read_bytes()),
             SimpleUploadedFile(name, b"something")]  # fmt: skip
    told = world.client().post(world.path("keep_board"), {"key": "ladder-7", "main": "ladder.toml", "files": files})
    assert told.status_code in (302, 400)
    assert world.client().get("/boards/ladder-7/").status_code == (200 if told.status_code == 302 else 404)
    assert all(one.is_relative_to(place().files) or one.is_relative_to(place().boards)
               for one in within_home() - before)  # fmt: skip
    for main in ("../ladder.toml", "/etc/passwd", "none.toml"):
        told = world.client().post(world.path("keep_board"), {"key": "ladder-8", "main": main, "files": files[:2]})
        assert told.status_code == 400


@pytest.mark.parametrize("key", ["../x", "a/b", "a b", "", "x" * 61, "ladder\n", "<b>", "new", "ключ", "a.b"])
def test_keys_of_boards(world: World, key: str) -> None:
    files = [SimpleUploadedFile(name, (LADDER / name).read_bytes()) for name in ("ladder.toml", "ladder.cir")]
    told = world.client().post(world.path("keep_board"), {"key": key, "main": "ladder.toml", "files": files})
    if told.status_code == 302:
        page = world.client().get(told["Location"])
        assert page.resolver_match.url_name == "board", "a board that no address leads to"
    else:
        assert told.status_code == 400


def test_nothing_of_several_files_where_one_cannot_be_kept(world: World) -> None:
    before, filings = written(), Filing.objects.count()
    told = brought(world, ("good.png", PNG), ("empty.png", b""), caption="what was typed")
    assert told.status_code == 400
    assert "0 bytes in &#x27;empty.png&#x27;" in told.body.decode()
    assert (written(), Filing.objects.count()) == (before, filings)
    assert brought(world).status_code == 400
    for kind in ("no such kind", "photograph places"):  # the second is written by the program alone
        assert brought(world, ("good.png", PNG), kind=kind).status_code == 400
    assert written() == before


def test_too_large(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(table("web")["upload"], "most_bytes", 1000)
    before = written()
    told = brought(world, ("good.png", PNG), ("large.png", PNG + bytes(1000)))
    assert told.status_code == 400
    assert "1,000 bytes" in told.body.decode()
    files = {"files": [SimpleUploadedFile("ladder.toml", bytes(1001))]}
    assert world.client().post(world.path("keep_board"), {"key": "ladder-6", **files}).status_code == 400
    assert written() == before
    assert MOST > 10**6


def test_more_files_than_a_form_may_hold(world: World) -> None:
    before = written()
    told = brought(world, *((f"{one}.png", PNG + bytes([one])) for one in range(101)))
    assert told.status_code == 400
    assert "Traceback" not in told.body.decode()
    assert all(part in told.body.decode() for part in ("Found", "Allowed", "Next"))
    told = world.client().post(world.path("say"), {f"field-{one}": "x" for one in range(401)})
    assert told.status_code == 400
    assert written() == before


def test_the_same_content_is_kept_once(world: World) -> None:
    before = Attachment.objects.count()
    assert brought(world, ("a.png", PNG + b"twice"), ("b.png", PNG + b"twice")).status_code == 302
    assert Attachment.objects.count() == before + 1
    assert [one.name for one in Filing.objects.order_by("-pk")[:2]] == ["b.png", "a.png"]


def test_a_file_that_is_gone_from_the_disk(world: World) -> None:
    assert brought(world, ("a.png", PNG + b"gone")).status_code == 302
    digest = last().attachment.sha256
    (place().files / digest[:2] / digest).unlink()
    assert world.client().get(f"/file/{last().pk}/").status_code == 404
