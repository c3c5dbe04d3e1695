"""
Processes that write to a record, for the drills. Run as: python writers.py WHAT ...; answers in JSON.

The processes are forked after Django is loaded, for speed; each has a connection of its own.
"""

# ruff: noqa: E402  models can be imported only after Django is opened

from __future__ import annotations

import json
import os
import random
import signal
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1] / "store"))

from kilter.store.start import start_store

start_store("kilter.store.settings")

from django.conf import settings
from django.db import connection

settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]

from record_scene import Scene, first_person

from kilter.measure.errors import KilterError
from kilter.store.backup import back_up
from kilter.store.check import check
from kilter.store.models import Job, Person, Visit, VisitEntry
from kilter.store.place import place
from kilter.store.trouble import plainly
from kilter.store.verbs.jobs import ask_for, finish, take_next, tell


def in_a_process(work: Callable[[], None]) -> int:
    """Starts it; its number."""
    connection.close()
    child = os.fork()
    if child:
        return child
    code = 1
    try:
        work()
        code = 0
    finally:
        os._exit(code)


def visits(scene: Scene, count: int) -> list[Visit]:
    """As many, each to an object of its own."""
    return [scene.a_visit(scene.an_object(f"HC {number}")) for number in range(count)]


def many(scene: Scene, writers: int, readings: int) -> dict[str, Any]:
    """Writers at once, each to a visit of its own, values 0, 1, 2 ...; their exit codes and what a check says."""
    scene.who("recorder")
    places = visits(scene, writers)
    began = time.perf_counter()

    def write(visit: Visit) -> None:
        for number in range(readings):
            scene.an_entry(visit, after=number, value=float(number))

    children = [in_a_process(lambda visit=visit: write(visit)) for visit in places]
    codes = [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children]
    seconds = time.perf_counter() - began
    return {"codes": codes, "wrong": check().wrong, "per_second": writers * readings / seconds}


def killed(scene: Scene, times: int, seed: int) -> dict[str, Any]:
    """A writer killed in the midst of writing, again and again: what it said it had written, and what is there."""
    scene.who("recorder")
    rng, lost, beyond, acknowledged = random.Random(seed), [], 0, 0
    for visit in visits(scene, times):
        reader, writer = os.pipe()

        def write(visit: Visit = visit, writer: int = writer) -> None:
            number = 0
            while True:
                scene.an_entry(visit, after=number)
                number += 1
                os.write(writer, b".")  # said only after the verb came back

        child = in_a_process(write)
        os.close(writer)
        os.read(reader, 1)
        time.sleep(rng.random() * 0.05)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        said = 1 + sum(len(piece) for piece in iter(lambda reader=reader: os.read(reader, 4096), b""))
        os.close(reader)
        there = VisitEntry.objects.filter(visit=visit).count()
        acknowledged += said
        beyond += there - said
        lost += [visit.pk] if there < said else []
    return {"lost": lost, "acknowledged": acknowledged, "beyond": beyond, "wrong": check().wrong}


def shared_out(scene: Scene, workers: int, jobs: int) -> dict[str, Any]:
    """Workers at once that take jobs from the queue until it is empty; which each of them did."""
    who = scene.who("recorder")
    asked = [ask_for(who, "sweep", {"number": number}).pk for number in range(jobs)]
    reader, writer = os.pipe()

    def work(name: str) -> None:
        while (job := take_next(name)) is not None:
            tell(job, 0.5)
            finish(job, {"by": name})
            os.write(writer, f"{job.pk}\n".encode())

    children = [in_a_process(lambda name=f"worker {number}": work(name)) for number in range(workers)]
    codes = [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children]
    os.close(writer)
    with os.fdopen(reader) as file:
        done = [int(line) for line in file]
    return {"codes": codes, "asked": asked, "done": done, "states": list(Job.objects.values_list("state", flat=True))}


def until_it_fails(scene: Scene, most: int) -> dict[str, Any]:
    """Writes until the disk does not take more; what was said then, how many were taken, and whether all is well."""
    visit, number = scene.a_visit(), 0
    try:
        for number in range(most):
            scene.an_entry(visit, after=number, note="n" * 2000)
    except KilterError as error:
        return {"said": four_parts(error), "taken": number,
                "there": VisitEntry.objects.filter(visit=visit).count()}  # fmt: skip
    return {"said": [], "taken": most, "there": most}


def one_more(scene: Scene) -> dict[str, Any]:
    """One object more: what was said where that failed."""
    try:
        scene.an_object("HC 9999")
    except KilterError as error:
        return {"said": four_parts(error)}
    return {"said": []}


def a_large_file(scene: Scene, size: int) -> dict[str, Any]:
    """A file that does not fit; what was said, and what was left of it in the folder of files."""
    about, said = scene.an_object(), []
    try:
        scene.a_file(about, bytes(size))
    except KilterError as error:
        said = four_parts(error)
    return {"said": said, "left": [str(path) for path in place().files.rglob("*") if path.is_file()]}


def copied(scene: Scene, target: str, times: int) -> dict[str, Any]:
    """Backups while others write, files too."""
    one = scene.an_object()
    scene.who("recorder")

    def write() -> None:
        visit, number = scene.a_visit(one), 0
        while True:
            scene.an_entry(visit, after=number)
            scene.a_file(one, f"{os.getpid()} {number}".encode())
            number += 1

    children = [in_a_process(write) for _ in range(3)]
    manifests = []
    for number in range(times):
        time.sleep(0.3)
        manifests.append(back_up(Path(target) / f"copy{number}"))
    for child in children:
        os.kill(child, signal.SIGTERM)
        os.waitpid(child, 0)
    return {"journals": [one["journal"] for one in manifests], "files": [len(one["files"]) for one in manifests]}


def four_parts(error: KilterError) -> list[str]:
    """Of a message."""
    return [error.doing, error.found, error.allowed, error.do_next]


def again() -> Scene:
    """People that an earlier run let in."""
    return Scene({one.login: one for one in Person.objects.all()})


def lived_in(scene: Scene) -> dict[str, Any]:
    """A little of everything."""
    one = scene.an_object(limits="an hour a day\nnever alone")
    visit = scene.a_visit(one)
    for number, value in enumerate((1.524, float("inf"), -0.0, 1e-300)):
        scene.an_entry(visit, after=number, value=value, note="Größe Ω ✓")
    scene.a_file(one, b"front")
    piece = scene.a_piece(one)
    proposal = scene.a_proposal(one, grade=6)
    scene.agree(proposal, keeper="approver", conservator="approver 2")
    return {"piece": piece.pk}


def main() -> None:
    """Does what the command line asks for."""
    what, *wishes = sys.argv[1:]
    try:
        with plainly("Cannot open the record"):
            scene = again() if Person.objects.exists() else first_person()
    except KilterError as error:
        print(json.dumps({"said": four_parts(error)}))
        return
    deed: Callable[..., Any] = globals()[what]
    print(json.dumps(deed(scene, *(int(one) if one.isdecimal() else one for one in wishes))))


if __name__ == "__main__":
    main()
