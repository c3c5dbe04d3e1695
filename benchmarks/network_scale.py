"""
What a network of collections costs: signing, checking and weighing counts; forecasts; keeping readings.

    python benchmarks/network_scale.py [--collections 100] [--readings 500000] [--psql "psql -h HOST -d BASE"]

Each collection shares counts of every part kind in four ages. Readings are rows with the fields of a reading, in SQLite
(standard library) with an index by object, and with --psql in PostgreSQL by COPY. Times of counts and forecasts are
those of the processor, so that other work on the machine does not count. Unit costs are printed; docs/scale.md adds
them up for 1,000 collections and 10 million readings.
"""

from __future__ import annotations

import argparse
import json
import shlex
import sqlite3
import subprocess
import time
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from kilter.diagnose.learned_odds import by_kind, changed_by, learned
from kilter.diagnose.learned_odds_counts import Count, bands, family_shares
from kilter.measure.tables import table
from kilter.parts.kinds import part_kinds
from kilter.services.accept_shared import Sharer, accepted_body, changes
from kilter.services.experience import ACCEPTED, COUNTS, Entry, Experience, plain_counts
from kilter.services.forecast_network import Holding, Member, futures, needs_of, plain_member, shapes
from kilter.services.seal import new_key, sealed
from kilter.services.share_experience import shared_content

TODAY = date(2026, 1, 2)
COLUMNS = "object integer, visit integer, point text, quantity text, value real, uncertainty real, state text, " \
          "instrument text, time text, who text"  # fmt: skip
PER_OBJECT = 100


def a_collection(random: np.random.Generator) -> Experience:
    """One that counted every kind at four ages."""
    counts = []
    for key, kind in part_kinds().items():
        for band in bands()[1:5]:
            parts = int(random.integers(20, 400))
            failed = int(random.binomial(parts, min(kind.odds * random.gamma(2.0, 0.5), 0.9)))
            family = max(family_shares(kind).items(), key=lambda item: item[1])[0]
            counts.append(Count(key, band, parts, {family: failed}, 5))
    return Experience((Entry(1, "", "", COUNTS, {"counts": plain_counts(counts)}),))


def exchange(count: int) -> None:
    """Every collection signs, one accepts them all."""
    random = np.random.default_rng(1)
    files, sharers, signing = [], [], 0.0
    for number in range(count):
        one = a_collection(random)
        pem, key = new_key()
        start = time.process_time()
        files.append(sealed(shared_content(one, key, TODAY, "CC0-1.0"), pem))
        signing += time.process_time() - start
        sharers.append(Sharer(f"c{number}", key, 0.5))
    here, checking = Experience(), 0.0
    for number, data in enumerate(files, 1):
        start = time.process_time()
        body = accepted_body(data, sharers, here, TODAY)
        checking += time.process_time() - start
        here = Experience((*here.entries, Entry(number, "", "", ACCEPTED, body)))
    start = time.process_time()
    weighted = here.weighted()
    gathering = time.process_time() - start
    start = time.process_time()
    for key, counts in by_kind(weighted).items():
        changed_by(key, counts, bands()[2])
        learned(key, counts, bands()[2])
    learning = time.process_time() - start
    start = time.process_time()
    changes(Experience(here.entries[:-1]), here.entries[-1].body)
    telling = time.process_time() - start
    print(
        f"{count} collections, {len(weighted) // count} counts each, {sum(map(len, files)) / count / 1e3:.0f} kB a file"
    )
    print(f"signing {1e3 * signing / count:.1f} ms a file; checking {1e3 * checking / count:.1f} ms a file")
    each = 1e6 / len(weighted)
    print(
        f"gathering {each * gathering:.1f} us a count; odds of all kinds and who changed them {each * learning:.2f} us "
        f"a count; telling what one more file moves {telling:.2f} s at this size"
    )
    stored = sum(len(json.dumps(one.body)) for one in here.entries) / count
    print(f"experience file {stored / 1e3:.0f} kB a collection")


def forecast(count: int) -> None:
    """Futures of all collections, each with five holdings of twelve kinds of parts, and what they need together."""
    random = np.random.default_rng(4)
    kinds = sorted(part_kinds())
    members = [
        Member(f"c{number}", tuple(
            Holding({str(kind): int(random.integers(1, 30)) for kind in random.choice(kinds, 12, replace=False)},
                    int(random.integers(1, 40)), bands()[int(random.integers(1, 5))], 0.2)
            for _ in range(5)
        ))
        for number in range(count)
    ]  # fmt: skip
    scenarios = int(table("compute/forecast")["scenarios"]["value"])
    shared = {"shapes": shapes(members, ()), "years": 5.0, "scenarios": scenarios, "enough": 0.9, "seed": 1}
    start = time.process_time()
    plain = [plain_member(number, one) for number, one in enumerate(members)]
    results = [futures(shared, plain[first : first + 20]) for first in range(0, count, 20)]
    drawing = time.process_time() - start
    stored = sum(len(json.dumps(one)) for one in results)
    start = time.process_time()
    needs_of(results, 0.9)
    adding = time.process_time() - start
    print(
        f"forecast of {scenarios} futures: {1e3 * drawing / count:.1f} ms a collection, {1e3 * adding / count:.1f} ms "
        f"to add up, {stored / count / 1e3:.0f} kB of results"
    )


def rows(count: int) -> Iterator[tuple[object, ...]]:
    """Readings, as many to an object as PER_OBJECT."""
    random = np.random.default_rng(2)
    for number in range(count):
        yield (number // PER_OBJECT, number // 20, f"TP{number % 40}", "voltage", float(random.normal(5, 1)), 0.01,
               "bench", "dmm", "2026-01-02T10:00:00+00:00", "N")  # fmt: skip


def in_sqlite(count: int, folder: Path) -> None:
    """Insert, size and look-up."""
    base = sqlite3.connect(folder / "readings.sqlite3")
    base.execute("pragma journal_mode=wal")
    base.execute(f"create table reading (id integer primary key, {COLUMNS})")
    base.execute("create index by_object on reading (object)")
    names = ", ".join(word.split()[0] for word in COLUMNS.split(", "))
    start = time.perf_counter()
    with base:
        base.executemany(f"insert into reading ({names}) values ({', '.join('?' * 10)})", rows(count))
    took = time.perf_counter() - start
    base.execute("pragma wal_checkpoint(truncate)")
    size = (folder / "readings.sqlite3").stat().st_size
    random, looks = np.random.default_rng(3), 200
    start = time.perf_counter()
    for one in random.integers(0, count // PER_OBJECT, looks):
        base.execute("select * from reading where object = ?", (int(one),)).fetchall()
    look = (time.perf_counter() - start) / looks
    start = time.perf_counter()
    base.execute("select point, quantity, count(*), avg(value) from reading group by point, quantity").fetchall()
    whole = time.perf_counter() - start
    base.close()
    print(f"SQLite: {1e6 * took / count:.1f} us and {size / count:.0f} bytes a reading; one object's {PER_OBJECT} in "
          f"{1e3 * look:.2f} ms; a pass over all {1e6 * whole / count:.2f} us a reading")  # fmt: skip


def in_postgresql(count: int, psql: str) -> None:
    """The same by COPY, and the table's size with its index."""

    def ask(words: str, data: str = "") -> str:
        command = [*shlex.split(psql), "-q", "-t", "-A", "-c", words]
        return subprocess.run(command, input=data, capture_output=True, text=True, check=True).stdout.strip()

    ask(f"create table reading (id bigserial primary key, {COLUMNS})")
    ask("create index by_object on reading (object)")
    names = ", ".join(word.split()[0] for word in COLUMNS.split(", "))
    text = "".join("\t".join(map(str, row)) + "\n" for row in rows(count))
    start = time.perf_counter()
    ask(f"copy reading ({names}) from stdin", text)
    took = time.perf_counter() - start
    size = int(ask("select pg_total_relation_size('reading')"))
    plan = ask("explain (analyze, format json) select * from reading where object = 7")
    look = json.loads(plan)[0]["Execution Time"]
    plan = ask("explain (analyze, format json) select point, quantity, count(*), avg(value) from reading group by 1, 2")
    whole = json.loads(plan)[0]["Execution Time"]
    ask("drop table reading")
    print(
        f"PostgreSQL: {1e6 * took / count:.1f} us and {size / count:.0f} bytes a reading; one object's {PER_OBJECT} in "
        f"{look:.2f} ms; a pass over all {1e3 * whole / count:.2f} us a reading"
    )


def main() -> None:
    """Measures and prints."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n")[0])
    parser.add_argument("--collections", type=int, default=100)
    parser.add_argument("--readings", type=int, default=500_000)
    parser.add_argument("--psql", default="")
    options = parser.parse_args()
    exchange(options.collections)
    forecast(options.collections)
    with TemporaryDirectory(prefix="kilter-scale-") as folder:
        in_sqlite(options.readings, Path(folder))
    if options.psql:
        in_postgresql(options.readings, options.psql)


if __name__ == "__main__":
    main()
