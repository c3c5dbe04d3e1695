"""
Outcome, learning, sharing on the pages: said by a person, learned once, shared without a trace of whose it is.

The leak test plants marked words in every text column of every table of the record that a person can fill, and looks
for them in every byte that would go out; what is planted where is read from the tables themselves.
"""

from __future__ import annotations

import re
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import models
from web_world import THEIRS, Browser, World, shared_by_others

from kilter.services.seal import opened, sealed
from kilter.store.models import KnownSharer, LearnedEntry, VisitOutcome
from kilter.wiring.worker import work_off_one

PLANTED = ("Zylphine", "Quorvath", "PLANT-4711", "Mirrowick")


def body_of(answer: Any) -> str:
    return str(answer.body.decode())


def outcome_path(world: World) -> str:
    return world.path("outcome")


def say(world: World, **more: Any) -> Any:
    told = {"found": "parts were faulty", "works": "works again", "part-0": "R1:open", "free-0": "1", **more}
    return world.client().post(outcome_path(world), told)


def test_an_outcome_is_proposed_confirmed_corrected_and_taken_back(world: World) -> None:
    browser = world.client()
    page = body_of(browser.get(outcome_path(world)))
    assert "Nobody has said yet" in page
    assert 'name="works" value="works again" required>' in page  # nothing is chosen beforehand
    assert say(world).status_code == 302
    first = VisitOutcome.objects.get()
    assert (first.parts, first.works, first.who) == ({"R1": "open"}, "works again", world.everybody)
    assert say(world).status_code == 400, "a page from before must not run over what was said"
    assert say(world, seen=str(first.pk), works="does not work").status_code == 302
    assert VisitOutcome.objects.standing().get().works == "does not work"
    assert browser.post(outcome_path(world), {"act": "back", "why": "another object"}).status_code == 302
    assert not VisitOutcome.objects.standing().exists()
    assert VisitOutcome.objects.count() == 3
    assert "another object" in body_of(browser.get(outcome_path(world)))


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"part-0": "R9"}, "the part &#x27;R9&#x27;"),
        ({"part-0": "R1:melted"}, "melted"),
        ({"found": "no part was faulty"}, "no part was faulty"),
        ({"part-0": ""}, "0 parts"),
        ({"works": ""}, "whether it works"),
        ({"found": "not found out", "part-0": "R1"}, "not found out"),
    ],
)
def test_outcomes_that_do_not_do(world: World, more: dict[str, str], words: str) -> None:
    answer = say(world, **more)
    assert answer.status_code == 400
    assert words in body_of(answer)
    assert not VisitOutcome.objects.exists()


def learn(world: World) -> str:
    """Asks for it on the page, lets a worker do it, and gives the page of the job."""
    from kilter.store.models import Job

    world.client().post(world.path("learn_now"))
    Job.objects.exclude(kind="learning from visits").delete()
    assert work_off_one("test")
    return body_of(world.client().get(f"/work/{Job.objects.get().pk}/"))


def test_what_a_closed_visit_taught_is_shown_and_used(world: World) -> None:
    assert say(world, close="on").status_code == 302
    assert "1 visit was learned from" in learn(world)
    page = body_of(world.client().get(world.path("learned")))
    assert "1 closed visit has an outcome" in page
    assert "HC 0417, visit 1" in page
    assert '<circle class="few"' in page, "few cases are shown and not judged"
    bench = body_of(world.client().get(f"/object/{world.other.pk}/visit/1/bench/"))
    assert "Odds: handbook and 2 visits of this collection" in bench or "handbook and 1 visit" in bench
    beside = body_of(world.client().get(f"/object/{world.other.pk}/visit/1/bench/odds/"))
    assert "The handbook alone" in beside


def test_what_was_tampered_with_is_told_and_not_used(world: World) -> None:
    from record_scene import by_force

    by_force("store_learnedentry", "UPDATE store_learnedentry SET body = replace(body, '30', '31') WHERE number = 1")
    for address in ("learned", "sharing"):
        assert "which was altered" in body_of(world.client().get(world.path(address)))
    by_force("store_learnedentry", "UPDATE store_learnedentry SET digest = 'x' WHERE number = 3")  # a new mark
    assert "damaged and not used" in body_of(world.client().get(world.path("bench")))


def test_a_lesson_is_withdrawn_with_a_reason(world: World) -> None:
    answer = world.client().post("/learned/1/", {"why": ""})
    assert answer.status_code == 400
    assert world.client().post("/learned/1/", {"why": "counted twice"}).status_code == 302
    assert "counted twice" in body_of(world.client().get(world.path("learned")))
    assert world.client().get("/learned/99/").status_code == 404


def sent(world: World, data: bytes, **more: str) -> Any:
    return world.client().post(world.path("take_in"), {"file": SimpleUploadedFile("x.kilter", data), **more})


def test_a_file_of_others_is_looked_at_then_accepted(world: World) -> None:
    data, before = shared_by_others(2), LearnedEntry.objects.count()
    looked = sent(world, data)
    assert looked.status_code == 200
    for words in ("harbour", "CC0-1.0", "50 %", "None by much"):  # its counts are those of the file that it replaces
        assert words in body_of(looked)
    assert LearnedEntry.objects.count() == before
    assert sent(world, data, really="on").status_code == 302
    assert LearnedEntry.objects.count() == before + 1


def altered(data: bytes) -> bytes:
    return data.replace(b'"parts": 60', b'"parts": 61')


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda: altered(shared_by_others(2)), "altered after it was signed"),
        (lambda: shared_by_others(1), "older than what was accepted (replayed)"),
        (lambda: sealed(opened(shared_by_others(2), "").content.replace(b"CC0-1.0", b"mine"), THEIRS), "mine"),
        (lambda: b"nothing", "no seal"),
        (lambda: b"", "The submitted file is empty|no file|no seal"),
    ],
)
def test_files_that_are_refused(world: World, change: Any, words: str) -> None:
    before = LearnedEntry.objects.count()
    for more in ({}, {"really": "on"}):
        answer = sent(world, change(), **more)
        assert answer.status_code == 400
        assert re.search(words.replace("(", r"\(").replace(")", r"\)"), body_of(answer))
    assert LearnedEntry.objects.count() == before


def test_a_key_off_the_list_is_a_stranger(world: World) -> None:
    known = KnownSharer.objects.standing().get()
    address = f"/sharing/keys/{known.pk}/"
    assert world.client().post(address, {"act": "forget", "why": "lost"}).status_code == 302
    assert "unknown key" in body_of(sent(world, shared_by_others(2)))
    assert world.client().post(address, {"act": "forget", "why": "again"}).status_code == 400


def test_the_signing_key_is_made_once_and_by_whom_may(
    world: World, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr("kilter.wiring.record_sharing.key_path", lambda: tmp_path / "own.pem")
    for role in ("", "reader", "repairer", "administrator"):
        world.client(role).post("/sharing/key/")
        assert not (tmp_path / "own.pem").exists()
    assert world.client("registrar").post("/sharing/key/").status_code == 302
    kept = (tmp_path / "own.pem").read_bytes()
    assert (tmp_path / "own.pem").stat().st_mode & 0o077 == 0
    assert world.client("registrar").post("/sharing/key/").status_code == 400
    assert (tmp_path / "own.pem").read_bytes() == kept


def plant(world: World) -> None:
    """Marked words wherever somebody can write: by the verbs, then every text column that is still without."""
    from kilter.records.reading import Reading
    from kilter.store.verbs.boards import keep_board
    from kilter.store.verbs.files import attach
    from kilter.store.verbs.statements import state
    from kilter.store.verbs.visits import add_entry, open_visit, set_visit

    who, words = world.scene.who("repairer"), " ".join(PLANTED)
    files = board_files(world)
    text = files["ladder.toml"].decode().replace("Ladder of three", words) + f"\n# {words}\n"
    text = text.replace("[parts.R2]", f'[parts.R2]\nnotes = ["{words}"]')
    edition = keep_board(who, "ladder", words, "ladder.toml", {**files, "ladder.toml": text.encode()}, words)
    visit = open_visit(who, world.object, words, known_good=True, not_working=False, edition=edition)
    add_entry(who, visit, "power checks waived", {"note": words}, None, after=0)
    reading = Reading("A", "voltage", 10.0, uncertainty=0.05, state="bench", note=words, who=words)
    typed = {"point": "A", "value": "10 V", "note": words}
    add_entry(world.scene.who("recorder"), visit, "reading", typed, reading, after=1)
    set_visit(who, visit, "closed", words)
    for kind in ("history", "hazard", "note"):
        state(who, world.object, kind, words, source=words, when=words)
    name = f"{PLANTED[0]}.txt"
    attach(who, BytesIO(words.encode()), name, "document", "text/plain", caption=words, about=world.object)


def board_files(world: World) -> dict[str, bytes]:
    from kilter.store.verbs.boards import unpacked

    return {path.name: path.read_bytes() for path in unpacked(world.edition).parent.iterdir()}


def overwritten(skipped: list[str]) -> int:
    """Marked words into every free text column of every table, behind the verbs' back; how many columns there were."""
    from django.apps import apps
    from django.db import connection
    from record_scene import by_force

    from kilter.store.triggers import protected_tables

    count = 0
    for model in apps.get_app_config("store").get_models():
        table = model._meta.db_table
        for field in model._meta.fields:
            free = isinstance(field, (models.TextField, models.CharField)) and not field.unique
            if not free or f"{model.__name__}.{field.name}" in skipped:
                continue
            with connection.cursor() as cursor:
                cursor.execute(f'SELECT count(*) FROM "{table}"')
                if not cursor.fetchone()[0]:
                    continue
            sql, words = f'UPDATE "{table}" SET "{field.column}" = %s', " ".join(PLANTED)[: field.max_length or 2000]
            if table in protected_tables():
                by_force(table, sql, words)
            else:
                with connection.cursor() as cursor:
                    cursor.execute(sql, [words])
            count += 1
    return count


LEFT = [
    "LearnedEntry.body", "LearnedEntry.kind", "LearnedEntry.before", "LearnedEntry.digest", "KnownSharer.key",
    "BoardEdition.digest", "BoardEdition.main", "BoardFile.name", "VisitEntry.kind", "VisitEntry.point",
    "VisitEntry.quantity", "VisitEntry.state", "VisitEntry.instrument", "VisitEntry.word", "VisitEvent.kind",
    "Attachment.sha256", "Visit.instruments", "Person.password",
]  # fmt: skip
"""Columns of keys, digests and fixed words that are looked up; names of points and states are told on purpose."""


def test_nothing_that_was_planted_leaves(world: World) -> None:
    plant(world)
    assert overwritten(LEFT) > 60
    browser: Browser = world.client()
    page = body_of(browser.get(world.path("share_out")))
    assert PLANTED[0] in page  # it is there to be leaked: the visits are named where one chooses
    latest = world.edition.board.latest()
    good = re.findall(r'name="good" value="(\d+)"', page)
    told = {"licence": "CC0-1.0", "kinds": ["resistor"], f"board-{latest.pk}": "on", f"title-{latest.pk}": "Ladder",
            "good": good, "really": "on"}  # fmt: skip
    answer = browser.post(world.path("share_out"), told)
    assert answer.status_code == 302, body_of(answer)[-2000:]
    data = browser.get(f"{answer['Location']}file/").body
    assert b'"known_good"' in data
    assert b"9.99" in data or b'"point": "A"' in data  # the readings are in it
    for word in PLANTED:
        assert word.lower().encode() not in data.lower()


def test_the_preview_shows_just_what_is_signed(world: World) -> None:
    from html import unescape

    told = {"licence": "CC0-1.0", "kinds": ["resistor"]}
    looked = body_of(world.client().post(world.path("share_out"), told))
    shown = unescape(re.search(r"<pre[^>]*>(.*?)</pre>", looked, re.S)[1])  # type: ignore[index]
    answer = world.client().post(world.path("share_out"), {**told, "really": "on"})
    data = world.client().get(f"{answer['Location']}file/").body
    assert opened(data, "").content.decode() == shown
    without = body_of(world.client().post(world.path("share_out"), {"licence": "CC0-1.0"}))
    assert "no counts of enough objects" in without


def test_boards_of_others_as_files(world: World) -> None:
    import zipfile

    data = world.client().get(world.path("shared_boards")).body
    names = zipfile.ZipFile(BytesIO(data)).namelist()
    assert sorted(name.rsplit(".")[-1] for name in names) == ["cir", "toml"]
