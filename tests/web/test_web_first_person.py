"""A record that knows nobody lets one person in, by the address that was printed, on this machine, once."""

from __future__ import annotations

import pytest
from web_world import PASSWORD, Browser

from kilter.store.models import Person


def test_the_first_person(bare: None, monkeypatch: pytest.MonkeyPatch) -> None:  # noqa: ARG001
    monkeypatch.setenv("KILTER_FIRST_CODE", "right")
    browser = Browser(HTTP_HOST="localhost")
    told = {"login": "me", "name": "Somebody", "password": PASSWORD, "again": PASSWORD}
    assert browser.post("/first/wrong/", told).status_code == 404
    assert browser.post("/first/right/", {**told, "again": "another one"}).status_code == 400
    assert browser.post("/first/right/", {**told, "password": "short", "again": "short"}).status_code == 400
    assert not Person.objects.exists()
    assert browser.post("/first/right/", {**told, "alone": "on"}).status_code == 302
    assert set(Person.objects.get().roles()) == {"administrator", "recorder", "repairer", "approver", "registrar"}
    assert browser.get("/").status_code == 200
    again = Browser(HTTP_HOST="localhost")
    assert again.post("/first/right/", {**told, "login": "other"}).status_code == 404
    assert again.get("/first/right/").status_code == 404
    assert Person.objects.count() == 1
