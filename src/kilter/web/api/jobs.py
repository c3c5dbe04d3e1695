"""Long work: start it, look how far it is, stop it."""

from __future__ import annotations

from typing import Any

from kilter.store.models import Job
from kilter.store.models.job import DONE, FAILED, RUNNING, STOPPED, WAITING
from kilter.store.verbs.jobs import START, STOP, ask_for, stop
from kilter.web.api.fields import ID, TOLD, WHEN, WHO, moment, moment_or_none
from kilter.web.api.found import visit_of
from kilter.web.api.operation import PAGING, Call, Operation, looks, makes, rows_of, told
from kilter.web.api.records import Field, Record, may
from kilter.web.api.refusals import not_there
from kilter.web.api.shapes import Anything, Maybe, Number, Truth, Words
from kilter.wiring.worker import ON_VISITS

KINDS = ON_VISITS
STATE = Words((WAITING, RUNNING, DONE, FAILED, STOPPED))
JOB = Record("Job", {
    "id": ID, "kind": TOLD, "wishes": Field(Anything(), "what it was told"), "state": STATE,
    "share": Field(Number(0, 1), "how much is done"), "words": TOLD, "result": Field(Anything(), "what it found"),
    "stop_wanted": Truth(), "asked": WHEN, "who": WHO, "started": Maybe(WHEN.shape), "ended": Maybe(WHEN.shape),
})  # fmt: skip
NEW = Record("NewJob", {"kind": Words(KINDS)})


def tell_job(one: Job) -> dict[str, Any]:
    """A job."""
    names = ("kind", "wishes", "state", "share", "words", "result", "stop_wanted")
    return {
        "id": one.pk, **{name: getattr(one, name) for name in names}, "asked": moment(one.asked), "who": one.who.key,
        "started": moment_or_none(one.started), "ended": moment_or_none(one.ended),
    }  # fmt: skip


def _job(call: Call) -> Job:
    found: Job | None = Job.objects.select_related("who").filter(pk=call.path["job"]).first()
    if found is None:
        raise not_there("Cannot find it", f"no job {call.path['job']}", "jobs of the record")
    return found


def _list(call: Call) -> Any:
    rows = Job.objects.select_related("who").order_by("-pk")
    return told(call, rows.filter(state=call.query["state"]) if "state" in call.query else rows, tell_job)


def _start(call: Call) -> Any:
    return tell_job(ask_for(call.actor, call.body["kind"], {"visit": visit_of(call).pk}))


def _stop(call: Call) -> Any:
    stop(call.actor, _job(call))
    return tell_job(_job(call))


OPERATIONS: tuple[Operation, ...] = (
    looks("list-jobs", "/jobs", "Long work, the latest first.", _list, rows_of(JOB),
          query={"state": may(STATE), **PAGING}),
    looks("get-job", "/jobs/{job}", "One of them.", lambda call: tell_job(_job(call)), JOB),
    makes("start-job", "/objects/{object}/visits/{visit}/jobs", START, "Puts long work on a visit in the queue.",
          _start, JOB, NEW),
    Operation("stop-job", "POST", "/jobs/{job}/stop", STOP, "Asks a job to stop; one that waits ends at once.", _stop,
              JOB),
)  # fmt: skip
