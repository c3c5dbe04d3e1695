"""
Cures on a large board: the worker works them out, and what it finds is what the page would have found itself.

The reference is the page that waits for the same diagnosis in the request. How many parts are 'large' is set down for
these tests, so that the ladder of three resistors counts.
"""

from __future__ import annotations

from collections.abc import Iterator
from html.parser import HTMLParser

import pytest
from web_world import World

from kilter.records.reading import Reading
from kilter.services.visit_log import READ
from kilter.store.models import Job
from kilter.store.models.job import DONE, STOPPED
from kilter.store.verbs.visits import add_entry
from kilter.wiring import record_bench, record_cures
from kilter.wiring.worker import Stopped, cures, work_off_one


class Cells(HTMLParser):
    """The words of all cells and list items of a page, in order."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[str] = []
        self._inside = False
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:  # noqa: ARG002
        if tag in ("td", "th", "li"):
            self._inside = True
            self.found.append("")

    def handle_endtag(self, tag: str) -> None:
        if tag in ("td", "th", "li"):
            self._inside = False

    def handle_data(self, data: str) -> None:
        if self._inside:
            self.found[-1] += data.strip()


@pytest.fixture
def _large(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setattr(record_cures, "table", lambda _: {"cures": {"parts": 3}})
    record_bench._desks.clear()
    yield
    record_bench._desks.clear()


def work_off_all() -> None:
    while work_off_one("a test"):
        pass


def look(world: World, more: str = "") -> str:
    answer = world.client().get(world.path("cures") + more)
    assert answer.status_code == 200
    return answer.body.decode()


def ask(world: World) -> Job:
    answer = world.client().post(world.path("work_out_cures"))
    assert answer.status_code == 302
    return Job.objects.get(pk=int(answer["Location"].strip("/").rsplit("/", 1)[-1]))


def test_small_board_is_worked_out_at_once(world: World) -> None:
    assert "<table" in look(world)


@pytest.mark.usefixtures("_large")
class TestLargeBoard:
    def test_the_worker_says_what_the_page_would_say(self, world: World) -> None:
        work_off_all()
        assert "<table" not in look(world)
        job = ask(world)
        assert f"/work/{job.pk}/" in look(world)
        assert ask(world).pk == job.pk
        assert work_off_one("a test")
        job.refresh_from_db()
        assert (job.state, job.share) == (DONE, 1.0), job.words
        told = Cells(look(world)).found
        assert any("R1" in one for one in told)
        assert told == Cells(look(world, "?now")).found
        record_bench._desks.clear()
        Job.objects.filter(pk=job.pk).update(result={**job.result, "mark": "of something else"})
        assert told == Cells(look(world, "?now")).found

    def test_a_new_reading_makes_it_lapse(self, world: World) -> None:
        work_off_all()
        ask(world)
        work_off_all()
        assert "<table" in look(world)
        reading = Reading("B", "voltage", 4.8, uncertainty=0.05, state="bench")
        add_entry(world.scene.who("recorder"), world.visit, READ, {"point": "B", "value": "4.8 V"}, reading,
                  after=world.visit.entries.count())  # fmt: skip
        assert "<table" not in look(world)

    def test_stopped_on_the_way(self, world: World) -> None:
        heard: list[float] = []

        def told(share: float, _: str) -> None:
            heard.append(share)
            if share >= record_cures.STEPS[-1]:
                raise Stopped

        with pytest.raises(Stopped):
            cures({"visit": world.visit.pk}, told)
        assert heard == sorted(heard)
        assert heard[-1] == record_cures.STEPS[-1]

    def test_stopped_before_it_began(self, world: World) -> None:
        work_off_all()
        job = ask(world)
        assert world.client().post(f"/work/{job.pk}/stop/").status_code == 302
        job.refresh_from_db()
        assert job.state == STOPPED
        assert "<table" not in look(world)
