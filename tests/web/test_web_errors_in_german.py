"""
Forms that cannot be taken, and people who may not: whatever a German page says about it is in the catalogues.

Each form of the pages is sent empty, with each field spoilt in turn, and by people without the role. Whether a part of
an error was found is looked up (tests/translations/english_left.py), not guessed from its words.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from access_table import TABLE, Form
from web_world import ALL_ROLES, NOBODY, World

sys.path.append(str(Path(__file__).parents[1] / "translations"))

SPOILT = ("", "no-such-thing", "-7", "99999999999", "a\x07bell")
"""Nothing, words that mean nothing here, numbers beyond every end, and a sign that no text may hold."""
NAMES = ("Ladder of three", "a tenth of a volt")
"""What the world's people wrote: their board's title, a reason."""
FORMS = [(name, place) for name, one in TABLE.items() for place in range(len(one.forms))]


@pytest.fixture
def told(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The parts of every error that a page shows."""
    from kilter.web.templatetags import spoken

    heard: list[str] = []
    said = spoken.sentence_in_words
    monkeypatch.setattr(spoken, "sentence_in_words", lambda text: heard.append(str(text)) or said(text))
    return heard


def _spoilt(form: Form, world: World) -> Iterator[dict[str, Any]]:
    """The form empty, and with one field after another spoilt."""
    yield {}
    whole = form.fields(world)
    for field in whole:
        for words in SPOILT:
            yield {**whole, **form.files(), field: words}
    for file in form.files():
        yield {one: value for one, value in whole.items() if one != file}


def _english(told: list[str]) -> dict[str, list[str]]:
    """Part to what of it is English; what the framework itself says of a password comes in German."""
    from english_left import english_left

    found = {part: [left for left in english_left(part, names=NAMES) if not left.startswith("Dieses Passwort")]
             for part in dict.fromkeys(told)}  # fmt: skip
    return {part: left for part, left in found.items() if left}


@pytest.mark.parametrize(("name", "place"), FORMS)
def test_a_form_that_cannot_be_taken_is_told_in_german(world: World, told: list[str], name: str, place: int) -> None:
    from django.db import transaction

    form = TABLE[name].forms[place]
    browser = world.client(ALL_ROLES, HTTP_ACCEPT_LANGUAGE="de")
    for fields in _spoilt(form, world):
        with transaction.atomic():
            answer = browser.post(world.path(name), fields)
            assert answer.status_code < 500
            transaction.set_rollback(True)
    assert told or not form.fields(world)
    assert _english(told) == {}


@pytest.mark.parametrize("role", ["reader", NOBODY])
def test_a_refusal_is_told_in_german(world: World, told: list[str], role: str) -> None:
    browser = world.client(role, HTTP_ACCEPT_LANGUAGE="de")
    for name, place in FORMS:
        browser.post(world.path(name), TABLE[name].forms[place].fields(world))
    assert told
    assert _english(told) == {}


def test_what_pages_take_from_the_core_is_told_in_german(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every page that can be looked at: fixed words, reasons, warnings, verdicts."""
    from kilter.web.templatetags import spoken

    heard: list[str] = []
    said = spoken.said_in_words
    monkeypatch.setattr(spoken, "said_in_words", lambda text, *more: heard.append(str(text)) or said(text, *more))
    browser = world.client(ALL_ROLES, HTTP_ACCEPT_LANGUAGE="de")
    for address in world.pages():
        assert browser.get(address).status_code == 200
    assert len(set(heard)) > 50
    assert _english(heard) == {}
