"""Pages as a German browser gets them: their words, their figures, and readings typed with a comma."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from django.test import Client


def _visit() -> tuple[int, int]:
    from kilter.store.models import Visit

    found = Visit.objects.get(object__number="HC 0417")
    return found.object_id, found.number


def test_the_collection_is_german(german: Client) -> None:
    page = german.get("/").content.decode()
    assert '<html lang="de">' in page
    assert "6 Objekte" in page
    assert "nur ausgestellt" in page
    assert "Kilter kennt Zeichnungen" in page


def test_english_is_english(collection: None) -> None:  # noqa: ARG001
    from django.test import Client

    from kilter.store.models import Person

    browser = Client(headers={"accept-language": "en", "host": "localhost"})
    browser.force_login(Person.objects.get(login="demonstration"))
    assert "6 objects" in browser.get("/").content.decode()


def test_the_bench_page_speaks_german(german: Client) -> None:
    page = german.get("/object/{}/visit/{}/bench/".format(*_visit())).content.decode()
    for words in ("Nächste Messung", "Verdächtige Bauteile", "spricht entschieden", "erwarteter Verlust in Minuten",
                  "Gleichspannung", "kein Fehler"):  # fmt: skip
        assert words in page
    for words in ("speaks decisively", "expected loss", "DC voltage", "nothing wrong"):
        assert words not in page


def test_the_checks_before_power_are_german(german: Client) -> None:
    page = german.get("/object/{}/visit/{}/power/".format(*_visit())).content.decode()
    assert "Eine zweite Person ist in Rufweite." in page
    assert "Somebody else is within call." not in page


@pytest.mark.parametrize(("typed", "value"), [("4,98 V", 4.98), ("1,234 V", 1.234)])
def test_a_reading_typed_with_a_comma_counts(german: Client, typed: str, value: float) -> None:
    from kilter.store.models import VisitEntry

    pk, number = _visit()
    rows = VisitEntry.objects.filter(visit__object_id=pk, visit__number=number)
    after = rows.count()
    address = f"/object/{pk}/visit/{number}/bench/take/"
    answer = german.post(address, {"act": "line", "after": after, "line": f"V5 {typed} @bench"})
    assert answer.status_code == 303
    last = rows.order_by("number").last()
    assert last is not None
    assert last.value == pytest.approx(value)


def test_a_reading_that_may_mean_thousands_is_not_taken(german: Client) -> None:
    from kilter.store.models import VisitEntry

    pk, number = _visit()
    rows = VisitEntry.objects.filter(visit__object_id=pk, visit__number=number)
    after = rows.count()
    address = f"/object/{pk}/visit/{number}/bench/take/"
    answer = german.post(address, {"act": "line", "after": after, "line": "V5 1.234 V @bench"})
    assert answer.status_code == 400
    assert "1,234 oder 1234" in answer.content.decode()
    assert rows.count() == after


def test_every_language_calls_itself_by_its_own_name(german: Client) -> None:
    """Names from CLDR, as the framework has them: who cannot read the page finds the way out."""
    page = german.get("/").content.decode()
    assert '<option value="en" lang="en">English</option>' in page
    assert '<option value="de" selected lang="de">Deutsch</option>' in page


def test_states_in_the_history_are_german(german: Client) -> None:
    page = german.get(f"/object/{_visit()[0]}/history/").content.decode()
    assert "inventarisiert" in page
    assert "am Messplatz eintragen" in page
