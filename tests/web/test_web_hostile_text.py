"""
Texts that are programs, planted in every field of every form: they come back as text, on every page.

The payloads are the usual ones of the literature on scripts that are slipped into pages; what a browser would run of a
page is read out by Python's own HTML parser, and of drawings by lxml.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from access_table import TABLE, a_board
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import resolve
from lxml import etree
from page_forms import Field, PageForm, PageReader
from web_world import LADDER, World, written

import kilter.web
from kilter.store.verbs.boards import keep_board
from kilter.store.verbs.objects import edit_object

PAYLOAD = "'\"></textarea></title><planted onclick=a(1)>{{7}}"
"""Ends a value, an area and a title, then makes an element of its own."""
SIGNS = ("a\x07b", "a\0b", "\x1b[31mred", "a\x7fb")
TEMPLATES = sorted((Path(kilter.web.__file__).parent / "templates").rglob("*.html"))
POLICY = ("default-src 'none'", "frame-ancestors 'none'")


def told_forms(world: World) -> Iterator[tuple[str, PageForm]]:
    """Every form of every page, with the name of the address it goes to."""
    seen: set[tuple[str, tuple[str, ...]]] = set()
    for page in world.pages():
        for form in PageReader(world.client().get(page).body.decode()).forms:
            address = form.action or page.partition("?")[0]
            key = (address, tuple(one.name for one in form.fields))
            if form.method == "post" and key not in seen:
                seen.add(key)
                form.action = address
                yield resolve(address).url_name, form


def filled(world: World, name: str, form: PageForm, field: Field, text: str) -> dict[str, Any]:
    """The form as somebody sends it who types `text` into one field, and something that would do into the others."""
    known: dict[str, Any] = {}
    for one in TABLE[name].forms if name in TABLE else ():
        fields = one.fields(world)
        if "act" not in form.sent() or fields.get("act") in (form.sent()["act"], None):
            known = {**fields, **one.files()}
    told = {**form.sent(), **{key: value for key, value in known.items() if key not in form.sent() or value}}
    if name == "repair":
        told |= {"removed": "on", "act": "replaced", "grade": "3"}
    return {**told, field.name: text}


def clean(page: str, where: str) -> PageReader:
    reader = PageReader(page)
    assert not reader.running, f"{where} would run {reader.running}"
    assert not reader.marked, f"{where} holds what was planted: {reader.marked}"
    return reader


def test_programs_in_every_field(world: World) -> None:
    taken, forms = 0, 0
    for name, form in list(told_forms(world)):
        forms += 1
        for field in form.texts():
            answer = world.client().post(form.action, filled(world, name, form, field, PAYLOAD[: field.most]))
            assert answer.status_code in (200, 302, 303, 400, 403, 404), f"{name}: {field.name}"
            taken += answer.status_code in (302, 303)
            if answer.status_code not in (302, 303):
                clean(answer.body.decode(), f"the answer to {name} with {field.name}")
    shown = 0
    for page in world.pages():
        answer = world.client().get(page)
        assert answer.status_code == 200, page
        shown += clean(answer.body.decode(), page).text.count("<planted")
    for name in ("report", "label"):
        reader = PageReader(world.client().get(world.path(name)).body.decode())
        assert reader.running in ([], ["<style>"]), name  # a page to keep carries its look within it
        assert not reader.marked, name
    assert forms > 25
    assert taken > 25, "hardly a form took it, so nothing was tried"
    assert shown > 25, "hardly anything of it is shown, so nothing was tried"


@pytest.mark.parametrize("address", [
    "/?words={0}", "/?state={0}", "/?page={0}", "/door/?next={0}", "{object}repair/?part={0}", "{object}say/?kind={0}",
    "{object}say/?supersedes={0}", "{object}propose/?part={0}&act={0}&grade={0}", "{object}visit/?reason={0}",
    "{object}visit/1/bench/?at={0}", "/object/new/?number={0}&accession={0}", "/people/new/?login={0}&roles={0}",
    "/boards/new/?key={0}", "/{0}/", "/boards/{0}/", "/first/{0}/", "/api/{0}",
])  # fmt: skip
def test_programs_in_addresses(world: World, address: str) -> None:
    from urllib.parse import quote

    told = world.client().get(address.format(quote(PAYLOAD, safe=""), object=world.path("object")))
    assert told.status_code < 500
    if told["Content-Type"].startswith("text/html"):
        clean(told.body.decode(), address)
    else:
        assert told["Content-Type"] == "application/json"


def test_programs_in_a_board(world: World) -> None:
    """A board's file can name anything; so can a capture and a file that was brought."""
    text = (LADDER / "ladder.toml").read_text("utf-8")
    bad = "'\\\"><planted onclick=a(1)>"
    text = text.replace("Ladder of three", bad).replace("plus terminal", bad).replace("10 V from a bench supply", bad)
    text = text.replace("between R1 and R2", bad)
    text += f'\n[parts.R1]\nnotes = ["{bad}"]\nposition = [10, 10]\n[parts."{bad}"]\nkind = "lamp"\n'
    files = [SimpleUploadedFile("ladder.toml", text.encode()), a_board()["files"][1]]
    told = world.client().post(world.path("keep_edition"), {"main": "ladder.toml", "files": files, "title": bad})
    if told.status_code == 400:
        clean(told.body.decode(), "the answer")
        text = text.replace(f'[parts."{bad}"]\nkind = "lamp"\n', "")
        files = [SimpleUploadedFile("ladder.toml", text.encode()), a_board()["files"][1]]
        told = world.client().post(world.path("keep_edition"), {"main": "ladder.toml", "files": files, "title": bad})
    assert told.status_code == 302, told.body.decode()[-900:]
    edition = world.edition.board.latest()
    assert edition.edition == 2
    change = {"kind": "board", "edition": edition.pk}
    assert world.client().post(world.path("change_visit"), change).status_code == 302
    channel = b'second,"><planted onclick=a(1)>\n0,1\n0.001,1.1\n0.002,1\n0.003,1.1\n'
    told = world.client().post(world.path("bring_to_visit"), {
        "kind": "capture", "caption": bad, "files": SimpleUploadedFile('">\'<planted onclick=a(1)>.csv', channel),
    })  # fmt: skip
    assert told.status_code == 302
    shown = 0
    file = world.visit.filings.order_by("-pk")[0]
    for page in (*world.pages(), f"/file/{file.pk}/capture/"):
        shown += clean(world.client().get(page).body.decode(), page).text.count("<planted")
    assert shown > 10
    for picture in (f"/file/{file.pk}/capture/0.svg", world.path("beside_picture")):
        told = world.client().get(picture)
        assert told.status_code == 200
        tree = etree.fromstring(told.body)
        assert not [one for one in tree.iter() if isinstance(one.tag, str) and etree.QName(one).localname in
                    ("script", "foreignObject", "planted")]  # fmt: skip
        assert "sandbox" in told["Content-Security-Policy"]


def test_signs_that_no_keyboard_writes(world: World) -> None:
    """They are refused in four parts, and nothing of them is kept."""
    tried, before = 0, written()
    for name, form in list(told_forms(world)):
        for field in form.texts():
            told = filled(world, name, form, field, SIGNS[tried % len(SIGNS)])
            if field.kind == "password" or name == "set_language":
                continue
            answer = world.client().post(form.action, told)
            page = PageReader(answer.body.decode())
            assert answer.status_code == 400, f"{name}: {field.name} gave {answer.status_code}"
            assert all(part in page.text for part in ("Found", "Allowed", "Next")), f"{name}: {field.name}"
            tried += 1
    assert tried > 40
    assert written() == before
    for sign in SIGNS:
        assert world.client().get("/", {"words": sign}).status_code == 200


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.name)
def test_templates_hold_no_style_and_no_program(path: Path) -> None:
    """The policy would keep a browser from using them, so a page would look or work otherwise than it was written."""
    text = re.sub(r"\{%.*?%\}|\{\{.*?\}\}|\{#.*?#\}", "", path.read_text("utf-8"), flags=re.DOTALL)
    reader = PageReader(text)
    assert not reader.running
    assert "|safe" not in path.read_text("utf-8")
    assert "autoescape" not in path.read_text("utf-8")
    assert "mark_safe" not in path.read_text("utf-8")


def test_every_answer_carries_the_policy(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    browser = world.client()
    answers = [browser.get(page) for page in world.pages()]
    brought = ("file", "capture", "capture_picture", "report", "record", "bag", "label", "museum_xml", "readings")
    answers += [browser.get(world.path(name)) for name in brought]
    answers += [browser.get("/nowhere/"), browser.post("/"), browser.post(world.path("say"), {}),
                browser.get("/static/x"),
                browser.get("/static/web/kilter.css"), world.client("reader").get("/people/"),
                world.client("").get("/"), world.client("").get("/door/"), browser.get("/api/objects"),
                world.client("", HTTP_HOST="elsewhere.example").get("/"), browser.get("/object/1"),
                world.client("", enforce_csrf_checks=True).post("/door/", {})]  # fmt: skip
    monkeypatch.setattr("kilter.web.pages.boards.draw_board", _fails)
    answers.append(browser.get(world.path("board")))
    statuses = {one.status_code for one in answers}
    assert statuses == {200, 301, 302, 400, 401, 403, 404, 405, 500}
    for one in answers:
        where = f"{one.request['REQUEST_METHOD']} {one.request['PATH_INFO']}"
        assert all(part in one["Content-Security-Policy"] for part in POLICY), where
        scripts = re.findall(r"script-src ([^;]*)", one["Content-Security-Policy"])
        assert scripts in ([], ["'self'"]), where
        assert one["X-Content-Type-Options"] == "nosniff", where
        assert one["Referrer-Policy"] == "same-origin", where
        if not one.request["PATH_INFO"].startswith("/static/"):
            assert "private" in one["Cache-Control"], where
            assert one["X-Frame-Options"] == "DENY", where


def _fails(*_: object) -> None:
    raise RuntimeError("/etc/secrets is not to be told")


@pytest.mark.parametrize("htmx", [False, True])
def test_a_fault_of_the_program_tells_nothing(
    world: World, monkeypatch: pytest.MonkeyPatch, *, htmx: bool, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr("kilter.web.pages.boards.draw_board", _fails)
    told = world.client().get(world.path("board"), headers={"hx-request": "true"} if htmx else {})
    assert told.status_code == 500
    page = told.body.decode()
    for word in ("secrets", "Traceback", "RuntimeError", "/src/", "kilter/", "site-packages", "line "):
        assert word not in page
    assert "secrets" in caplog.text  # whoever looks after the server finds it in the log


def test_errors_name_no_place_on_this_machine(world: World) -> None:
    """A board that cannot be read, or whose files are gone, is told without the folder it was tried in."""
    from kilter.store.place import place

    browser, start = world.client(), "kilter = 1\nboard = 'x'\nnetlist = "
    answers = [
        browser.post(world.path("keep_board"), {
            "key": "ladder-9", "main": "ladder.toml", "files": SimpleUploadedFile("ladder.toml", content.encode())})
        for content in ("not = [toml", f"{start}'none.cir'", f"{start}'/proc/version'", f"{start}'../a.cir'")
    ]  # fmt: skip
    assert {one.status_code for one in answers} == {400}
    broken = keep_board(world.scene.who("repairer"), "broken", "Broken", "ladder.toml", {"ladder.toml": b"not = [toml"})
    edit_object(world.scene.who("registrar"), world.object, {"board": broken.board}, "to see")
    world.object.refresh_from_db()
    browser.post(world.path("open_visit"), {"reason": "to see"})
    there = world.path("object") + "visit/2/"
    answers += [browser.get(address) for address in ("/boards/broken/", there, f"{there}bench/", f"{there}power/",
                                                     f"{there}power/plan/", f"{there}beside/")]  # fmt: skip
    for one in answers:
        assert one.status_code in (200, 400)
        for word in (str(place().home), "/tmp", "/etc", "Traceback", "site-packages", ".venv"):
            assert word not in one.body.decode(), f"{word} at {one.request['PATH_INFO']}"
