"""
What was typed stays when it cannot be taken; what is sent twice is written once; the slower of two people is told.

Common practice, no source: people press a button twice where nothing seems to happen, and two work on one object.
"""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from pathlib import Path
from typing import Any

import pytest
from access_table import TABLE, Form
from django.http import HttpResponse, HttpResponseRedirect
from django.test import RequestFactory, override_settings
from page_forms import PageForm, PageReader
from web_world import Browser, World, written

from kilter.store.verbs.objects import edit_object
from kilter.web.once import done_once

BAD = "typed \x07 badly"
LOST = {"take_checks", "let_power_on", "bring", "bring_to_visit", "answer", "withdraw", "change_visit", "thorough",
        "new_key", "stop_job", "take", "places", "work_out_cures", "bring_soak_log", "judge_soak",
        "record_soak", "donors", "look_ahead", "learn_now", "share_out", "take_in"}  # fmt: skip
"""Forms that stand on another page than the one they are sent to, or hold nothing that is typed."""
ONTO = {"bring": "object", "bring_to_visit": "visit", "answer": "proposal", "withdraw": "proposal", "thorough": "visit",
        "change_visit": "visit", "new_key": "me", "stop_job": "job", "work_out_cures": "visit",
        "bring_soak_log": "soak", "record_soak": "soak", "learn_now": "learned"}  # fmt: skip


def form_on(world: World, page: str, action: str) -> PageForm:
    """The form of a page that is sent to an address."""
    forms = PageReader(world.client().get(page).body.decode()).forms
    return next(one for one in forms if one.action == action and "once" in one.sent())


FORMS = [(name, place) for name, one in TABLE.items() for place, form in enumerate(one.forms)
         if name not in ("bring_list", "take", "take_checks", "let_power_on", "judge_soak", "look_ahead")]  # fmt: skip


@pytest.mark.parametrize(("name", "place"), FORMS)
def test_sent_twice(world: World, name: str, place: int) -> None:
    """The same form of the same page, twice, and once more after it was altered."""
    form, address = TABLE[name].forms[place], world.path(name)
    page = world.path(ONTO.get(name, name))
    shown = form_on(world, page, address if name in ONTO else "")
    before = written()
    browser = world.client()
    told = [_send(browser, world, address, shown, form) for _ in range(3)]
    assert [one.status_code for one in told] == [302, 302, 302]
    assert len({one["Location"] for one in told}) == 1
    once = written() - before
    assert once > 0
    if name in ("say", "propose", "open_visit", "repair"):  # shown anew it is another one, and may be meant
        assert _send(browser, world, address, form_on(world, page, ""), form).status_code == 302
        assert written() - before == 2 * once


def _send(browser: Browser, world: World, address: str, shown: PageForm, form: Form) -> Any:
    mark = {"once": shown.sent()["once"]}
    return browser.post(address, {**form.fields(world), **form.files(), **mark})


def test_altered_after_going_back(world: World) -> None:
    shown, before = form_on(world, world.path("say"), ""), written()
    for text in ("one", "another", "another"):
        told = world.client().post(world.path("say"), {"kind": "note", "text": text, "once": shown.sent()["once"]})
        assert told.status_code == 302
    assert written() == before + 2


def test_two_people_with_the_same_mark(world: World) -> None:
    """A mark that somebody saw over another's shoulder is of no use, nor does it get in the way."""
    told, before = {"kind": "note", "text": "x", "once": "same"}, written()
    for role in ("recorder", "repairer"):
        assert world.client(role).post(world.path("say"), told).status_code == 302
    assert written() == before + 2


def test_refused_may_be_sent_again(world: World) -> None:
    mark = {"once": "again", "kind": "note", "text": ""}
    for _ in range(2):
        assert world.client().post(world.path("say"), mark).status_code == 400


def test_twice_at_the_same_moment(world: World) -> None:
    """Two presses that two threads work off at once; in memory, for the tests' own transaction holds the database."""
    begun, done = threading.Barrier(2), []

    def work() -> HttpResponse:
        done.append(1)
        return HttpResponseRedirect("/there/")

    def send() -> None:
        request = RequestFactory().post("/x/", {"once": "moment"})
        request.user = world.everybody
        begun.wait()
        done_once(request, work)

    threads = [threading.Thread(target=send) for _ in range(2)]
    with override_settings(CACHES={"default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}}):
        for one in threads:
            one.start()
        for one in threads:
            one.join()
    assert len(done) == 1


def test_twice_in_two_processes(tmp_path: Path) -> None:
    """Two processes that serve the same record: the one does it, the other waits and is led where the first led."""
    around = {**os.environ, "KILTER_HOME": str(tmp_path)}
    around.pop("KILTER_DATABASE", None)
    prepared = "from kilter.store.start import start_store; start_store('kilter.web.settings')\n"
    subprocess.run([sys.executable, "-c", f"{prepared}from kilter.store.prepare import prepare; prepare()"], env=around,
                   check=True)  # fmt: skip
    code = prepared + (
        "import sys, time; from types import SimpleNamespace\n"
        "from django.http import HttpResponseRedirect; from django.test import RequestFactory\n"
        "from kilter.web.once import done_once\n"
        "request = RequestFactory().post('/x/', {'once': 'moment'}); request.user = SimpleNamespace(pk=1)\n"
        "def work():\n"
        "    print('worked', flush=True); time.sleep(1); return HttpResponseRedirect('/there/' + sys.argv[1])\n"
        "print(done_once(request, work)['Location'])\n"
    )
    both = [subprocess.Popen([sys.executable, "-c", code, name], env=around, stdout=subprocess.PIPE, text=True)
            for name in "ab"]  # fmt: skip
    told = [one.communicate(timeout=120)[0].split() for one in both]
    assert [one.returncode for one in both] == [0, 0]
    assert sorted(len(one) for one in told) == [1, 2]
    assert told[0][-1] == told[1][-1]


@pytest.mark.parametrize("name", [name for name, one in TABLE.items() if one.forms and name not in LOST])
def test_what_was_typed_stays(world: World, name: str) -> None:
    """Every text of the form is there again, beside what is wrong; passwords and files are not."""
    if name in ("keep_board", "keep_edition", "capture"):
        told = {"title": "a title", "why": "a reason", "key": "a-key", "main": "none.toml", "at-0": "nowhere",
                "state": "bench"}  # fmt: skip
    else:
        told = {**TABLE[name].forms[0].fields(world)}
        text = next(one for one in ("why", "text", "words", "name", "old", "reason", "place", "ambient", "point",
                                    "hours") if one in told)  # fmt: skip
        if name == "person":
            told = {"act": "roles", "roles": ["none such"], "why": "a reason that stays"}
        elif name != "me":
            told[text] = BAD
    answer = world.client().post(world.path(name), told)
    if name == "me":
        return
    assert answer.status_code == 400
    forms = [one for one in PageReader(answer.body.decode()).forms if one.action == ""]
    there = {one.name: one.value for form in forms[::-1] for one in form.texts()}
    for field, value in there.items():
        if field in told and "password" not in field:
            assert value == str(told[field]), f"{name}: {field}"
    assert any(field in told for field in there), there


def test_what_was_typed_at_the_bench_stays(world: World) -> None:
    after = str(world.visit.entries.count())
    for told in ({"act": "line", "line": "A 4x7 V @bench"}, {"act": "deed", "deed": "lifted", "where": "R99"}):
        for more in ({}, {"hx-request": "true"}):
            answer = world.client().post(world.path("take"), {**told, "after": after}, headers=more)
            assert answer.status_code == 400
            page = PageReader(answer.body.decode())
            values = {one.name: one.value for form in page.forms for one in form.fields if one.name in told}
            assert {name: values[name] for name in told if name != "act"} == {
                name: value for name, value in told.items() if name != "act"
            }


@pytest.mark.parametrize("name", ["answer", "withdraw", "change_visit", "let_power_on", "take_checks"])
def test_what_was_typed_beside_other_things_stays(world: World, name: str) -> None:
    """Forms that stand on the page of what they are about."""
    form, long = TABLE[name].forms[0], "a long text that took some time to write " * 3
    told = form.fields(world)
    field = "words-0" if name == "take_checks" else "words" if "words" in told else "why"
    told |= {field: long + BAD}
    answer = world.client().post(world.path(name), told)
    assert answer.status_code == 400
    fields = [one for form in PageReader(answer.body.decode()).forms for one in form.texts() if one.name == field]
    assert long + BAD in [one.value for one in fields]


def test_two_people_at_one_visit(world: World) -> None:
    """The slower one is told, sees what was added, keeps what was typed, and can then send it again."""
    after = str(world.visit.entries.count())
    told = {"act": "line", "after": after}
    assert world.client("recorder").post(world.path("take"), {**told, "line": "A 10.0 V @bench"}).status_code == 303
    slower = world.client("repairer").post(world.path("take"), {**told, "line": "B 5.0 V @bench"})
    page = PageReader(slower.body.decode())
    assert slower.status_code == 400
    assert f"entry {int(after) + 1}, while this page showed entry {after}" in page.text
    form = next(one for one in page.forms if one.sent().get("act") == "line")
    assert form.sent()["line"] == "B 5.0 V @bench"
    assert form.sent()["after"] == str(int(after) + 1)
    assert world.client("repairer").post(world.path("take"), form.sent()).status_code == 303
    assert world.visit.entries.count() == int(after) + 2


def test_two_people_at_one_entry(world: World) -> None:
    form = form_on(world, world.path("change"), "")
    edit_object(world.scene.who("registrar"), world.object, {"location": "shelf 9"}, "moved")
    answer = world.client().post(world.path("change"), {**form.sent(), "location": "shelf 3", "why": "moved"})
    assert answer.status_code == 400
    assert "edition 2, while you looked at 1" in answer.body.decode()
    world.object.refresh_from_db()
    assert world.object.location == "shelf 9"


def test_two_people_at_the_checks(world: World) -> None:
    """A check that somebody found failed is not passed by a page that was shown before."""
    forms = [next(one for one in PageReader(world.client().get(world.path("gate")).body.decode()).forms
                  if "checks" in one.action).sent() for _ in range(2)]  # fmt: skip
    first = {**forms[0], "outcome-0": "failed", "words-0": "a burnt part"}
    assert world.client("recorder").post(world.path("take_checks"), first).status_code == 302
    other = {**forms[1], "outcome-1": "passed"}
    assert world.client("repairer").post(world.path("take_checks"), other).status_code == 302
    slower = world.client("repairer").post(world.path("take_checks"), {**forms[1], "outcome-0": "passed"})
    assert slower.status_code == 400
    assert "a burnt part" in slower.body.decode()
    assert world.visit.checks.get(name__startswith="Looked").outcome == "failed"
    before = written()
    for told in (first, {**first, "words-1": ""}):
        assert world.client("recorder").post(world.path("take_checks"), told).status_code in (302, 400)
    assert written() == before
    passing = {"means": "passed", "after": str(world.visit.entries.count())}
    assert world.client("repairer").post(world.path("let_power_on"), passing).status_code == 400


def test_two_people_at_one_proposal(world: World) -> None:
    """An answer is to the version that was read."""
    from kilter.store.verbs.proposals import change_proposal

    form = TABLE["change_proposal"].forms[0].fields(world)
    change_proposal(world.scene.who("repairer"), world.proposal, {**form, "grade": 6})
    told = {"version": "1", "capacity": "keeper", "decision": "consent"}
    answer = world.client("approver").post(world.path("answer"), told)
    assert answer.status_code == 400
    assert "version 2, while you read version 1" in answer.body.decode()


def test_power_on_twice(world: World) -> None:
    told = TABLE["let_power_on"].forms[0].fields(world)
    assert world.client("repairer").post(world.path("let_power_on"), told).status_code == 302
    before = written()
    assert world.client("repairer").post(world.path("let_power_on"), told).status_code == 400
    assert written() == before
