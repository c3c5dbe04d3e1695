"""
How long the server works on a page, on a record of many objects and readings.

    python benchmarks/pages.py [--objects N] [--readings N] [--runs N] [--keep DIR]

Makes a record in a temporary folder (10,000 objects and 1,000,000 readings unless told otherwise; see
record_of_size.py), then asks for pages within this process, with the whole of the framework's middleware, warm: the
first time is not counted, the bench's is shown by itself. Printed are the median and the 95th percentile on the clock,
the median of the processor's own time, which other work on the machine moves less, and the ratio of medians to a bare
page of the framework: one query, fifty rows, no middleware. --keep leaves the record in DIR, or uses the one there.
Aims: a page 150 ms, search 100 ms, the bench after a new reading on a board of sixty parts 300 ms.
"""

from __future__ import annotations

import argparse
import os
import resource
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from board_of_sixty import files as board_files

if TYPE_CHECKING:
    from django.test import Client

    from kilter.store.models import Person

NUMBER, LOGIN, LONG_VISIT = "K 0001", "benchmark", 400
READ = ("EMIT1", "COLL1", "BASE1", "EMIT2", "COLL2", "V12", "EMIT3", "COLL3", "EMIT4", "COLL4")
VALUES = {"EMIT": "1.32 V", "COLL": "5.8 V", "BASE": "1.98 V", "V12": "11.94 V"}
BARE = "<table>{% for one in rows %}<tr><td>{{ one.number }}</td><td>{{ one.name }}</td></tr>{% endfor %}</table>"


def main() -> None:
    """Makes the record and prints a line for each page."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").strip().splitlines()[0])
    parser.add_argument("--objects", type=int, default=10_000)
    parser.add_argument("--readings", type=int, default=1_000_000)
    parser.add_argument("--runs", type=int, default=40)
    parser.add_argument("--keep", metavar="DIR", help="leave the record there, or use the one that is there")
    chosen = parser.parse_args()
    with _home(chosen.keep) as home:
        os.environ["KILTER_HOME"] = str(home)
        os.environ.pop("KILTER_DATABASE", None)
        from kilter.store.start import start_store

        start_store("kilter.web.settings")
        _make(chosen.objects, chosen.readings)
        _time_all(chosen.runs)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"peak memory {peak:.0f} MiB; load average {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")


@contextmanager
def _home(kept: str | None) -> Iterator[Path]:
    if kept:
        Path(kept).mkdir(parents=True, exist_ok=True)
        yield Path(kept).absolute()
        return
    with tempfile.TemporaryDirectory(prefix="kilter-pages-") as folder:
        yield Path(folder)


def _make(objects: int, readings: int) -> None:
    from kilter.services.permissions import ROLES
    from kilter.store.models import CollectionObject, JournalRow, Person, VisitEntry
    from kilter.store.place import place
    from kilter.store.prepare import prepare
    from kilter.store.verbs.boards import keep_board
    from kilter.store.verbs.objects import receive_object
    from kilter.store.verbs.people import first_administrator
    from record_of_size import fill_by_the_thousand

    prepare()
    if not Person.objects.exists():
        began = time.perf_counter()
        person = first_administrator(LOGIN, "a long benchmark password", "Benchmark", ROLES)
        edition = keep_board(person, "sixty", "Amplifier of eight stages", "board.toml", board_files(), "for timing")
        fill_by_the_thousand(person, edition, objects, readings)
        receive_object(person, {"number": NUMBER, "name": "Bench", "board": edition.board}, "for timing")
        print(f"record made in {time.perf_counter() - began:.0f} s")
    size = (place().home / "record.sqlite3").stat().st_size / 1e6
    print(f"{CollectionObject.objects.count():,} objects, {VisitEntry.objects.count():,} readings, "
          f"{JournalRow.objects.count():,} journal rows, {size:,.0f} MB")  # fmt: skip


def _time_all(runs: int) -> None:
    from django.test import Client

    from kilter.store.models import CollectionObject, Person, Visit

    person = Person.objects.get(login=LOGIN)
    browser = Client(headers={"host": "localhost"})
    browser.force_login(person)
    oldest = CollectionObject.objects.order_by("pk").first()
    assert oldest is not None
    visit = Visit.objects.filter(object=oldest).order_by("pk").first()
    assert visit is not None
    bare = _bare(runs)
    print(f"{'page':<44}{'median':>9}{'95 %':>9}{'processor':>11}{'x bare':>8}{'aim':>8}")
    _line("bare page of the framework, 50 rows", bare, bare, None)
    pages = (
        ("collection, 50 of all", "/", 150), ("collection, last page", "/?page=9999", 150),
        ("search: one word, many found", "/?words=computer", 100), ("search: a number", "/?words=B+04711", 100),
        ("search: three words, some found", "/?words=hums+organ+attic", 100),
        ("search: nothing found", "/?words=zeppelin", 100), ("state chosen", "/?state=works", 150),
        ("object with 40 visits", f"/object/{oldest.pk}/", 150),
        ("visit with 25 readings", f"/object/{oldest.pk}/visit/{visit.number}/", 150),
        ("history, 500 of its journal rows", f"/object/{oldest.pk}/history/", 150),
        ("known boards", "/boards/", 150), ("one board, its objects", "/boards/sixty/", 150),
        ("long work", "/work/", 150),
    )  # fmt: skip
    for name, address, aim in pages:
        _line(name, _asked(browser, address, runs), bare, aim)
    _bench(browser, person, bare)


Times = tuple[list[float], list[float]]
"""Seconds on the clock and of the processor, of every run."""


def _timed(work: Callable[[], Any]) -> tuple[float, float]:
    clock, processor = time.perf_counter(), time.process_time()
    work()
    return time.perf_counter() - clock, time.process_time() - processor


def _asked(browser: Client, address: str, runs: int) -> Times:
    def ask() -> None:
        answer = browser.get(address)
        if answer.status_code != 200:
            sys.exit(f"{address}: status {answer.status_code}")

    ask()
    clock, processor = zip(*(_timed(ask) for _ in range(runs)), strict=True)
    return list(clock), list(processor)


def _bare(runs: int) -> Times:
    """One query, fifty rows, a template of one line; no addresses and no middleware."""
    from django.http import HttpResponse
    from django.template import Context, Engine

    from kilter.store.models import CollectionObject

    template = Engine().from_string(BARE)

    def bare() -> HttpResponse:
        rows = CollectionObject.objects.order_by("number").values("number", "name")[:50]
        return HttpResponse(template.render(Context({"rows": rows})))

    bare()
    clock, processor = zip(*(_timed(bare) for _ in range(runs)), strict=True)
    return list(clock), list(processor)


def _bench(browser: Client, person: Person, bare: Times) -> None:
    """A visit at the bench: every reading is sent as the page sends it, and the page that comes back is whole."""
    from kilter.services.visit_log import WAIVED
    from kilter.store.models import CollectionObject
    from kilter.store.verbs.visits import add_entry, open_visit

    about = CollectionObject.objects.get(number=NUMBER)
    visit = open_visit(person, about, "timing")
    add_entry(person, visit, WAIVED, {"note": "timing: nothing is switched on"}, None, after=0)
    address = f"/object/{about.pk}/visit/{visit.number}/bench/"
    first, _ = _timed(lambda: browser.get(address))
    clock, processor = [], []
    for after, point in enumerate(READ, 1):
        line = f"{point} {VALUES[point.rstrip('0123456789') if point not in VALUES else point]} @bench"
        form = {"act": "line", "after": str(after), "line": line}
        taken = _timed(lambda form=form: _sent(browser, f"{address}take/", form))
        clock.append(taken[0])
        processor.append(taken[1])
    _line("bench after a new reading, 60 parts", (clock, processor), bare, 300)
    print(f"{'bench, the first time in this process':<44}{1e3 * first:>6.0f} ms")
    _line("bench, nothing new", _asked(browser, address, 10), bare, 150)


def _sent(browser: Client, address: str, form: dict[str, str]) -> None:
    answer = browser.post(address, form, headers={"hx-request": "true"})
    if answer.status_code != 200:
        sys.exit(f"{address} {form['line']}: status {answer.status_code}")


def _line(name: str, times: Times, bare: Times, aim: int | None) -> None:
    clock, processor = (statistics.median(one) for one in times)
    late = sorted(times[0])[max(0, -(-95 * len(times[0]) // 100) - 1)]
    ratio = clock / statistics.median(bare[0])
    print(f"{name:<44}{1e3 * clock:>6.0f} ms{1e3 * late:>6.0f} ms{1e3 * processor:>8.0f} ms{ratio:>8.1f}"
          + (f"{aim:>5} ms" if aim else ""))  # fmt: skip


if __name__ == "__main__":
    main()
