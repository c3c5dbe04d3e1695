"""Long work: asked for by a person, taken up by one worker, stopped on request. A table, and no broker."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta
from typing import Any

from django.db import transaction
from django.db.models import F

from kilter.measure.errors import BadInput
from kilter.store.journal import now, write
from kilter.store.models import Job, Person
from kilter.store.models.job import DONE, FAILED, RUNNING, STOPPED, WAITING
from kilter.store.verb import in_one_piece, verb

START, STOP = "start long work", "stop long work"
SILENT = timedelta(seconds=60)
"""A worker that gave no sign for so long is taken to have ended."""
MOST_TAKEN = 3
"""How many workers may fall silent over one job, each perhaps for want of memory, before it is given up."""


@verb(START)
def ask_for(actor: Person, kind: str, wishes: Mapping[str, Any]) -> Job:
    """
    Puts long work in the queue.

    Args:
        actor: Who asks.
        kind: Which handler of the worker does it.
        wishes: What the handler is told, plain data.
    """
    job = Job.objects.create(kind=kind, wishes=dict(wishes), asked=now(), who=actor)
    write(actor.key, START, f"job {job.pk}", after={"kind": kind, "wishes": dict(wishes)})
    return job


@verb(STOP)
def stop(actor: Person, job: Job) -> None:
    """
    Asks a job to stop; one that waits ends at once.

    Raises:
        BadInput: It has ended.
    """
    if not Job.objects.filter(pk=job.pk, state__in=(WAITING, RUNNING)).update(stop_wanted=True):
        raise BadInput("Cannot stop the work", "work that has ended", "work that waits or runs",
                       "Look at what it found.")  # fmt: skip
    Job.objects.filter(pk=job.pk, state=WAITING).update(state=STOPPED, ended=now(), words="stopped before it began")
    write(actor.key, STOP, f"job {job.pk}")


def take_next(worker: str) -> Job | None:
    """
    The job that has waited longest, now this worker's.

    Jobs of a worker that fell silent wait again, unless somebody asked for an end to them, or MOST_TAKEN workers fell
    silent over one.
    """

    def once() -> Job | None:
        with transaction.atomic():
            silent = Job.objects.filter(state=RUNNING, beat__lt=now() - SILENT)
            silent.filter(stop_wanted=True).update(state=STOPPED, ended=now(), words="stopped; its worker fell silent")
            silent.filter(taken__gte=MOST_TAKEN).update(
                state=FAILED, ended=now(), words=f"given up: {MOST_TAKEN} workers fell silent over it"
            )
            silent.update(state=WAITING, worker="", share=0.0)
            waiting = Job.objects.select_for_update(skip_locked=True).filter(state=WAITING).order_by("pk").first()
            if waiting is not None:
                Job.objects.filter(pk=waiting.pk).update(
                    state=RUNNING, worker=worker, started=now(), beat=now(), words="", taken=F("taken") + 1
                )
                waiting.refresh_from_db()
            return waiting

    return in_one_piece("Cannot take up work", once)


def tell(job: Job, share: float, words: str = "") -> bool:
    """
    Tells how far a job is.

    Args:
        job: This worker's.
        share: 0 to 1.
        words: What it is doing.

    Returns:
        Whether it may go on: nobody asked it to stop and no other worker took it up.
    """
    mine = Job.objects.filter(pk=job.pk, worker=job.worker, state=RUNNING)
    in_one_piece("Cannot tell how far the work is", lambda: mine.update(share=share, words=words, beat=now()))
    return mine.filter(stop_wanted=False).exists()


def finish(job: Job, result: Any, words: str = "") -> None:
    """Ends a job with what it found."""
    _end(job, DONE, words, result)


def fail(job: Job, words: str) -> None:
    """Ends a job that could not do its work."""
    _end(job, FAILED, words, None)


def stopped(job: Job) -> None:
    """Ends a job that was asked to stop."""
    _end(job, STOPPED, "stopped on request", None)


def _end(job: Job, state: str, words: str, result: Any) -> None:
    mine = Job.objects.filter(pk=job.pk, worker=job.worker, state=RUNNING)
    share = {"share": 1.0} if state == DONE else {}
    in_one_piece(
        "Cannot end the work", lambda: mine.update(state=state, words=words, result=result, ended=now(), **share)
    )
