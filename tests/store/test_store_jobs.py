"""The queue of long work: first come first served, one worker each, stopped on request, taken from the silent."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from record_scene import Scene

from kilter.measure.errors import BadInput
from kilter.store.models import Job
from kilter.store.verbs import jobs
from kilter.store.verbs.jobs import MOST_TAKEN, SILENT, ask_for, fail, finish, stop, stopped, take_next, tell


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> list[datetime]:
    times = [datetime(2026, 3, 1, 9, 0, tzinfo=UTC)]
    monkeypatch.setattr(jobs, "now", lambda: times[-1])
    return times


def fall_silent(times: list[datetime]) -> None:
    times.append(times[-1] + SILENT + timedelta(seconds=1))


def state_of(job: Job) -> str:
    return Job.objects.values_list("state", flat=True).get(pk=job.pk)


def taken(worker: str = "one") -> Job:
    job = take_next(worker)
    assert job is not None
    return job


def test_in_order(record: Scene) -> None:
    first, second = (ask_for(record.who("recorder"), "sweep", {"board": name}) for name in ("a", "b"))
    assert [taken("one").pk, taken("two").pk] == [first.pk, second.pk]
    assert take_next("three") is None


def test_to_its_end(record: Scene) -> None:
    ask_for(record.who("recorder"), "sweep", {})
    job = taken()
    assert tell(job, 0.5, "half of it")
    job.refresh_from_db()
    assert (job.state, job.share, job.words) == ("running", 0.5, "half of it")
    finish(job, {"rows": 7})
    job.refresh_from_db()
    assert (job.state, job.share, job.result) == ("done", 1.0, {"rows": 7})
    assert job.ended is not None
    with pytest.raises(BadInput, match="has ended"):
        stop(record.who("recorder"), job)


def test_that_fails(record: Scene) -> None:
    ask_for(record.who("recorder"), "sweep", {})
    job = taken()
    fail(job, "the board has no netlist")
    assert state_of(job) == "failed"
    assert take_next("one") is None


def test_stopped_while_it_waits(record: Scene) -> None:
    job = ask_for(record.who("recorder"), "sweep", {})
    stop(record.who("administrator"), job)
    assert state_of(job) == "stopped"
    assert take_next("one") is None


def test_stopped_while_it_runs(record: Scene) -> None:
    ask_for(record.who("recorder"), "sweep", {})
    job = taken()
    stop(record.who("recorder"), job)
    assert state_of(job) == "running"
    assert not tell(job, 0.4)
    stopped(job)
    assert state_of(job) == "stopped"


def test_a_silent_worker_loses_its_job(record: Scene, clock: list[datetime]) -> None:
    ask_for(record.who("recorder"), "sweep", {})
    old = taken("one")
    clock.append(clock[-1] + SILENT - timedelta(seconds=1))
    assert take_next("two") is None
    assert tell(old, 0.3)
    clock.append(clock[-1] + SILENT - timedelta(seconds=1))
    assert take_next("two") is None  # the sign counted
    fall_silent(clock)
    new = taken("two")
    assert (new.pk, new.share, new.taken) == (old.pk, 0.0, 2)
    assert not tell(old, 0.9)  # the one that was thought dead is told to give up
    finish(old, {"rows": 1})
    fail(old, "late")
    assert state_of(new) == "running"
    finish(new, {"rows": 2})
    assert Job.objects.get(pk=new.pk).result == {"rows": 2}


def test_a_job_that_was_to_stop_stays_stopped(record: Scene, clock: list[datetime]) -> None:
    ask_for(record.who("recorder"), "sweep", {})
    job = taken()
    stop(record.who("recorder"), job)
    fall_silent(clock)
    assert take_next("two") is None
    assert state_of(job) == "stopped"


def test_a_job_that_silences_every_worker_is_given_up(record: Scene, clock: list[datetime]) -> None:
    job = ask_for(record.who("recorder"), "sweep", {})
    for count in range(MOST_TAKEN):
        assert taken(f"worker {count}").pk == job.pk
        fall_silent(clock)
    assert take_next("one more") is None
    job.refresh_from_db()
    assert (job.state, job.words) == ("failed", f"given up: {MOST_TAKEN} workers fell silent over it")
