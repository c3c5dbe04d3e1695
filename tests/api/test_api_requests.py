"""
What is taken and what is not: bodies, types, sizes, numbers and signs; and what the record refuses.

Statuses are those of RFC 9110 (413: 15.5.14, 415: 15.5.16, 503: 15.6.4); JSON is RFC 8259, which knows no NaN, wants
UTF-8 (section 8.1) and leaves a name that stands twice to the reader (section 4): here it is refused.
"""

from __future__ import annotations

import hashlib
from io import BytesIO
from typing import Any

import pytest
from api_scene import BYTES, FILES, JSON, Scene
from django.core.handlers.wsgi import WSGIRequest
from django.db import OperationalError
from django.http import HttpResponse

from kilter.measure.tables import table
from kilter.records.journal import JournalEntry
from kilter.services.journal_chain import broken
from kilter.store.journal import head
from kilter.web.api.dispatch import api
from kilter.wiring.power_gate import checks_wanted

BODY = b'{"kind": "note", "text": "%s"}'
ODD_BODIES = {
    "empty": b"", "no JSON": b"{", "a list": b"[]", "a text": b'"note"', "null": b"null", "no UTF-8": BODY % b"\xff",
    "UTF-16": (BODY % b"x").decode().encode("utf-16"), "a byte order mark": b"\xef\xbb\xbf" + BODY % b"x",
    "twice": b'{"kind": "note", "kind": "note", "text": "x"}',
    "not described": b'{"kind": "note", "text": "x", "y": 1}',
    "missing": b'{"kind": "note"}', "NUL": BODY % b"a\\u0000b", "escape": BODY % b"a\\u001bb",
    "bare control": BODY % b"a\x07b", "half a pair": BODY % b"\\ud800", "blank": BODY % b" \\n ",
    "long": BODY % (b"x" * 20_001), "number for text": b'{"kind": "note", "text": 1}',
    "other word": b'{"kind": "poem", "text": "x"}',
    "true for a number": b'{"kind": "note", "text": "x", "reliability": true}',
    "text for a number": b'{"kind": "note", "text": "x", "reliability": "0.5"}',
    "too large a share": b'{"kind": "note", "text": "x", "reliability": 1.5}',
    "NaN": b'{"kind": "note", "text": "x", "reliability": NaN}',
    "infinite": b'{"kind": "note", "text": "x", "reliability": 1e999}',
    "beyond 64 bits": b'{"kind": "note", "text": "x", "visit": 9223372036854775808}',
    "far beyond": b'{"kind": "note", "text": "x", "visit": ' + b"9" * 10_000 + b"}",
    "half a visit": b'{"kind": "note", "text": "x", "visit": 1.5}', "deep": b"[" * 100_000,
    "a NUL in a name": b'{"kind": "note", "text": "x", "\\u0000": 1}',
}  # fmt: skip


@pytest.mark.parametrize("name", ODD_BODIES)
def test_odd_bodies(scene: Scene, name: str) -> None:
    before = head()
    response = scene.ask("recorder", "POST", f"/objects/{scene.about.pk}/statements", raw=ODD_BODIES[name])
    assert response.status_code == 400, response.content
    told = response.json()
    assert set(told) == {"doing", "found", "allowed", "next"}
    assert all(told.values())
    assert response.content.isascii()
    assert head() == before


@pytest.mark.parametrize("kind", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x",
                                  "", "application/json; charset=latin-1", "application/jsonp"])  # fmt: skip
def test_other_media_types(scene: Scene, kind: str) -> None:
    path = f"/objects/{scene.about.pk}/statements"
    assert scene.ask("recorder", "POST", path, raw=BODY % b"x", kind=kind).status_code == 415


def test_charset_utf_8_may_be_named(scene: Scene) -> None:
    path = f"/objects/{scene.about.pk}/statements"
    assert scene.ask("recorder", "POST", path, raw=BODY % b"x", kind=f"{JSON}; charset=UTF-8").status_code == 201


def test_too_large(scene: Scene) -> None:
    most = int(table("web_api")["body"]["most_bytes"])
    path = f"/objects/{scene.about.pk}/statements"
    full = (BODY % b"x").ljust(most)
    assert scene.ask("recorder", "POST", path, raw=full).status_code == 201
    assert scene.ask("recorder", "POST", path, raw=full + b" ").status_code == 413


def test_too_large_a_file_is_not_even_read(scene: Scene) -> None:
    most = int(table("web")["upload"]["most_bytes"])
    path, told = f"/objects/{scene.about.pk}/files?name=a&kind=dump", {"CONTENT_LENGTH": str(most + 1)}
    assert scene.ask("recorder", "POST", path, raw=b"x", kind=BYTES, **told).status_code == 413


def test_a_file_that_breaks_off(scene: Scene) -> None:
    request = WSGIRequest({
        "REQUEST_METHOD": "POST", "PATH_INFO": "/", "QUERY_STRING": "name=a&kind=dump", "CONTENT_TYPE": BYTES,
        "CONTENT_LENGTH": "10", "wsgi.input": BytesIO(b"x"), "HTTP_AUTHORIZATION": f"Bearer {scene.keys['recorder']}",
    })  # fmt: skip
    response = api(request, f"objects/{scene.about.pk}/files")
    assert isinstance(response, HttpResponse)
    assert (response.status_code, b"1 bytes" in response.content) == (400, True)


@pytest.mark.parametrize("query", ["limit=0", "limit=201", "limit=x", "limit=", "limit=1&limit=1", "nothing=1",
                                   "offset=-1", f"offset={10**20}", "words=%00", "words=" + "x" * 201, "state=lost",
                                   "limit=٣", "limit=1.0", "limit=%201"])  # fmt: skip
def test_odd_parameters(scene: Scene, query: str) -> None:
    assert scene.ask("reader", "GET", f"/objects?{query}").status_code == 400


def test_a_list_is_told_piece_by_piece(scene: Scene) -> None:
    first = scene.done("reader", "GET", "/objects", query={"limit": 1})
    second = scene.done("reader", "GET", "/objects", query={"limit": 1, "offset": 1})
    assert [first["total"], second["offset"]] == [2, 1]
    assert [one["number"] for one in first["rows"] + second["rows"]] == ["HC 0417", "HC 0418"]


def test_a_file_comes_back_as_it_was_brought(scene: Scene) -> None:
    content = bytes(range(256)) * 300
    path = f"/objects/{scene.about.pk}/files"
    row = scene.done("recorder", "POST", f"{path}?name=..%2Fa%3bb.html&kind=dump", raw=content, kind=BYTES)
    assert (row["sha256"], row["size"]) == (hashlib.sha256(content).hexdigest(), len(content))
    response = scene.ask("reader", "GET", f"{path}/{row['id']}/content")
    assert response.brought == content
    assert response["Content-Type"] == BYTES
    assert response["Content-Disposition"].startswith("attachment")
    assert response["X-Content-Type-Options"] == "nosniff"


def test_a_board_comes_back_as_it_was_kept(scene: Scene) -> None:
    for name, content in FILES.items():
        response = scene.ask("reader", "GET", "/boards/ladder/editions/1/file", query={"name": name})
        assert response.brought == content


@pytest.mark.parametrize(("main", "names"), [
    ("../x", ["a"]), ("a", ["a", "a"]), ("a", ["a", "a/b"]), ("é" * 200, ["é" * 200]), ("/a/b", ["/a/b"]),
    ("..", [".."]), ("a", ["a", "../b"]),
])  # fmt: skip
def test_boards_with_odd_names(scene: Scene, main: str, names: list[str]) -> None:
    files = [{"name": name, "base64": "eA=="} for name in names]
    response = scene.ask("repairer", "POST", "/boards", {"key": "other", "main": main, "files": files})
    assert response.status_code in (400, 409), response.content


def test_two_at_one_visit(scene: Scene) -> None:
    """Whoever looked before the other one wrote is told so, and nothing is written."""
    path = f"/objects/{scene.about.pk}/visits/1/entries"
    told = {"after": 1, "point": "B", "value": "10k", "quantity": "resistance", "state": "off"}
    assert scene.ask("recorder", "POST", path, told).status_code == 201
    response = scene.ask("repairer", "POST", path, told)
    assert (response.status_code, "entry 2" in response.json()["found"]) == (409, True)


def test_no_reading_with_power_before_the_gate(scene: Scene) -> None:
    """The gate opens when every check passed, and a deed closes it again; the rule is this project's own."""
    visit = f"/objects/{scene.about.pk}/visits/1"
    reading = {"after": 1, "point": "A", "value": "6.6 V", "state": "bench"}
    assert scene.ask("recorder", "POST", f"{visit}/entries", reading).status_code == 409
    assert scene.done("reader", "GET", f"{visit}/bench")["withheld"] is True
    for name in checks_wanted():
        assert scene.ask("repairer", "POST", f"{visit}/power/gate", {"means": "passed", "after": 1}).status_code == 409
        scene.done("recorder", "POST", f"{visit}/power/checks", {"name": name, "outcome": "passed"})
    scene.done("recorder", "POST", f"{visit}/power/checks", {"name": checks_wanted()[0], "outcome": "failed"})
    assert scene.ask("repairer", "POST", f"{visit}/power/gate", {"means": "passed", "after": 1}).status_code == 409
    assert scene.ask("repairer", "POST", f"{visit}/power/gate", {"means": "waived", "after": 1}).status_code == 409
    scene.done("recorder", "POST", f"{visit}/power/checks", {"name": checks_wanted()[0], "outcome": "passed"})
    scene.done("repairer", "POST", f"{visit}/power/gate", {"means": "passed", "after": 1})
    assert scene.done("reader", "GET", f"{visit}/power")["entry"] == 2
    scene.done("recorder", "POST", f"{visit}/entries", {**reading, "after": 2})
    deed = {"after": 3, "point": "R1", "quantity": "done", "value": "renewed"}
    scene.done("recorder", "POST", f"{visit}/entries", deed)
    assert scene.done("reader", "GET", f"{visit}/power")["allows_power"] is False


def test_work_that_cannot_be_undone_waits_for_two_others(scene: Scene) -> None:
    """As `kilter.services.approvals` has it, and 403 says so."""
    path = f"/objects/{scene.about.pk}/repairs"
    work = {"act": "replaced", "grade": 6, "words": "cut out"}
    assert scene.ask("repairer", "POST", path, work).status_code == 403
    safe = {"grade": 6, "words": "cut"}
    assert scene.ask("repairer", "POST", f"/objects/{scene.about.pk}/made-safe", safe).status_code == 201


def test_the_journal_can_be_checked_by_a_program(scene: Scene) -> None:
    """The chain as `kilter.services.journal_chain` has it: every hash follows from the entry and the one before."""
    rows: list[dict[str, Any]] = []
    while piece := scene.done("reader", "GET", "/journal", query={"after": len(rows), "limit": 7})["rows"]:
        rows += piece
    assert broken((JournalEntry(**{k: v for k, v in one.items() if k != "hash"}), one["hash"]) for one in rows) is None
    assert scene.done("reader", "GET", "/journal/head") == {"number": len(rows), "hash": rows[-1]["hash"]}


def test_a_database_that_fails(scene: Scene, monkeypatch: pytest.MonkeyPatch) -> None:
    def locked(*_: object, **__: object) -> None:
        raise OperationalError("database is locked")

    monkeypatch.setattr("kilter.web.api.objects.find_objects", locked)
    response = scene.ask("reader", "GET", "/objects")
    assert (response.status_code, response.json()["found"]) == (503, "another writer that would not finish")


def test_a_fault_of_the_program_tells_nothing(scene: Scene, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken_program(*_: object, **__: object) -> None:
        raise RuntimeError("what nobody should read")

    monkeypatch.setattr("kilter.web.api.objects.find_objects", broken_program)
    response = scene.ask("reader", "GET", "/objects")
    assert response.status_code == 500
    assert b"nobody should read" not in response.content


def test_a_password_is_never_repeated(scene: Scene) -> None:
    told = {"login": "one", "roles": [], "password": "short-one"}
    response = scene.ask("administrator", "POST", "/people", told)
    assert response.status_code == 400
    assert b"short-one" not in response.content
