"""
The door, and what other sites' pages might try with a browser that has come in.

The attacks are those of the general literature on web applications (forged forms, fixed sessions, open redirects, host
headers, guessing passwords); what is expected follows from RFC 9110, RFC 6265 and the framework's documentation.
"""

from __future__ import annotations

from datetime import timedelta

import pytest
from access_table import TABLE
from django.conf import settings
from django.utils import timezone
from page_forms import PageReader
from web_world import ALL_ROLES, PASSWORD, Browser, World, written

from kilter.store.models import LoginAttempt

COOKIE = settings.SESSION_COOKIE_NAME


def knock(browser: Browser, login: str = "everybody", password: str = PASSWORD, **more: str) -> object:
    return browser.post("/door/", {"login": login, "password": password, **more})


@pytest.mark.parametrize("name", [name for name, one in TABLE.items() if one.forms])
def test_forged_forms(world: World, name: str) -> None:
    """A form without this session's own token is refused, whoever's browser sends it."""
    before = written()
    for form in TABLE[name].forms:
        for token in ({}, {"csrfmiddlewaretoken": "x" * 64}):
            browser = world.client(ALL_ROLES, enforce_csrf_checks=True)
            browser.get("/")
            answer = browser.post(world.path(name), {**form.fields(world), **form.files(), **token})
            assert answer.status_code == 403
            assert "a form of another page or an older session" in answer.body.decode()
    assert written() == before


@pytest.mark.parametrize("address", ["/door/", "/leave/", "/language/setlang/", "/me/key/end/"])
def test_forged_forms_at_the_door(world: World, address: str) -> None:
    assert world.client(ALL_ROLES, enforce_csrf_checks=True).post(address, {}).status_code == 403


def test_own_forms_are_taken(world: World) -> None:
    """The token that stands in the page is the one that is asked for."""
    browser = world.client(ALL_ROLES, enforce_csrf_checks=True)
    page = PageReader(browser.get(world.path("say")).body.decode())
    form = next(one for one in page.forms if one.action == "")
    answer = browser.post(world.path("say"), {**form.sent(), "kind": "note", "text": "taken"})
    assert answer.status_code == 302


def test_another_site_cannot_send_a_form_with_a_stolen_token(world: World) -> None:
    """The origin is looked at, too: RFC 6454."""
    browser = world.client(ALL_ROLES, enforce_csrf_checks=True)
    form = PageReader(browser.get(world.path("say")).body.decode()).forms[-2]
    told = {**form.sent(), "kind": "note", "text": "taken"}
    answer = browser.post(world.path("say"), told, headers={"origin": "http://elsewhere.example"})
    assert answer.status_code == 403


def test_the_session_is_a_new_one_after_coming_in(world: World) -> None:
    browser = world.client("")
    planted = "a" * 32
    browser.cookies[COOKIE] = planted
    assert knock(browser).status_code == 302
    first = browser.cookies[COOKIE].value
    assert first != planted
    assert browser.get("/").status_code == 200
    assert knock(browser, "reader").status_code == 302  # somebody else at the same browser
    second = browser.cookies[COOKIE].value
    assert second not in (first, planted)
    browser.cookies[COOKIE] = first
    assert browser.get("/").status_code == 302


def test_leaving_ends_the_session(world: World) -> None:
    browser = world.client("")
    knock(browser)
    key = browser.cookies[COOKIE].value
    browser.post("/leave/")
    browser.cookies[COOKIE] = key
    assert browser.get("/").status_code == 302
    assert browser.get("/leave/").status_code == 405


def test_a_new_password_ends_other_sessions(world: World) -> None:
    here, there = world.client(""), world.client("")
    knock(here, "recorder")
    knock(there, "recorder")
    told = {"old": PASSWORD, "password": "nine amber lanterns", "again": "nine amber lanterns"}
    assert here.post("/me/", told).status_code == 302
    assert here.get("/me/").status_code == 200
    assert there.get("/me/").status_code == 302


def test_cookies(world: World) -> None:
    browser = world.client("")
    browser.get("/door/")
    knock(browser)
    for name in (COOKIE, settings.CSRF_COOKIE_NAME):
        cookie = browser.cookies[name]
        assert cookie["httponly"], name
        assert cookie["samesite"] == "Lax", name


def test_guessing_takes_longer_and_longer(world: World) -> None:
    """Five free tries, then a wait that the right password does not shorten; it is over when its time has passed."""
    browser = world.client("")
    for _ in range(5):
        told = knock(browser, password="wrong guess")
        assert told.status_code == 400
        assert "do not fit" in told.body.decode()
    told = knock(browser)
    assert told.status_code == 400
    assert "5 wrong tries" in told.body.decode()
    assert browser.get("/").status_code == 302
    LoginAttempt.objects.update(at=timezone.now() - timedelta(seconds=3))
    assert knock(browser).status_code == 302


def test_guessing_the_old_password_takes_longer_and_longer(world: World) -> None:
    """As at the door: whoever finds a session open cannot try passwords one after the other."""
    browser = world.client("reader")
    new = {"password": "nine amber lanterns", "again": "nine amber lanterns"}
    for _ in range(5):
        told = browser.post("/me/", {"old": "wrong guess", **new})
        assert told.status_code == 400
        assert "does not fit" in told.body.decode()
    told = browser.post("/me/", {"old": PASSWORD, **new})
    assert told.status_code == 400
    assert "5 wrong tries" in told.body.decode()
    LoginAttempt.objects.update(at=timezone.now() - timedelta(seconds=3))
    assert browser.post("/me/", {"old": PASSWORD, **new}).status_code == 302


def test_the_door_does_not_tell_who_is_known(world: World) -> None:
    """The same words for a wrong password, an unknown login, a door that is shut and a person without a role."""
    pages = set()
    for login, password in (("everybody", "wrong guess"), ("no-such", PASSWORD), ("stranger", PASSWORD),
                            ("nobody", PASSWORD)):  # fmt: skip
        told = knock(world.client(""), login, password)
        assert told.status_code == 400
        reader = PageReader(told.body.decode())
        pages.add(reader.text.replace(login, ""))
    assert len(pages) == 1


def test_what_is_typed_stays_but_the_password(world: World) -> None:
    told = knock(world.client(""), "everybody", "a wrong guess of mine").body.decode()
    assert 'value="everybody"' in told
    assert "a wrong guess of mine" not in told


ELSEWHERE = ("https://elsewhere.example/", "//elsewhere.example/", "/\\elsewhere.example", "\\\\elsewhere.example",
             "https:elsewhere.example", "javascript:alert(1)", "///elsewhere.example", "http://localhost@elsewhere.example",
             "\thttps://elsewhere.example", "data:text/html,x", "http://localhost.elsewhere.example/",
             "https://[::1]@elsewhere.example/", "/%0d%0aLocation:%20https://elsewhere.example")  # fmt: skip


@pytest.mark.parametrize("address", ELSEWHERE)
def test_nobody_is_led_elsewhere(world: World, address: str) -> None:
    browser = world.client("")
    assert browser.get("/door/", {"next": address}).status_code == 200
    for told in (knock(browser, next=address), browser.post("/language/setlang/", {"language": "de", "next": address})):
        assert told.status_code == 302
        there = told["Location"]
        assert there == "/" or (there.startswith("/%0d") and "\n" not in there)


def test_one_comes_to_the_page_that_was_asked_for(world: World) -> None:
    browser, wanted = world.client(""), world.path("bench") + "?at=x"
    door = browser.get(wanted)
    page = PageReader(browser.get(door["Location"]).body.decode())
    following = {one.name: one.value for one in page.forms[0].fields}["next"]
    assert knock(browser, next=following)["Location"] == wanted


def test_a_form_after_the_session_ended(world: World) -> None:
    """One comes back to the page the form stood on, and is told that nothing was recorded."""
    page = "http://localhost" + world.path("bench")
    for more in ({"referer": page}, {"hx-request": "true", "hx-current-url": page}):
        told = world.client("").post(world.path("take"), {"act": "line", "line": "A 10 V"}, headers=more)
        there = told["HX-Redirect"] if "hx-request" in more else told["Location"]
        shown = PageReader(world.client("").get(there).body.decode())
        assert "nothing of what you just sent was recorded" in shown.text
        assert {one.name: one.value for one in shown.forms[0].fields}["next"] == world.path("bench")
    told = world.client("").post(world.path("take"), {}, headers={"referer": "https://elsewhere.example/x"})
    assert told["Location"] == "/door/?next=%2F&lost=1"


@pytest.mark.parametrize("host", ["elsewhere.example", "localhost.elsewhere.example", "127.0.0.1@elsewhere.example",
                                  "*", "localhost:8000:x", ""])  # fmt: skip
def test_only_our_own_name_is_answered(world: World, host: str) -> None:
    """Else a page of another name could be led here by its own name server."""
    told = world.client(ALL_ROLES, HTTP_HOST=host).get("/")
    assert told.status_code == 400
    assert b"HC 0417" not in told.body
    assert b"Traceback" not in told.body


@pytest.mark.parametrize("code", ["x", "", "right"])
def test_codes_of_the_start_count_only_when_they_are_right(
    world: World, monkeypatch: pytest.MonkeyPatch, code: str
) -> None:
    for name, address in (("KILTER_FIRST_CODE", "first"), ("KILTER_HELLO_CODE", "hello")):
        browser = world.client("")
        assert browser.get(f"/{address}/{code or 'none'}/").status_code == 404  # none was made
        monkeypatch.setenv(name, "right" if code else "")
        told = browser.get(f"/{address}/{code or 'none'}/")
        assert told.status_code == (302 if (address, code) == ("hello", "right") else 404)
        elsewhere = world.client("", REMOTE_ADDR="192.0.2.7").get(f"/{address}/right/")
        assert elsewhere.status_code == 404  # on this machine alone
