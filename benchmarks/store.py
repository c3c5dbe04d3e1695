"""
Readings recorded a second, on SQLite and PostgreSQL, beside what the framework does with a bare row.

    python benchmarks/store.py [--readings 400] [--writers 8] [--address postgresql://USER@HOST/EMPTY_DATABASE]

A reading recorded by the verb: its role looked up, its turn taken, the row and a chained journal entry written, in one
transaction that waits for the disk. Beside it a bare row of the same table, written by Django's `create()`, also a
transaction each. Without --address a PostgreSQL server is started for the while, where one is installed; it does not
wait for the disk, as SQLite does here. A check of the whole record is timed too.
"""



from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

HERE = Path(__file__).resolve()
sys.path[:0] = [str(HERE.parents[1] / "tests" / name) for name in ("store", "store_drills")]
INSIDE = "KILTER_BENCHMARK_INSIDE"


def rate(work: Callable[[int], object], times: int) -> tuple[float, float]:
    """A second by the clock, and a second of this process's own time."""
    began, spent = time.perf_counter(), time.process_time()
    for number in range(times):
        work(number)
    return times / (time.perf_counter() - began), times / max(time.process_time() - spent, 1e-9)


def measure(name: str, readings: int, writers: int) -> None:
    """One engine; the record is the one that the environment names."""
    from kilter.store.start import start_store

    start_store("kilter.store.settings")
    from django.conf import settings
    from django.db import connection
    from record_scene import first_person

    from kilter.store.check import check
    from kilter.store.journal import now
    from kilter.store.models import VisitEntry
    from kilter.store.prepare import prepare

    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    prepare()
    scene = first_person()
    who = scene.who("recorder")
    visits = [scene.a_visit(scene.an_object(f"HC {number}")) for number in range(writers + 1)]
    by_verb, own = rate(lambda number: scene.an_entry(visits[0], after=number), readings)

    connection.close()
    began = time.perf_counter()
    children = []
    for visit in visits[1:]:
        child = os.fork()
        if not child:
            rate(lambda number, visit=visit: scene.an_entry(visit, after=number), readings)
            os._exit(0)
        children.append(child)
    if any(os.waitpid(child, 0)[1] for child in children):
        sys.exit("a writer failed")
    together = writers * readings / (time.perf_counter() - began)

    began, spent = time.perf_counter(), time.process_time()
    found = check()
    checked = found.rows / (time.perf_counter() - began)
    checked_own = found.rows / max(time.process_time() - spent, 1e-9)
    if found.wrong:
        sys.exit(found.wrong[0])

    def bare(number: int) -> None:
        VisitEntry.objects.create(visit=visits[0], number=10**6 + number, kind="reading", words={}, point="BASE1",
                                  quantity="voltage", value=1.524, uncertainty=0.005, at=now(), who=who)  # fmt: skip

    by_create, _ = rate(bare, readings)
    print(f"{name:<11} verb {by_verb:6.0f}/s ({own:5.0f} a second of processor)  bare create {by_create:6.0f}/s  "
          f"{by_create / by_verb:4.1f} times as many  {writers} writers {together:6.0f}/s  check {checked:6.0f} rows/s "
          f"({checked_own:6.0f} a second of processor)",
          flush=True)  # fmt: skip


def inside(name: str, chosen: argparse.Namespace, address: str = "") -> None:
    """One engine in a process of its own."""
    with tempfile.TemporaryDirectory() as home:
        around = {**os.environ, "KILTER_HOME": home, INSIDE: name}
        around.pop("KILTER_DATABASE", None)
        around |= {"KILTER_DATABASE": address} if address else {}
        wishes = ["--readings", str(chosen.readings), "--writers", str(chosen.writers)]
        subprocess.run([sys.executable, str(HERE), *wishes], check=True, env=around)


def main() -> None:
    """Prints a line for each engine."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--readings", type=int, default=400)
    parser.add_argument("--writers", type=int, default=8)
    parser.add_argument("--address", default="", help="of an empty database on a server that runs")
    chosen = parser.parse_args()
    if name := os.environ.get(INSIDE):
        measure(name, chosen.readings, chosen.writers)
        return
    inside("SQLite", chosen)
    from servers import binaries, start

    programs = binaries()
    if chosen.address:
        inside("PostgreSQL", chosen, chosen.address)
    elif programs is None:
        print("PostgreSQL  not installed")
    else:
        server = start(programs)
        try:
            inside("PostgreSQL", chosen, server.new_database())
        finally:
            server.stop()
    print(f"load average {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")


if __name__ == "__main__":
    main()
